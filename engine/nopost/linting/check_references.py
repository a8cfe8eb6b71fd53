"""Names that lead nowhere, or to something of the wrong kind."""

from __future__ import annotations

import difflib
import itertools
from collections.abc import Collection, Iterable, Iterator, Mapping
from typing import Any

from nopost.knowledge import model as m
from nopost.knowledge.model import Effect
from nopost.knowledge.problem import Problem
from nopost.knowledge.reference_records import FACTS
from nopost.knowledge.source_files import PartialKnowledge
from nopost.knowledge.yaml_reader import KeyPath
from nopost.linting.check_findings import answers_clash, is_instrument


def instruments_named(context: PartialKnowledge) -> Iterator[Problem]:
    """A cause names what an instrument reads, not the instrument."""
    for cause in context.causes.values():
        for name in cause.shows:
            finding = context.findings.get(name)
            if finding and finding.reads and is_instrument(finding):
                behind = finding.reads.finding
                message, hint = f"{name} is an instrument for {behind}", f"name {behind} instead"
                yield context.problem("causes", cause.id, ("shows", name), "instrument-named", message, hint)


def wrong_kind(context: PartialKnowledge) -> Iterator[Problem]:
    """A finding's action is a test; a cause's fixes, and what a rule puts first, are fixes."""
    for folder, item, where, name, kind in _actions_named(context):
        action = context.actions.get(name)
        if action and action.kind != kind:
            hint = f"name an action of kind: {kind}"
            yield context.problem(folder, item, where, "wrong-kind", f"{name} is not a {kind}", hint)


KIND_CHECKS = (instruments_named, wrong_kind)


def _actions_named(context: PartialKnowledge) -> Iterator[tuple[str, str, KeyPath, str, str]]:
    for finding in context.findings.values():
        if finding.action:
            yield "findings", finding.id, ("action",), finding.action, "test"
    for cause in context.causes.values():
        for name in cause.fixes:
            yield "causes", cause.id, ("fixes", name), name, "fix"
    for rule in context.rules.values():
        for index, consequence in enumerate(rule.then):
            if consequence.verb is Effect.DO_FIRST:
                yield "rules", rule.id, ("then", index, "do-first"), consequence.target, "fix"


Reference = tuple[KeyPath, str, str]
"""Where it stands, what kind of thing it names, the name."""

FOLDERS = {
    "finding": ("findings",),
    "cause": ("causes",),
    "action": ("actions",),
    "rule": ("rules",),
    "hazard": ("hazards",),
    "board": ("boards",),
    "cpu": ("cpus",),
    "code table": ("codes",),
    "finding or action": ("findings", "actions"),
}
"""Kind of thing -> the folders where it lives."""


def unknown_names(context: PartialKnowledge) -> Iterator[Problem]:
    """Every id that an item mentions exists."""
    known = _known_names(context)
    for folder, item, references in _all_references(context):
        for where, what, name in references:
            if what in known and name not in known[what]:
                yield context.problem(
                    folder, item, where, "unknown-name", f"there is no {what} {name!r}", _nearest_hint(name, known[what])
                )


def unknown_answers(context: PartialKnowledge) -> Iterator[Problem]:
    """Every answer that is mentioned belongs to its finding."""
    silent = (m.UNKNOWN, m.ABSENT)  # can be reported and asked about, but have no probability
    mentions = itertools.chain(
        (((), *mention) for mention in _answers_with_probability(context)),
        ((silent, *mention) for mention in _answers_without_probability(context)),
    )
    for more, folder, item, where, finding, answer in mentions:
        known = context.findings.get(finding)
        ids = (*known.answer_ids, *more) if known and not answers_clash(known) else (answer,)
        if answer not in ids:
            message = f"{finding} has no answer {answer!r}"
            yield context.problem(folder, item, where, "unknown-answer", message, _nearest_hint(answer, ids))


def unknown_fact_values(context: PartialKnowledge) -> Iterator[Problem]:
    """A fact is tested for a value that it can have."""
    for folder in ("findings", "actions", "rules"):
        items: Mapping[str, Any] = getattr(context, folder)
        for item, value in items.items():
            for where, condition in _conditions(value.when):
                for wanted in condition.values:
                    if condition.of_fact and wanted not in FACTS.get(condition.name, (wanted,)):
                        hint = f"one of: {', '.join(FACTS[condition.name])}"
                        message = f"fact {condition.name} is never {wanted!r}"
                        yield context.problem(folder, item, where, "unknown-answer", message, hint)


REFERENCE_CHECKS = (unknown_names, unknown_answers, unknown_fact_values)


def _known_names(context: PartialKnowledge) -> dict[str, Collection[str]]:
    """Kind of thing -> the names there are; a kind of which this cannot be said is left out."""
    known: dict[str, Collection[str]] = {"fact": FACTS}
    if context.base:
        known |= {"part": context.base.parts, "tool": context.base.tools}
    for what, folders in FOLDERS.items():
        names = [context.names(folder) for folder in folders]
        if None not in names:
            known[what] = set().union(*filter(None, names))
    return known


def _nearest_hint(name: str, known: Iterable[str]) -> str:
    close = difflib.get_close_matches(name, sorted(known), n=1, cutoff=0.5)
    return f"did you mean {close[0]}?" if close else "add it, or correct the name"


def _conditions(when: m.Conditions) -> Iterator[tuple[KeyPath, m.Condition]]:
    for key, conditions in (("all", when.all), ("none", when.none)):
        for index, condition in enumerate(conditions):
            yield ("when", key, index), condition


def _names_in_list(where: str, what: str, names: Iterable[str]) -> Iterator[Reference]:
    for index, name in enumerate(names):
        yield (where, index), what, name


def _when(when: m.Conditions) -> Iterator[Reference]:
    for where, condition in _conditions(when):
        yield where, "fact" if condition.of_fact else "finding", condition.name


def _all_references(context: PartialKnowledge) -> Iterator[tuple[str, str, Iterator[Reference]]]:
    if context.base:
        yield "", "", _names_in_list("opening", "finding", context.base.opening)
        yield "", "", _roles(context.base.roles)
    for finding in context.findings.values():
        yield "findings", finding.id, _finding(finding)
    for cause in context.causes.values():
        yield "causes", cause.id, _cause(cause)
    for action in context.actions.values():
        yield "actions", action.id, _action(action)
    for rule in context.rules.values():
        yield "rules", rule.id, _rule(rule)
    for hazard in context.hazards.values():
        yield "hazards", hazard.id, _hazard(hazard)
    for board in context.boards.values():
        yield "boards", board.id, iter([(("code_table",), "code table", board.code_table)] if board.code_table else [])
    for table in context.codes.values():
        yield "codes", table.id, (ref for i, code in enumerate(table.codes) for ref in _suspects(i, code))
    for case in context.cases.values():
        yield "cases", case.id, _case(case)


def _roles(roles: m.Roles) -> Iterator[Reference]:
    for role, answered in roles.findings.items():
        yield ("roles", "findings", role, "finding"), "finding", answered.finding
    for role, names in roles.hazards.items():
        yield from ((("roles", "hazards", role, place), "hazard", name) for place, name in enumerate(names))
    for role, name in roles.tools.items():
        yield ("roles", "tools", role), "tool", name


def _finding(finding: m.Finding) -> Iterator[Reference]:
    yield ("part",), "part", finding.part
    yield from _names_in_list("hazards", "hazard", finding.hazards)
    yield from _when(finding.when)
    yield from _names_in_list("needs", "tool", finding.needs)
    if finding.action:
        yield ("action",), "action", finding.action
    if finding.reads:
        yield ("reads", "finding"), "finding", finding.reads.finding


def _cause(cause: m.Cause) -> Iterator[Reference]:
    yield ("part",), "part", cause.part
    yield from _names_in_list("hazards", "hazard", cause.hazards)
    for finding in cause.shows:
        yield ("shows", finding), "finding", finding
    for action in cause.fixes:
        yield ("fixes", action), "action", action


def _action(action: m.Action) -> Iterator[Reference]:
    yield ("part",), "part", action.part
    yield from _names_in_list("hazards", "hazard", action.hazards)
    yield from _names_in_list("needs", "tool", action.needs)
    yield from _names_in_list("after", "finding", action.after)
    yield from ((("tells", finding), "finding", finding) for finding in action.tells)
    yield from _when(action.when)


def _hazard(hazard: m.Hazard) -> Iterator[Reference]:
    for index, threat in enumerate(hazard.applies):
        for key, what, names in (("needs", "tool", threat.needs), ("parts", "part", threat.parts)):
            yield from ((("applies", index, key, place), what, name) for place, name in enumerate(names))


TARGET_KINDS = {
    m.Effect.DERIVE: "finding",
    m.Effect.RULE_OUT: "cause",
    m.Effect.WEIGH: "cause",
    m.Effect.CAUTION: "hazard",
    m.Effect.OPEN_QUESTION: "finding",
    m.Effect.ASK_FIRST: "finding",
    m.Effect.DO_FIRST: "action",
    m.Effect.CLOSE_QUESTION: "finding",
    m.Effect.OPEN_ACTION: "action",
    m.Effect.CLOSE_ACTION: "action",
}


def _rule(rule: m.Rule) -> Iterator[Reference]:
    yield from _when(rule.when)
    for index, consequence in enumerate(rule.then):
        yield ("then", index), TARGET_KINDS[consequence.verb], consequence.target


def _suspects(index: int, code: m.Code) -> Iterator[Reference]:
    for number, name in enumerate(code.suspects):
        yield ("codes", index, "suspects", number), "cause", name


def _case(case: m.Case) -> Iterator[Reference]:
    for finding in case.answers:
        yield ("answers", finding), "finding", finding
    for index, (action, _) in enumerate(case.tried):
        yield ("tried", index, "action"), "action", action
    for key in ("board", "cpu"):
        if key in case.records:
            yield ("records", key), key, case.records[key]
    if "cause" in case.expect:
        yield ("expect", "cause"), "cause", case.expect["cause"]
    if "next" in case.expect:
        yield ("expect", "next"), "finding or action", case.expect["next"]
    for index, rule in enumerate(case.expect.get("fires", ())):
        yield ("expect", "fires", index), "rule", rule


def _answers_with_probability(context: PartialKnowledge) -> Iterator[tuple[str, str, KeyPath, str, str]]:
    for role, answered in (context.base.roles.findings if context.base else {}).items():
        for seen, answer in answered.answers.items():
            yield "", "", ("roles", "findings", role, "answers", seen), answered.finding, answer
    for finding in context.findings.values():
        for key, table in (("baseline", finding.baseline), ("unnamed", finding.unnamed or {})):
            yield from (("findings", finding.id, (key, a), finding.id, a) for a in table)
        if finding.reads:
            for read, row in finding.reads.table.items():
                yield "findings", finding.id, ("reads", "table", read), finding.reads.finding, read
                yield from (("findings", finding.id, ("reads", "table", read, a), finding.id, a) for a in row)
    for cause in context.causes.values():
        yield from (("causes", cause.id, ("shows", f, a), f, a) for f, shown in cause.shows.items() for a in shown)


def _answers_without_probability(context: PartialKnowledge) -> Iterator[tuple[str, str, KeyPath, str, str]]:
    for rule in context.rules.values():
        for index, consequence in enumerate(rule.then):
            if consequence.verb is m.Effect.DERIVE:
                yield "rules", rule.id, ("then", index), consequence.target, consequence.answer
    for action in context.actions.values():
        yield from (("actions", action.id, ("tells", f), f, a) for f, a in action.tells.items())
    for case in context.cases.values():
        yield from (("cases", case.id, ("answers", f), f, a) for f, a in case.answers.items())
    for folder in ("findings", "actions", "rules"):
        items: Mapping[str, Any] = getattr(context, folder)
        for item, value in items.items():
            for where, condition in _conditions(value.when):
                if not condition.of_fact:
                    yield from ((folder, item, where, condition.name, answer) for answer in condition.values)
