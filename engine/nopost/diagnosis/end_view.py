"""The view of an end: what a face shows when the machine starts again, when the cause is found, and when it is handed over."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from nopost.diagnosis.diagnose import Diagnosis, cause_given_repair_success
from nopost.diagnosis.history import End, EventKind, History
from nopost.diagnosis.parts_facts import machine_words
from nopost.firmware.route.task import Way
from nopost.knowledge.model import Cause, Knowledge

CLEAR = 0.8
"""From this share on the mended cause is named without asking (judgement)."""
POSSIBLE = 0.1
"""A cause of a smaller share is not offered (judgement)."""


@dataclass(frozen=True)
class RepairedView:
    """It works again.

    `cause`: what it most probably was. `checks`: what to look at before calling it well. `reset_settings`: what went back to its
    defaults on the way, to be set again.
    """

    cause: Cause
    checks: tuple[str, ...]
    reset_settings: tuple[str, ...]


def repaired_view(knowledge: Knowledge, history: History, cause: str) -> RepairedView:
    """The view of a machine that starts again."""
    base = knowledge.base
    was_reset = any(knowledge.actions[event.item].resets for event in history.of_kind(EventKind.TRIED))
    return RepairedView(
        knowledge.causes[cause],
        (*_as_recorded(knowledge, history), *base.proof),
        tuple(base.reset_settings) if was_reset else (),
    )


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


def repaired_causes(knowledge: Knowledge, diagnosis: Diagnosis, fix: str) -> RepairedCauses:
    """What it was, now that the machine starts after this fix."""
    shares = cause_given_repair_success(knowledge, diagnosis, fix)
    likeliest, share = shares[0]
    if share >= CLEAR:
        return RepairedCauses(likeliest)
    return RepairedCauses(likeliest, tuple(cause for cause, share in shares if share >= POSSIBLE))


def hand_over_end(diagnosis: Diagnosis) -> tuple[End, str]:
    """How a history ends that goes to the last resort, and the cause that is named then; "" when none is."""
    end = {"cause-found": End.CAUSE_FOUND, "no-listed-cause": End.NO_LISTED_CAUSE}.get(diagnosis.verdict, End.SHOP)
    return end, "" if end is End.NO_LISTED_CAUSE else diagnosis.remaining[0][0]
