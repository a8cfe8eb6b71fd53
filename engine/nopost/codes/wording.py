"""Decoded codes in words: sentences, plain data, and the short names of phases, stages and durations.

Every meaning names the table that it comes from.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from nopost.codes.boot_outcome import BootOutcome
from nopost.codes.code_events import CodeEvent, CodeForm, EventOrder
from nopost.codes.decode import Decoded, event_meanings
from nopost.codes.table_inference import LEAST_PROBABILITY, UNKNOWN_MAP
from nopost.codes.tables import TableSet

LONGEST_CODE = 40
"""Characters of a code in a sentence."""
_STAGES = {
    "no-code": "no code",
    "cpu": "start of the CPU",
    "memory": "memory",
    "graphics": "graphics",
    "devices": "devices",
    "boot-device": "boot device",
    "handed-over": "hand-over",
}


def stage_name(stage: str) -> str:
    """A stage that did not pass."""
    return _STAGES.get(stage, stage)


def duration(seconds: float) -> str:
    """How long, to two digits or so."""
    if seconds < 0.0005:
        return "0 s"
    if seconds < 1:
        return f"{round(seconds * 1000)} ms" if seconds < 0.0995 else f"{seconds:.2g} s"
    if seconds < 59.95:
        return f"{seconds:.1f}".removesuffix(".0") + " s" if seconds < 9.95 else f"{seconds:.0f} s"
    if seconds < 7170:
        minutes, rest = divmod(round(seconds), 60)
        return f"{minutes} min {rest} s" if rest and minutes < 10 else f"{round(seconds / 60)} min"
    return f"{seconds / 3600:.1f} h" if seconds < 172_800 else f"{seconds / 86_400:.0f} days"


def counted(number: int, one: str, many: str = "") -> str:
    """A number with its noun."""
    return f"{number:,} {one if number == 1 else many or one + 's'}"


def short_code(code: str) -> str:
    """A code that fits into a sentence."""
    return code if len(code) <= LONGEST_CODE else code[: LONGEST_CODE - 1] + "…"


OUTCOME_SENTENCES = {
    BootOutcome.NEVER_STARTED: "It never began: nothing ran that sends codes",
    BootOutcome.STALLED: "It stopped and stayed",
    BootOutcome.STALLED_AFTER_RECOVERY: "It went into firmware recovery and stopped",
    BootOutcome.RESTART_LOOP: "It starts over and over again",
    BootOutcome.HANDED_OVER: "It went through to the end and handed over; the last code is no fault",
    BootOutcome.MEMORY_TRAINING: "It is busy starting the memory; that can take minutes",
    BootOutcome.RESUMED: "It woke from sleep",
    BootOutcome.UNCLEAR: "What happened cannot be told from this",
}
MEANINGS = 3


def reading_sentence(decoded: Decoded) -> str:
    """What was read, and in which order."""
    reading = decoded.reading
    count = sum(event.count for event in reading.events)
    order = "oldest first" if decoded.trace.order is EventOrder.OLDEST_FIRST else "newest first"
    how = "" if reading.order_given or len(reading.events) < 2 else ", a guess"
    return f"{reading.source}; {count} {_noun(reading.form, count)}, {order}{how}."


def _noun(form: CodeForm, count: int) -> str:
    word = {CodeForm.HEX: "code", CodeForm.BEEPS: "beep sign", CodeForm.LAMPS: "lamp sign", CodeForm.STATES: "state"}.get(
        form, "record"
    )
    return word if count == 1 else f"{word}s"


def tables_sentence(decoded: Decoded, tables: TableSet) -> str:
    """Which tables it may follow, with their probabilities."""
    parts = [f"{_table_name(name, tables)} {p:.0%}" for name, p in decoded.inference.posterior if p >= LEAST_PROBABILITY]
    return "; ".join(parts) + "."


def _table_name(name: str, tables: TableSet) -> str:
    return "a map of the board's own" if name == UNKNOWN_MAP else tables.named(name).table.title


def outcome_sentence(decoded: Decoded) -> str:
    """What happened, how sure that is, and the loop when there is one."""
    trace = decoded.trace
    text = OUTCOME_SENTENCES[trace.outcome]
    if trace.outcome is BootOutcome.RESTART_LOOP and trace.period:
        times = trace.period.covered // trace.period.length
        text += f": {' '.join(trace.period.codes[:12])}{' …' if trace.period.length > 12 else ''}, {times} times"
    elif trace.outcome in (BootOutcome.STALLED, BootOutcome.STALLED_AFTER_RECOVERY) and trace.last:
        text += f" at {trace.last}"
    if trace.stage and trace.stage != "handed-over":
        text += f"; the stage that did not pass: {trace.stage.replace('-', ' ')}"
    return f"{text} (confidence {trace.confidence:.0%})."


def code_sentence(event: CodeEvent, decoded: Decoded, tables: TableSet) -> str:
    """What one code means, tagged with each table that may be the right one."""
    found = event_meanings(event, tables, decoded.inference)
    parts = []
    for meaning in found[:MEANINGS]:
        said = " / ".join(dict.fromkeys(row.meaning for row in meaning.rows))
        parts.append(f"{said} [{meaning.table}, {meaning.probability:.0%}]")
    return "; ".join(parts) or "in none of the tables"


def note_sentences(decoded: Decoded, tables: TableSet) -> Iterator[str]:
    """What was guessed, left out, or probably noted wrong; and known traps of the last code."""
    yield from decoded.reading.notes
    if decoded.inference.note:
        yield decoded.inference.note
    for change in decoded.rereads:
        yield f"{change.code} at place {change.position + 1} may be {change.instead}: {change.reason} [{change.table}]"
    events = [event for event in decoded.events if event.code == decoded.trace.last]
    if events:
        rows = [row for meaning in event_meanings(events[-1], tables, decoded.inference) for row in meaning.rows]
        yield from dict.fromkeys(f"{events[-1].code}: {row.note}" for row in rows if row.note)


def notable_events(decoded: Decoded) -> list[CodeEvent]:
    """The events worth explaining: errors, and the last one that tells something; each code once."""
    errors = {code for boot in decoded.trace.boots for code in boot.errors}
    period = decoded.trace.period
    stops = {decoded.trace.last if period is None else period.codes[-1]}
    wanted = [event for event in decoded.events if event.code in errors | stops]
    chosen = list({event.code: event for event in wanted}.values())
    return chosen[-5:] or list(decoded.events[-1:])


def decoded_data(decoded: Decoded, tables: TableSet) -> dict[str, Any]:
    """A decoded text as plain data."""
    trace, inference = decoded.trace, decoded.inference
    return {
        "form": str(decoded.reading.form),
        "source": decoded.reading.source,
        "order": str(trace.order),
        "order_given": decoded.reading.order_given,
        "notes": list(note_sentences(decoded, tables)),
        "tables": [{"table": name, "probability": round(p, 6)} for name, p in inference.posterior],
        "outcome": str(trace.outcome),
        "confidence": round(trace.confidence, 4),
        "stage": trace.stage,
        "error": trace.error,
        "period": None
        if trace.period is None
        else {"length": trace.period.length, "covered": trace.period.covered, "codes": list(trace.period.codes)},
        "boots": [
            {
                "began": str(boot.began),
                "furthest": boot.furthest,
                "last": boot.last,
                "errors": list(boot.errors),
                "codes": [
                    {"code": e.code, "count": e.count, "at": e.at, "phase": phase, "dwell": dwell}
                    for e, phase, dwell in zip(boot.events, boot.phases, boot.dwell, strict=True)
                ],
            }
            for boot in trace.boots
        ],
        "meanings": {
            event.code: [
                {"table": m.table, "probability": round(m.probability, 6), "meaning": [row.meaning for row in m.rows]}
                for m in event_meanings(event, tables, inference)
            ]
            for event in notable_events(decoded)
        },
        "rereads": [{"position": r.position, "code": r.code, "instead": r.instead, "reason": r.reason} for r in decoded.rereads],
        "answers": dict(decoded.answers),
    }
