"""Limits of a meter that contradict themselves, stand twice, or name what is not there."""

from __future__ import annotations

import difflib
import itertools
import re
from collections.abc import Iterable, Iterator, Sequence

from nopost.knowledge import model as m
from nopost.knowledge.problem import Problem
from nopost.knowledge.source_files import PartialKnowledge
from nopost.knowledge.yaml_reader import KeyPath
from nopost.linting.check_findings import answers_clash

NO_VOLTAGE = ("ground", "none")
"""What a contact carries that no limit is for."""
Misorder = tuple[KeyPath, str]


def limit_order(context: PartialKnowledge) -> Iterator[Problem]:
    """Minimum below nominal below maximum, low level below high level, bands falling."""
    for limits in context.limits.values():
        for where, message in (*_rails(limits), *_signals(limits), *_times(limits), *_bands(limits)):
            yield context.problem("limits", limits.id, where, "limit-order", message, "put them in order")


def limit_twice(context: PartialKnowledge) -> Iterator[Problem]:
    """Within one file each name, other names included, and each contact stands once."""
    for limits in context.limits.values():
        seen: set[str] = set()
        for where, name, spelled in _names(limits):
            twice = [text for text in spelled if plain_name(text) in seen]
            seen |= {plain_name(text) for text in spelled}
            if twice:
                message = f"{name} or another name of it ({twice[0]}) stands twice"
                yield context.problem("limits", limits.id, where, "limit-twice", message, "keep one of them")


def limit_names(context: PartialKnowledge) -> Iterator[Problem]:
    """What a contact or a time names is a rail or a signal of some file; a cell's bands answer a finding."""
    known = _known(context)
    for limits in context.limits.values():
        for where, name in _named(limits) if known is not None else ():
            if known is not None and name not in known:
                message = f"there is no rail or signal {name!r}"
                yield context.problem("limits", limits.id, where, "unknown-name", message, _nearest_hint(name, known))
        if limits.cell:
            yield from _answers(context, limits.id, limits.cell)


LIMIT_CHECKS = (limit_order, limit_twice, limit_names)


def plain_name(name: str) -> str:
    """A name without what people write differently: case, blanks, the plus sign, hash and underscore."""
    return re.sub(r"[\s+#_]", "", name).casefold()


def _rails(limits: m.Limits) -> Iterator[Misorder]:
    for index, rail in enumerate(limits.rails):
        if not rail.low < rail.nominal < rail.high:
            yield ("rails", index), f"{rail.name}: not min {rail.low:g} < nominal {rail.nominal:g} < max {rail.high:g}"


def _signals(limits: m.Limits) -> Iterator[Misorder]:
    for index, signal in enumerate(limits.signals):
        bounds = (*signal.low, *signal.high)
        if not bounds[0] < bounds[1] < bounds[2] < bounds[3]:
            told = " < ".join(f"{bound:g}" for bound in bounds)
            yield ("signals", index), f"{signal.name}: not low before high: {told}"


def _times(limits: m.Limits) -> Iterator[Misorder]:
    for index, time in enumerate(limits.times):
        if time.low is not None and time.high is not None and time.low >= time.high:
            yield ("times", index), f"{time.name}: not min {time.low:g} < max {time.high:g}"


def _bands(limits: m.Limits) -> Iterator[Misorder]:
    if limits.cell:
        starts = [band.low for band in limits.cell.bands]
        for index, (one, next_one) in enumerate(itertools.pairwise((limits.cell.highest, *starts))):
            if next_one >= one:
                yield ("cell", "bands", index), f"from {next_one:g}: the bands do not fall from the highest down"


def _names(limits: m.Limits) -> Iterator[tuple[KeyPath, str, tuple[str, ...]]]:
    named: tuple[tuple[str, Sequence[m.Rail | m.Signal | m.Time]], ...] = (
        ("rails", limits.rails),
        ("signals", limits.signals),
        ("times", limits.times),
    )
    for key, entries in named:
        for index, entry in enumerate(entries):
            yield (key, index), entry.name, (entry.name, *entry.also)
    if limits.cell:
        yield ("cell", "name"), limits.cell.name, (limits.cell.name, *limits.cell.also)
    for index, pin in enumerate(limits.pins):
        yield ("pins", index), f"contact {pin.pin} of {pin.plug}", (f"{pin.plug} {pin.pin}",)


def _known(context: PartialKnowledge) -> set[str] | None:
    """Rails and signals of all files; None when one of the files is broken."""
    if context.names("limits") != frozenset(context.limits):
        return None
    rails = {rail.name for limits in context.limits.values() for rail in limits.rails}
    return rails | {signal.name for limits in context.limits.values() for signal in limits.signals}


def _named(limits: m.Limits) -> Iterator[tuple[KeyPath, str]]:
    for index, pin in enumerate(limits.pins):
        if pin.carries not in NO_VOLTAGE:
            yield ("pins", index, "carries"), pin.carries
    for index, time in enumerate(limits.times):
        yield from ((("times", index, "of", place), name) for place, name in enumerate(time.of))


def _answers(context: PartialKnowledge, item: str, cell: m.CoinCell) -> Iterator[Problem]:
    findings = context.names("findings")
    if findings is not None and cell.finding not in findings:
        message, hint = f"there is no finding {cell.finding!r}", _nearest_hint(cell.finding, findings)
        yield context.problem("limits", item, ("cell", "finding"), "unknown-name", message, hint)
    finding = context.findings.get(cell.finding)
    for index, band in enumerate(cell.bands):
        if finding and not answers_clash(finding) and band.answer not in finding.answer_ids:
            message, hint = f"{finding.id} has no answer {band.answer!r}", _nearest_hint(band.answer, finding.answer_ids)
            yield context.problem("limits", item, ("cell", "bands", index, "answer"), "unknown-answer", message, hint)


def _nearest_hint(name: str, known: Iterable[str]) -> str:
    close = difflib.get_close_matches(name, sorted(known), n=1, cutoff=0.5)
    return f"did you mean {close[0]}?" if close else "add it, or correct the name"
