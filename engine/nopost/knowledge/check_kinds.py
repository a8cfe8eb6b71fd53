"""Names that lead to something of the wrong kind."""

from __future__ import annotations

from collections.abc import Iterator

from nopost.knowledge.check_findings import is_instrument
from nopost.knowledge.context import Context
from nopost.knowledge.model import Verb
from nopost.knowledge.problem import Problem
from nopost.knowledge.yaml_file import Path_


def instruments_named(context: Context) -> Iterator[Problem]:
    """A cause names what an instrument reads, not the instrument."""
    for cause in context.causes.values():
        for name in cause.shows:
            finding = context.findings.get(name)
            if finding and finding.reads and is_instrument(finding):
                behind = finding.reads.finding
                message, hint = f"{name} is an instrument for {behind}", f"name {behind} instead"
                yield context.problem("causes", cause.id, ("shows", name), "instrument-named", message, hint)


def action_kinds(context: Context) -> Iterator[Problem]:
    """A finding's action is a test; a cause's fixes, and what a rule puts first, are fixes."""
    for folder, item, where, name, kind in _actions_named(context):
        action = context.actions.get(name)
        if action and action.kind != kind:
            hint = f"name an action of kind: {kind}"
            yield context.problem(folder, item, where, "wrong-kind", f"{name} is not a {kind}", hint)


CHECKS = (instruments_named, action_kinds)


def _actions_named(context: Context) -> Iterator[tuple[str, str, Path_, str, str]]:
    for finding in context.findings.values():
        if finding.action:
            yield "findings", finding.id, ("action",), finding.action, "test"
    for cause in context.causes.values():
        for name in cause.fixes:
            yield "causes", cause.id, ("fixes", name), name, "fix"
    for rule in context.rules.values():
        for index, consequence in enumerate(rule.then):
            if consequence.verb is Verb.DO_FIRST:
                yield "rules", rule.id, ("then", index, "do-first"), consequence.target, "fix"
