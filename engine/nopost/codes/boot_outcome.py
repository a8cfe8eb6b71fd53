"""The outcome of a start-up as one table sees it: what happened, the stage that did not pass, and how sure that would be.

The certainties are judgement. They are about the record, given that the table is right: a loop that was seen three times
may still end in the fourth round, a code that stands may move on after the record ends.
"""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from nopost.codes.boots import BootSequence
from nopost.codes.code_events import MEMORY_RANK
from nopost.codes.periodicity import Period, loose_period, suffix_period

ROUNDS = 3
"""So many rounds make a loop."""
QUIET = 120.0
"""Seconds without a code after which the next boot is another matter: somebody switched it on again, or a running system
restarted."""
BUSY = 3
"""So often memory steps that may repeat must come at the end to be called training."""


class BootOutcome(StrEnum):
    """How a start-up went."""

    NEVER_STARTED = "never-started"
    STALLED = "stalled"
    STALLED_AFTER_RECOVERY = "stalled-after-recovery"
    RESTART_LOOP = "restart-loop"
    HANDED_OVER = "handed-over"
    MEMORY_TRAINING = "memory-training"
    RESUMED = "resumed"
    UNCLEAR = "unclear"


@dataclass(frozen=True, slots=True)
class Verdict:
    """What one table makes of it. `stage`: an answer of the finding stage, or empty. `certainty`: P(outcome | right table)."""

    outcome: BootOutcome
    stage: str = ""
    certainty: float = 1.0
    period: Period | None = None


def outcome_of(sequence: BootSequence) -> Verdict:
    """The verdict on a sequence: the first that fits, of the outcomes in the order of what they ask for."""
    boots = _RelatedBoots(sequence)
    if all(mark.blank for mark in sequence.marks):
        return Verdict(BootOutcome.NEVER_STARTED, "no-code", 0.85 if sequence.events else 0.3)
    tests: tuple[Callable[[_RelatedBoots], Verdict | None], ...]
    tests = (_longer_rounds, _loop, _busy_memory, _handed_over, _after_recovery, _restarts, _stalled)
    return next((verdict for test in tests if (verdict := test(boots))), Verdict(BootOutcome.UNCLEAR))


class _RelatedBoots:
    """The boots that belong together, up to the end of the record: those since the last ordinary restart."""

    def __init__(self, sequence: BootSequence) -> None:
        self.sequence = sequence
        self.marks = sequence.marks
        spans = sequence.spans()
        last = len(spans) - 1
        while last > 0 and not self._ordinary(spans[last - 1]):
            last -= 1
        self.spans = spans[last:]

    def _ordinary(self, before: range) -> bool:
        """Whether the restart after this boot is no part of a loop: long after its last code, or after a hand-over in a
        record of several boots that does not tell the time between them."""
        stood = self.sequence.stood(before[-1])
        if stood is None:
            return self.sequence.numbered and self.ended(before)
        return stood >= QUIET

    def live(self, span: range) -> list[int]:
        """Indexes of the events that show something."""
        return [i for i in span if not self.marks[i].blank]

    def informative(self, span: range) -> list[int]:
        """Indexes of the events that say how far it came."""
        return [i for i in span if self.marks[i].informative]

    def ended(self, span: range) -> bool:
        """Whether the boot handed the machine over."""
        informative = self.informative(span)
        return bool(informative) and self.marks[informative[-1]].ended

    def furthest(self, span: range) -> int:
        """Rank of the latest phase of the normal order; -1 when no code has one."""
        return max((self.marks[i].rank for i in span if self.marks[i].kind != "error"), default=-1)

    def stage(self, span: range) -> str:
        """The stage that did not pass in a boot: of its last code, or of the last one before that names one; of the firmware's
        recovery none is known."""
        for i in reversed(self.informative(span)):
            if self.marks[i].stage or self.marks[i].phase == "recovery":
                return self.marks[i].stage
        return ""

    def usual_stage(self, spans: Sequence[range]) -> str:
        """The stage at which most of these boots ended."""
        counts = Counter(self.stage(span) for span in spans)
        stage, times = counts.most_common(1)[0]
        return stage if 2 * times > len(spans) else ""

    def codes(self, span: range) -> list[str]:
        """What a boot showed, equal neighbours and blanks left out."""
        codes = [self.sequence.events[i].code for i in self.live(span)]
        return [code for i, code in enumerate(codes) if i == 0 or code != codes[i - 1]]


def _longer_rounds(boots: _RelatedBoots) -> Verdict | None:
    """Training over restarts: no boot comes beyond memory, and each lasts longer than the one before."""
    ranks = [boots.furthest(span) for span in boots.spans]
    if len(ranks) < ROUNDS or any(rank != MEMORY_RANK for rank in ranks[:-1]) or ranks[-1] > MEMORY_RANK:
        return None
    sizes = [sum(boots.sequence.events[i].count for i in boots.live(span)) for span in boots.spans]
    whole = sizes if sizes[-1] > sizes[-2] else sizes[:-1]
    longer = len(whole) >= ROUNDS and all(a < b for a, b in itertools.pairwise(whole))
    clean = not any(boots.marks[i].kind == "error" for i in boots.live(boots.spans[-1]))
    return Verdict(BootOutcome.MEMORY_TRAINING, "memory", 0.75) if longer and clean else None


def _loop(boots: _RelatedBoots) -> Verdict | None:
    """Rounds that are alike, with a restart in each."""
    if len(boots.spans) < ROUNDS:
        return None
    rounds = [boots.codes(span) for span in boots.spans]
    period = _period(rounds)
    if period is None:
        return None
    sizes = [len(codes) for codes in rounds]
    until_end = list(itertools.accumulate(reversed(sizes)))[::-1]
    inside = [k for k, size in enumerate(until_end) if size <= period.covered]
    if len(inside) < ROUNDS - 1:
        return None
    spans = [boots.spans[k] for k in inside]
    whole = spans[:-1] if sizes[-1] < sizes[-2] else spans
    seen = period.covered / period.length
    certainty = (0.97 if seen >= ROUNDS + 1 else 0.92) * (1.0 if period.exact else 0.93)
    if boots.sequence.numbered and boots.sequence.stood(boots.spans[-1][0] - 1) is None:
        certainty *= 0.65  # somebody may have switched it on each time
    return Verdict(BootOutcome.RESTART_LOOP, boots.usual_stage(whole), certainty, period)


def _period(rounds: Sequence[Sequence[str]]) -> Period | None:
    """Of the boots' codes one after the other: exact, or the loose one where it covers more."""
    codes = [code for one in rounds for code in one]
    same = 0
    for one in reversed(rounds):
        if list(one) != codes[-1:]:
            break
        same += 1
    if same >= ROUNDS:
        return Period(1, same, tuple(codes[-1:]))
    exact = suffix_period(codes, ROUNDS)
    loose = None if exact and exact.covered == len(codes) else loose_period(codes, ROUNDS)
    return max((period for period in (exact, loose) if period), key=lambda period: period.covered, default=None)


def _busy_memory(boots: _RelatedBoots) -> Verdict | None:
    """Training in one go: at the end nothing but memory steps, which come again and again."""
    tail: list[int] = []
    for i in reversed(boots.live(boots.spans[-1])):
        if boots.marks[i].rank != MEMORY_RANK or boots.marks[i].kind == "error":
            break
        tail.append(i)
    events = [boots.sequence.events[i] for i in reversed(tail)]
    busy = sum(boots.sequence.events[i].count for i in tail if boots.marks[i].repeats)
    if busy >= BUSY:
        timed = all(event.at is not None for event in events) and len(events) >= BUSY
        moving = timed or len({event.code for event in events}) > 1
        return Verdict(BootOutcome.MEMORY_TRAINING, "memory", 0.8 if moving else 0.65)
    return Verdict(BootOutcome.MEMORY_TRAINING, "memory", 0.7) if _changing([event.code for event in events]) else None


def _changing(codes: Sequence[str]) -> bool:
    """Whether the rounds of memory steps, cut where the first one comes again, all differ or grow."""
    begins = [i for i, code in enumerate(codes) if code == codes[0] and (i == 0 or codes[i - 1] != code)]
    rounds = [tuple(codes[a:b]) for a, b in itertools.pairwise([*begins, len(codes)])]
    return len(rounds) >= ROUNDS and len(set(rounds[:-1])) == len(rounds) - 1


def _handed_over(boots: _RelatedBoots) -> Verdict | None:
    """Handed over to the system, or back from sleep; quiet after that is as it should be."""
    span = boots.spans[-1]
    if not boots.ended(span):
        return None
    last = boots.informative(span)[-1]
    restarted = any(boots.marks[i].restart for i in range(last + 1, span.stop))
    certainty = 0.6 if restarted else (0.95 if boots.marks[last].kind == "end" else 0.85)
    woke = any(boots.marks[i].phase == "resume" and boots.marks[i].kind == "progress" for i in span)
    return Verdict(BootOutcome.RESUMED if woke else BootOutcome.HANDED_OVER, "handed-over", certainty)


def _after_recovery(boots: _RelatedBoots) -> Verdict | None:
    """The firmware tried to recover itself, and the start still did not end well."""
    if any(boots.marks[i].phase == "recovery" for span in boots.spans for i in span):
        return Verdict(BootOutcome.STALLED_AFTER_RECOVERY, boots.stage(boots.spans[-1]), 0.9)
    return None


def _restarts(boots: _RelatedBoots) -> Verdict | None:
    """Restarts with rounds that are not alike, unless the last came further than all before; a hand-over that a restart
    follows at once."""
    before = boots.spans[:-1]
    if before and boots.ended(before[-1]):
        stage = boots.usual_stage(before)
        return Verdict(BootOutcome.RESTART_LOOP, stage, 0.5 if len(before) < ROUNDS - 1 else 0.75)
    reached = [boots.furthest(span) for span in before]
    if len(before) < ROUNDS - 1 or boots.furthest(boots.spans[-1]) > max(reached):
        return None
    in_memory = all(rank == MEMORY_RANK for rank in reached)
    if in_memory and len({tuple(boots.codes(span)) for span in before}) == len(before) >= ROUNDS:
        return Verdict(BootOutcome.MEMORY_TRAINING, "memory", 0.6)
    return Verdict(BootOutcome.RESTART_LOOP, boots.usual_stage(before), 0.6)


def _stalled(boots: _RelatedBoots) -> Verdict | None:
    """It stopped at a code that the table has."""
    span = boots.spans[-1]
    live = [i for i in boots.live(span) if not boots.marks[i].restart]
    informative = boots.informative(span)
    if not live or not informative or not boots.marks[live[-1]].phase:
        return None
    last = boots.marks[informative[-1]]
    if (last.phase == "resume" and not last.stage) or boots.marks[boots.live(span)[-1]].restart:
        return None
    waiting = last.repeats and last.kind == "progress"
    return Verdict(BootOutcome.STALLED, boots.stage(span), 0.75 if waiting else 0.9)
