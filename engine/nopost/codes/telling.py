"""A decoded text in sentences: what was read, which map it follows, what happened. Every meaning names its table."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from nopost.codes.decode import Decoded, event_meanings
from nopost.codes.event import Event, Form, Order
from nopost.codes.scores import UNKNOWN_MAP
from nopost.codes.tables import TableSet
from nopost.codes.verdict import Outcome

OUTCOMES = {
    Outcome.NEVER_STARTED: "It never began: nothing ran that sends codes",
    Outcome.STALLED: "It stopped and stayed",
    Outcome.STALLED_AFTER_RECOVERY: "It went into firmware recovery and stopped",
    Outcome.RESTART_LOOP: "It starts over and over again",
    Outcome.HANDED_OVER: "It went through to the end and handed over; the last code is no fault",
    Outcome.MEMORY_TRAINING: "It is busy starting the memory; that can take minutes",
    Outcome.RESUMED: "It woke from sleep",
    Outcome.UNCLEAR: "What happened cannot be told from this",
}
WORTH_SAYING = 0.02
MEANINGS = 3


def told_read(decoded: Decoded) -> str:
    """What was read, and in which order."""
    reading = decoded.reading
    count = sum(event.count for event in reading.events)
    order = "oldest first" if decoded.trace.order is Order.OLDEST_FIRST else "newest first"
    how = "" if reading.order_given or len(reading.events) < 2 else ", a guess"
    return f"{reading.source}; {count} {_noun(reading.form, count)}, {order}{how}."


def _noun(form: Form, count: int) -> str:
    word = {Form.HEX: "code", Form.BEEPS: "beep sign", Form.LAMPS: "lamp sign", Form.STATES: "state"}.get(form, "record")
    return word if count == 1 else f"{word}s"


def told_map(decoded: Decoded, tables: TableSet) -> str:
    """Which tables it may follow, with their probabilities."""
    parts = [f"{_map_name(name, tables)} {p:.0%}" for name, p in decoded.inference.posterior if p >= WORTH_SAYING]
    return "; ".join(parts) + "."


def _map_name(name: str, tables: TableSet) -> str:
    return "a map of the board's own" if name == UNKNOWN_MAP else tables.named(name).table.title


def told_outcome(decoded: Decoded) -> str:
    """What happened, how sure that is, and the loop when there is one."""
    trace = decoded.trace
    text = OUTCOMES[trace.outcome]
    if trace.outcome is Outcome.RESTART_LOOP and trace.period:
        times = trace.period.covered // trace.period.length
        text += f": {' '.join(trace.period.codes[:12])}{' …' if trace.period.length > 12 else ''}, {times} times"
    elif trace.outcome in (Outcome.STALLED, Outcome.STALLED_AFTER_RECOVERY) and trace.last:
        text += f" at {trace.last}"
    if trace.stage and trace.stage != "handed-over":
        text += f"; the stage that did not pass: {trace.stage.replace('-', ' ')}"
    return f"{text} (confidence {trace.confidence:.0%})."


def told_code(event: Event, decoded: Decoded, tables: TableSet) -> str:
    """What one code means, tagged with each table that may be the right one."""
    found = event_meanings(event, tables, decoded.inference)
    parts = []
    for meaning in found[:MEANINGS]:
        said = " / ".join(dict.fromkeys(row.meaning for row in meaning.rows))
        parts.append(f"{said} [{meaning.table}, {meaning.probability:.0%}]")
    return "; ".join(parts) or "in none of the tables"


def told_notes(decoded: Decoded, tables: TableSet) -> Iterator[str]:
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


def notable_events(decoded: Decoded) -> list[Event]:
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
        "notes": list(told_notes(decoded, tables)),
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
