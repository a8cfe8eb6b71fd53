"""Names that lead nowhere, or to something of the wrong kind."""

from __future__ import annotations

import itertools
from collections.abc import Collection, Iterable, Iterator, Mapping

from nopost.knowledge import model as m
from nopost.knowledge.effects import EFFECTS, Effect
from nopost.knowledge.problem import UNKNOWN_ANSWER, UNKNOWN_NAME, Problem, ProblemCode, nearest_hint
from nopost.knowledge.reference_records import FACTS
from nopost.knowledge.source_files import PartialKnowledge
from nopost.knowledge.yaml_reader import KeyPath
from nopost.linting.lint_check import Check, Stage, placed_conditions


class InstrumentNamed(Check):
    """A cause names what an instrument reads, not the instrument."""

    code = ProblemCode(
        "instrument-named",
        "A cause that names an instrument",
        "Several instruments of one thing would be counted twice.",
        "Name what the instrument reads.",
    )
    stage = Stage.ITEM

    def run(self) -> Iterator[Problem]:
        for cause in self.items.causes.values():
            for name in cause.named_findings:
                finding = self.items.findings.get(name)
                if finding and finding.reads and finding.is_instrument:
                    behind = finding.reads.finding
                    message, hint = f"{name} is an instrument for {behind}", f"name {behind} instead"
                    yield self.problem(
                        "causes", cause.id, ("shows" if name in cause.shows else "shows_given", name), message, hint
                    )


class WrongKind(Check):
    """A finding's action is a test; a cause's fixes, and what a rule puts first, are fixes."""

    code = ProblemCode(
        "wrong-kind",
        "A test where a fix belongs, or the other way",
        "Only fixes mend, only tests show.",
        "Name one of the right kind.",
    )
    stage = Stage.ITEM

    def run(self) -> Iterator[Problem]:
        for folder, item, where, name, kind in _actions_named(self.items):
            action = self.items.actions.get(name)
            if action and action.kind != kind:
                hint = f"name an action of kind: {kind}"
                yield self.problem(folder, item, where, f"{name} is not a {kind}", hint)
        for action in self.items.actions.values():
            if action.kind == "test" and action.changes is not None:
                message, hint = "a test is never in vain", "take changes: out; what a test shows is a finding"
                yield self.problem("actions", action.id, ("changes",), message, hint)
            if action.kind == "test" and action.look_first:
                message, hint = (
                    "no look comes before a test",
                    "take look_first out; only a fix names a look",
                )
                yield self.problem("actions", action.id, ("look_first",), message, hint)


def _actions_named(items: PartialKnowledge) -> Iterator[tuple[str, str, KeyPath, str, str]]:
    for finding in items.findings.values():
        if finding.action:
            yield "findings", finding.id, ("action",), finding.action, "test"
    for cause in items.causes.values():
        for name in cause.fixes:
            yield "causes", cause.id, ("fixes", name), name, "fix"
        for name in cause.changes:
            yield "causes", cause.id, ("changes", name), name, "fix"
    for rule in items.rules.values():
        for index, consequence in enumerate(rule.then):
            if EFFECTS[consequence.effect].fix_only:
                yield "rules", rule.id, ("then", index, consequence.effect.value), consequence.target, "fix"


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


class UnknownName(Check):
    """Every id that an item mentions exists."""

    code = UNKNOWN_NAME
    stage = Stage.ITEM

    def run(self) -> Iterator[Problem]:
        known = _known_names(self.items)
        for folder, item, references in _all_references(self.items):
            for where, what, name in references:
                if what in known and name not in known[what]:
                    yield self.problem(folder, item, where, f"there is no {what} {name!r}", nearest_hint(name, known[what]))


class UnknownAnswer(Check):
    """Every answer that is mentioned belongs to its finding."""

    code = UNKNOWN_ANSWER
    stage = Stage.ITEM

    def run(self) -> Iterator[Problem]:
        silent = (m.UNKNOWN, m.ABSENT)  # can be reported and asked about, but have no probability
        mentions = itertools.chain(
            (((), *mention) for mention in _answers_with_probability(self.items)),
            ((silent, *mention) for mention in _answers_without_probability(self.items)),
        )
        for more, folder, item, where, finding, answer in mentions:
            known = self.items.findings.get(finding)
            ids = (*known.answer_ids, *more) if known and not known.answers_clash else (answer,)
            if answer not in ids:
                message = f"{finding} has no answer {answer!r}"
                yield self.problem(folder, item, where, message, nearest_hint(answer, ids))


class UnknownFactValue(Check):
    """A fact is tested for a value that it can have; an entry named like a fact of the records has the values of that one."""

    code = UNKNOWN_ANSWER
    stage = Stage.ITEM

    def run(self) -> Iterator[Problem]:
        facts = self.items.base.facts if self.items.base else FACTS
        for name, entry in (self.items.base.inventory if self.items.base else {}).items():
            for choice in entry.choices.keys() - set(facts[name]):
                hint = f"one of: {', '.join(facts[name])}"
                yield self.problem("", "", ("inventory", name, "choices", choice), f"fact {name} is never {choice!r}", hint)
        for folder, item, where, condition in placed_conditions(self.items):
            for wanted in condition.values:
                if condition.of_fact and wanted not in facts.get(condition.name, (wanted,)):
                    hint = f"one of: {', '.join(facts[condition.name])}"
                    yield self.problem(folder, item, where, f"fact {condition.name} is never {wanted!r}", hint)


class NoArea(Check):
    """Each cause has an area when the base names areas."""

    code = ProblemCode(
        "no-area",
        "A cause without an area",
        "The base names areas, and what is wrong is shown by area: this cause would be in none of them.",
        "Give it area:, one of the areas of base.yaml.",
    )
    stage = Stage.ITEM

    def run(self) -> Iterator[Problem]:
        areas = self.items.base.areas if self.items.base else {}
        for cause in self.items.causes.values() if areas else ():
            if not cause.area:
                yield self.problem("causes", cause.id, (), "it has no area", f"one of: {', '.join(areas)}")


CHECKS = (NoArea, InstrumentNamed, WrongKind, UnknownName, UnknownAnswer, UnknownFactValue)


def _known_names(items: PartialKnowledge) -> dict[str, Collection[str]]:
    """Kind of thing -> the names there are; a kind of which this cannot be said is left out."""
    known: dict[str, Collection[str]] = {}
    if items.base:
        base = items.base
        known |= {"part": base.parts, "tool": base.tools, "area": base.areas, "fact": base.facts}
        known["preparation"] = base.preparations
    for what, folders in FOLDERS.items():
        names = [items.names(folder) for folder in folders]
        if None not in names:
            known[what] = set().union(*filter(None, names))
    return known


def _names_in_list(where: str, what: str, names: Iterable[str]) -> Iterator[Reference]:
    for index, name in enumerate(names):
        yield (where, index), what, name


def _when(when: m.Conditions) -> Iterator[Reference]:
    for place, condition in when.placed():
        yield ("when", *place), "fact" if condition.of_fact else "finding", condition.name


def _all_references(items: PartialKnowledge) -> Iterator[tuple[str, str, Iterator[Reference]]]:
    if items.base:
        yield "", "", _names_in_list("opening", "finding", items.base.opening)
        yield "", "", _roles(items.base.roles)
        yield "", "", _couplings(items.base.coupled)
        yield "", "", _inventory(items.base.inventory)
        yield "", "", _preparations(items.base.preparations)
    for finding in items.findings.values():
        yield "findings", finding.id, _finding(finding)
    for cause in items.causes.values():
        yield "causes", cause.id, _cause(cause)
    for action in items.actions.values():
        yield "actions", action.id, _action(action)
    for rule in items.rules.values():
        yield "rules", rule.id, _rule(rule)
    for hazard in items.hazards.values():
        yield "hazards", hazard.id, _hazard(hazard)
    for board in items.boards.values():
        yield "boards", board.id, iter([(("code_table",), "code table", board.code_table)] if board.code_table else [])
    for table in items.codes.values():
        yield "codes", table.id, (ref for i, code in enumerate(table.codes) for ref in _suspects(i, code))
    for case in items.cases.values():
        yield "cases", case.id, _case(case)


def _couplings(coupled: Iterable[m.Coupling]) -> Iterator[Reference]:
    for place, coupling in enumerate(coupled):
        for number, name in enumerate((coupling.first, coupling.second)):
            yield ("coupled", place, "causes", number), "cause", name


def _roles(roles: m.Roles) -> Iterator[Reference]:
    for role, answered in roles.findings.items():
        yield ("roles", "findings", role, "finding"), "finding", answered.finding
    for role, names in roles.hazards.items():
        yield from ((("roles", "hazards", role, place), "hazard", name) for place, name in enumerate(names))
    for role, name in roles.tools.items():
        yield ("roles", "tools", role), "tool", name


def _inventory(inventory: Mapping[str, m.InventoryEntry]) -> Iterator[Reference]:
    for name, entry in inventory.items():
        for choice_id, choice in entry.choices.items():
            where = ("inventory", name, "choices", choice_id)
            yield from (((*where, "told_by", k, "finding"), "finding", c.name) for k, c in enumerate(choice.told_by))
            yield from (((*where, "tools", k), "tool", tool) for k, tool in enumerate(choice.tools))


def _preparations(preparations: Mapping[str, m.Preparation]) -> Iterator[Reference]:
    for name, preparation in preparations.items():
        yield from ((("preparations", name, "needs", k), "preparation", need) for k, need in enumerate(preparation.needs))


def _finding(finding: m.Finding) -> Iterator[Reference]:
    yield ("part",), "part", finding.part
    yield from _names_in_list("hazards", "hazard", finding.hazards)
    yield from _when(finding.when)
    yield from _names_in_list("needs", "tool", finding.needs)
    yield from _names_in_list("at", "preparation", finding.at)
    if finding.action:
        yield ("action",), "action", finding.action
    if finding.reads:
        yield ("reads", "finding"), "finding", finding.reads.finding
    if finding.parent:
        yield ("parent",), "finding", finding.parent


def _cause(cause: m.Cause) -> Iterator[Reference]:
    yield ("part",), "part", cause.part
    if cause.area:
        yield ("area",), "area", cause.area
    yield from _names_in_list("hazards", "hazard", cause.hazards)
    for finding in cause.shows:
        yield ("shows", finding), "finding", finding
    for finding in cause.shows_given:
        yield ("shows_given", finding), "finding", finding
    for action in cause.fixes:
        yield ("fixes", action), "action", action
    for action in cause.changes:
        yield ("changes", action), "action", action


def _action(action: m.Action) -> Iterator[Reference]:
    yield ("part",), "part", action.part
    yield from _names_in_list("hazards", "hazard", action.hazards)
    yield from _names_in_list("needs", "tool", action.needs)
    yield from _names_in_list("at", "preparation", action.at)
    yield from _names_in_list("after", "finding", action.after)
    yield from ((("tells", finding), "finding", finding) for finding in action.tells)
    if action.look_first:
        yield ("look_first",), "finding", action.look_first
    yield from _when(action.when)


def _hazard(hazard: m.Hazard) -> Iterator[Reference]:
    for index, threat in enumerate(hazard.applies):
        for key, what, names in (("needs", "tool", threat.needs), ("parts", "part", threat.parts)):
            yield from ((("applies", index, key, place), what, name) for place, name in enumerate(names))


def _rule(rule: m.Rule) -> Iterator[Reference]:
    yield from _when(rule.when)
    for index, consequence in enumerate(rule.then):
        if EFFECTS[consequence.effect].target:
            yield ("then", index), EFFECTS[consequence.effect].target, consequence.target
        for place, name in enumerate(consequence.exceptions):
            yield ("then", index, consequence.effect.value, "except", place), "finding or action", name


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
    for index, cause in enumerate(case.causes):
        yield ("cause", index), "cause", cause


def _answers_with_probability(items: PartialKnowledge) -> Iterator[tuple[str, str, KeyPath, str, str]]:
    for role, answered in (items.base.roles.findings if items.base else {}).items():
        for seen, answer in answered.answers.items():
            yield "", "", ("roles", "findings", role, "answers", seen), answered.finding, answer
    for finding in items.findings.values():
        for key, table in (("baseline", finding.baseline), ("unnamed", finding.unnamed or {})):
            yield from (("findings", finding.id, (key, a), finding.id, a) for a in table)
        place = ("reads", "table") if finding.reads else ("given",)
        for above, row in finding.parent_table.items():
            yield "findings", finding.id, (*place, above), finding.parent_finding, above
            yield from (("findings", finding.id, (*place, above, a), finding.id, a) for a in row)
    for cause in items.causes.values():
        for name, rows in cause.shows_given.items():
            parent = items.findings[name].parent_finding if name in items.findings else ""
            for above, row in rows.items():
                yield "causes", cause.id, ("shows_given", name, above), parent, above
                yield from (("causes", cause.id, ("shows_given", name, above, a), name, a) for a in row)
        yield from (("causes", cause.id, ("shows", f, a), f, a) for f, shown in cause.shows.items() for a in shown)


def _answers_without_probability(items: PartialKnowledge) -> Iterator[tuple[str, str, KeyPath, str, str]]:
    for rule in items.rules.values():
        for index, consequence in enumerate(rule.then):
            if consequence.effect is Effect.DERIVE:
                yield "rules", rule.id, ("then", index), consequence.target, consequence.answer
    for action in items.actions.values():
        yield from (("actions", action.id, ("tells", f), f, a) for f, a in action.tells.items())
    for case in items.cases.values():
        yield from (("cases", case.id, ("answers", f), f, a) for f, a in case.answers.items())
    for name, entry in (items.base.inventory if items.base else {}).items():
        for choice_id, choice in entry.choices.items():
            for k, condition in enumerate(choice.told_by):
                place = ("inventory", name, "choices", choice_id, "told_by", k)
                yield from (("", "", place, condition.name, answer) for answer in condition.values)
    for folder, item, where, condition in placed_conditions(items):
        if not condition.of_fact:
            yield from ((folder, item, where, condition.name, answer) for answer in condition.values)
