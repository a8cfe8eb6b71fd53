"""What no item has or does. Looked for only when every file could be read: a broken one might."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from nopost.knowledge import model as m
from nopost.knowledge.context import Context
from nopost.knowledge.layers import CycleError, rule_layers
from nopost.knowledge.problem import Problem

OPENERS = {"findings": (m.Verb.OPEN_QUESTION, m.Verb.ASK_FIRST), "actions": (m.Verb.OPEN_ACTION, m.Verb.DO_FIRST)}
"""Folder of what can start closed -> the verbs that open it."""


def no_causes(context: Context) -> Iterator[Problem]:
    """There is something to find."""
    if not context.causes:
        yield context.problem("", "", (), "no-causes", "there is not one cause", "add files to causes/")


def unused_actions(context: Context) -> Iterator[Problem]:
    """Each test and each fix is named by someone; not known while a name leads elsewhere, for it may be meant there."""
    named = {
        "test": {finding.action for finding in context.findings.values() if finding.action},
        "fix": {name for cause in context.causes.values() for name in cause.fixes},
    }
    for kind, names in named.items():
        actions = {name for name, action in context.actions.items() if action.kind == kind}
        for name in actions - names if names <= actions else ():
            hint = "name it in a finding's action or a cause's fixes, or delete it"
            yield context.problem("actions", name, (), "unused-action", f"no {kind} is needed for anything", hint)


def closed_for_ever(context: Context) -> Iterator[Problem]:
    """What starts closed is opened by some rule; not known while one opens what is not there."""
    closed: Mapping[str, Mapping[str, bool]] = {
        "findings": {name: finding.closed for name, finding in context.findings.items()},
        "actions": {name: action.closed for name, action in context.actions.items()},
    }
    for folder, verbs in OPENERS.items():
        opened = {c.target for rule in context.rules.values() for c in rule.then if c.verb in verbs}
        for name in closed[folder] if opened <= closed[folder].keys() else ():
            if closed[folder][name] and name not in opened:
                message, hint = "starts closed and no rule opens it", "add a rule, or delete closed"
                yield context.problem(folder, name, ("closed",), "never-open", message, hint)


def cycles(context: Context) -> Iterator[Problem]:
    """No rule depends on the absence of what it leads to."""
    rules = dict(context.rules)
    while chain := _cycle(rules):
        message = f"depends on its own absence: {' → '.join(chain)}"
        hint = "take the 'none' out of one of them"
        yield context.problem("rules", chain[0], ("when", "none"), "rule-cycle", message, hint)
        for name in set(chain):
            del rules[name]


CHECKS = (no_causes, unused_actions, closed_for_ever, cycles)


def _cycle(rules: Mapping[str, m.Rule]) -> tuple[str, ...]:
    try:
        rule_layers(rules)
    except CycleError as error:
        return error.rules
    return ()
