"""The view of an end: what a face shows when the machine starts again, when the cause is found, and when it is handed over."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from nopost.diagnosis.diagnose import Diagnosis, cause_given_repair_success
from nopost.diagnosis.history import End, Event, EventKind, History
from nopost.diagnosis.parts_facts import machine_words
from nopost.firmware.route.task import Way
from nopost.knowledge.model import Cause, Knowledge

CLEAR = 0.8
"""From this share on the mended cause is named without asking (judgement)."""
POSSIBLE = 0.1
"""A cause of a smaller share is not offered (judgement)."""
OWN = 0.85
"""A fix is one of a cause's own when it mends it with at least this share of the chance of its best fix (judgement). Moved to
other slots, memory is pushed home as well; but who moved it learns that the slots were wrong."""


@dataclass(frozen=True)
class RepairedView:
    """It works again.

    `cause`: what it most probably was; None when that stays open, and then `possible` says what it may have been. `done`: titles
    of the fixes after which it works, all that were done in one go; `before`: titles of those that had changed something earlier.
    `checks`: what to look at before calling it well. `reset_settings`: what went back to its defaults on the way, to be set
    again.
    """

    cause: Cause | None
    possible: tuple[Cause, ...]
    done: tuple[str, ...]
    before: tuple[str, ...]
    checks: tuple[str, ...]
    reset_settings: tuple[str, ...]


def repaired_view(knowledge: Knowledge, history: History, cause: str, possible: Sequence[str] = ()) -> RepairedView:
    """The view of a machine that starts again. `cause`: id, "" when it stays open; `possible`: ids of what it may have been."""
    base, tried = knowledge.base, history.of_kind(EventKind.TRIED)
    was_reset = any(knowledge.actions[event.item].resets for event in tried)
    return RepairedView(
        knowledge.causes[cause] if cause else None,
        tuple(knowledge.causes[name] for name in possible),
        _titles(knowledge, tried, "starts"),
        _titles(knowledge, tried, "changed"),
        (*_as_recorded(knowledge, history), *base.proof),
        tuple(base.reset_settings) if was_reset else (),
    )


def _titles(knowledge: Knowledge, tried: Iterable[Event], outcome: str) -> tuple[str, ...]:
    return tuple(knowledge.actions[event.item].title for event in tried if event.value == outcome)


def _as_recorded(knowledge: Knowledge, history: History) -> Iterator[str]:
    """The parts as recorded; another release than the recorded one is there once firmware was written."""
    did = (event for event in history.of_kind(EventKind.TRIED) if event.value == "starts")
    routes = [knowledge.actions[event.item].route for event in did]
    written = any(route and Way.SWAP not in route for route in routes)
    for part, value in machine_words(history.parts, knowledge).items():
        if part == "firmware" and written:
            yield f"Setup shows the release that was written, and no longer {value}."
        else:
            yield f"As recorded: {part} is {value}."


@dataclass(frozen=True, slots=True)
class RepairedCauses:
    """What a fix may have mended: `likeliest`; and `possible`, the causes to choose from when it may well have been another."""

    likeliest: str
    possible: tuple[str, ...] = ()


def repaired_causes(knowledge: Knowledge, diagnosis: Diagnosis, fixes: Sequence[str]) -> RepairedCauses:
    """What it was, now that the machine starts after these fixes, which were tried in one go.

    Causes that one of these fixes is meant for go before those that it mends by the way: the verdict has to agree with what was
    done. Only when it is meant for none of them all are considered.
    """
    shares = cause_given_repair_success(knowledge, diagnosis, fixes)
    own = [(cause, share) for cause, share in shares if _is_own(knowledge.causes[cause], fixes)]
    total = sum(share for _, share in own)
    if total > 0:
        shares = tuple((cause, share / total) for cause, share in own)
    likeliest, share = shares[0]
    if share >= CLEAR:
        return RepairedCauses(likeliest)
    return RepairedCauses(likeliest, tuple(cause for cause, share in shares if share >= POSSIBLE))


def _is_own(cause: Cause, fixes: Sequence[str]) -> bool:
    """Whether one of the fixes is among the best for the cause."""
    best = max(cause.fixes.values(), default=0.0)
    return any(cause.fixes.get(fix, 0.0) >= OWN * best > 0 for fix in fixes)


def hand_over_end(diagnosis: Diagnosis) -> tuple[End, str]:
    """How a history ends that goes to the last resort, and the cause that is named then; "" when none is."""
    end = {"cause-found": End.CAUSE_FOUND, "no-listed-cause": End.NO_LISTED_CAUSE}.get(diagnosis.verdict, End.SHOP)
    return end, "" if end is End.NO_LISTED_CAUSE else diagnosis.remaining[0][0]
