"""What nothing uses: findings, hazards, tools, parts, and code rows that other rows hide."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TypeVar

from nopost.knowledge import model as m
from nopost.review.remark import Remark
from nopost.review.view import View

T = TypeVar("T")


def findings(view: View) -> Iterator[Remark]:
    """Each finding bears on a cause, or some condition asks for it."""
    k = view.knowledge
    used = {name for cause in k.causes.values() for name in cause.shows}
    used |= {condition.name for condition in _conditions(k) if not condition.of_fact}
    for finding in k.findings.values():
        read = finding.reads.finding if finding.reads else ""
        if finding.id not in used and read not in used and not (read and _reads_what_bears(view, read)):
            message = "no cause names it, no rule and no when asks for it: its answer changes nothing"
            yield view.remark("findings", finding.id, (), "unused-finding", message, "name it in a cause's shows, or delete it")


def hazards(view: View) -> Iterator[Remark]:
    """Each hazard is named by a step or raised by a rule."""
    k = view.knowledge
    named = {name for hazards in _each(k, lambda item: item.hazards) for name in hazards}
    named |= {says.target for rule in k.rules.values() for says in rule.then if says.verb is m.Verb.CAUTION}
    for name in k.hazards.keys() - named:
        message = "no finding, action or cause names it, and no rule raises it"
        yield view.remark("hazards", name, (), "unused-hazard", message, "name it where it threatens, or delete it")


def tools(view: View) -> Iterator[Remark]:
    """Each tool is needed somewhere."""
    k = view.knowledge
    needed = {need for finding in k.findings.values() for need in finding.needs}
    needed |= {need for action in k.actions.values() for need in action.needs}
    for name in k.base.tools.keys() - needed:
        message = f"no finding or action needs the tool {name}"
        yield view.remark("", "", ("tools", name), "unused-tool", message, "name it under needs:, or delete it")


def parts(view: View) -> Iterator[Remark]:
    """Each part is the part of something."""
    k = view.knowledge
    named = set(_each(k, lambda item: item.part))
    for name in k.base.parts.keys() - named:
        yield view.remark("", "", ("parts", name), "unused-part", f"nothing belongs to the part {name}", "delete it")


def code_rows(view: View) -> Iterator[Remark]:
    """In a code table each code stands once for each kind, so that no row hides another."""
    for table in view.knowledge.codes.values():
        first: dict[tuple[str, str], int] = {}
        for index, code in enumerate(table.codes):
            key = (code.code.casefold(), code.kind)
            if key in first and _same_reading(table.codes[first[key]], code):
                message = f"code {code.code!r} stands twice with the same kind and meaning"
                yield view.remark("codes", table.id, ("codes", index, "code"), "code-twice", message, "keep one of them")
            first.setdefault(key, index)


CHECKS = (findings, hazards, tools, parts, code_rows)


def _each(k: m.Knowledge, of: Callable[[m.Finding | m.Action | m.Cause], T]) -> Iterator[T]:
    """Something of every finding, action and cause."""
    yield from map(of, k.findings.values())
    yield from map(of, k.actions.values())
    yield from map(of, k.causes.values())


def _conditions(k: m.Knowledge) -> Iterator[m.Condition]:
    for when in (
        *(finding.when for finding in k.findings.values()),
        *(action.when for action in k.actions.values()),
        *(rule.when for rule in k.rules.values()),
    ):
        yield from when


def _reads_what_bears(view: View, name: str) -> bool:
    return name in view.belief.bearing


def _same_reading(one: m.Code, other: m.Code) -> bool:
    keys = ("phase", "stage", "meaning", "symbol", "status")
    return all(getattr(one, key) == getattr(other, key) for key in keys)
