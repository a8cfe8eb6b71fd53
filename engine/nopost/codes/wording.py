"""Decoded codes in words: sentences, plain data, and the short names of phases, stages and durations.

Every meaning names the table that it comes from.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

from nopost.codes.boot_outcome import BootOutcome
from nopost.codes.code_events import CodeEvent, CodeForm, EventOrder
from nopost.codes.decode import Decoded, event_meanings
from nopost.codes.status_value import decode_status
from nopost.codes.table_inference import LEAST_PROBABILITY, UNKNOWN_MAP
from nopost.codes.tables import TableSet
from nopost.codes.trace import Trace

LONGEST_CODE = 40
"""Characters of a code in a sentence at most."""
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
    """What people call a stage of the finding `stage`, such as "boot device"; an id that is not known stays as it is."""
    return _STAGES.get(stage, stage)


def duration(seconds: float) -> str:
    """A length of time in seconds as words with a unit, from ms to days, rounded to two or three digits: "85 ms", "1 min 5 s"."""
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
    """A number, with commas between thousands, and its noun; `many`: the plural, where it is not `one` with an s."""
    return f"{number:,} {one if number == 1 else many or one + 's'}"


def short_code(code: str) -> str:
    """A code of at most `LONGEST_CODE` characters, the end of a longer one cut off."""
    return code if len(code) <= LONGEST_CODE else code[: LONGEST_CODE - 1] + "…"


class OutcomeWords(NamedTuple):
    """An outcome as a sentence, and as the headline of a drawing; `{at}` and `{stage}`: where it stands, and at which stage."""

    sentence: str
    headline: str


_OUTCOMES = {
    BootOutcome.NEVER_STARTED: OutcomeWords("It never began: nothing ran that sends codes", "The start-up never began"),
    BootOutcome.STALLED: OutcomeWords("It stopped and stayed", "Stopped {at}{stage}"),
    BootOutcome.STALLED_AFTER_RECOVERY: OutcomeWords(
        "It went into firmware recovery and stopped", "Stopped {at} after a recovery of the firmware{stage}"
    ),
    BootOutcome.RESTART_LOOP: OutcomeWords("It starts over and over again", "Restarts over and over{stage}"),
    BootOutcome.HANDED_OVER: OutcomeWords(
        "It went through to the end and handed over; the last code is no fault", "The firmware has done its work and handed over"
    ),
    BootOutcome.MEMORY_TRAINING: OutcomeWords(
        "It is busy starting the memory; that can take minutes", "Memory is still being started, {at}"
    ),
    BootOutcome.RESUMED: OutcomeWords("It woke from sleep", "Woke from sleep and handed over"),
    BootOutcome.UNCLEAR: OutcomeWords("What happened cannot be told from this", "What happened is not clear"),
}


class SignNouns(NamedTuple):
    """What one sign of a form is called where it is read, and in a drawing."""

    read: str
    drawn: str


_NOUNS = {
    CodeForm.HEX: SignNouns("code", "code"),
    CodeForm.BEEPS: SignNouns("beep sign", "beep signal"),
    CodeForm.LAMPS: SignNouns("lamp sign", "lamp sign"),
    CodeForm.STATES: SignNouns("state", "state"),
    CodeForm.FIRMWARE_EVENTS: SignNouns("record", "event"),
}
MOST_MEANINGS = 3
"""Tables whose meaning of a code is said at most."""


def drawn_signs(number: int, form: CodeForm) -> str:
    """How many signs a drawing stands for, with their noun: "1,204 codes"."""
    return counted(number, _NOUNS[form].drawn)


def place_words(form: CodeForm, code: str) -> str:
    """Where a start-up stands, in words that fit the form: "at 53", "with the beeps “1-3-1”"."""
    code = short_code(code)
    return {CodeForm.BEEPS: f"with the beeps “{code}”", CodeForm.LAMPS: f"with the lamps “{code}”"}.get(form, f"at {code}")


def outcome_headline(trace: Trace, form: CodeForm) -> str:
    """What happened, in a few words for the head of a drawing."""
    stage = f": {stage_name(trace.stage)}" if trace.stage not in ("", "handed-over", "no-code") else ""
    return _OUTCOMES[trace.outcome].headline.replace("{stage}", stage).replace("{at}", place_words(form, trace.last))


def reading_sentence(decoded: Decoded) -> str:
    """What was read, and in which order."""
    reading = decoded.reading
    count, noun = sum(event.count for event in reading.events), _NOUNS[reading.form].read
    order = "oldest first" if decoded.trace.order is EventOrder.OLDEST_FIRST else "newest first"
    how = "" if reading.order_given or len(reading.events) < 2 else ", a guess"
    return f"{reading.source}; {count} {noun if count == 1 else noun + 's'}, {order}{how}."


def tables_sentence(decoded: Decoded, tables: TableSet) -> str:
    """Which tables it may follow, with their probabilities."""
    parts = [f"{_table_name(name, tables)} {p:.0%}" for name, p in decoded.inference.posterior if p >= LEAST_PROBABILITY]
    return "; ".join(parts) + "."


def _table_name(name: str, tables: TableSet) -> str:
    return "a map of the board's own" if name == UNKNOWN_MAP else tables.named(name).table.title


def outcome_sentence(decoded: Decoded) -> str:
    """What happened, how sure that is, and the loop when there is one."""
    trace = decoded.trace
    text = _OUTCOMES[trace.outcome].sentence
    if trace.outcome is BootOutcome.RESTART_LOOP and trace.period:
        times = trace.period.covered // trace.period.length
        text += f": {' '.join(trace.period.codes[:12])}{' …' if trace.period.length > 12 else ''}, {times} times"
    elif trace.outcome in (BootOutcome.STALLED, BootOutcome.STALLED_AFTER_RECOVERY) and trace.last:
        text += f" at {trace.last}"
    if trace.stage and trace.stage != "handed-over":
        text += f"; the stage that did not pass: {trace.stage.replace('-', ' ')}"
    return f"{text} (confidence {trace.confidence:.0%})."


def code_sentence(event: CodeEvent, decoded: Decoded, tables: TableSet) -> str:
    """What the code of an event means, tagged with each table that may be the right one and its probability."""
    found = event_meanings(event, tables, decoded.inference)
    parts = []
    for meaning in found[:MOST_MEANINGS]:
        said = " / ".join(dict.fromkeys(row.meaning for row in meaning.rows))
        parts.append(f"{said} [{meaning.table}, {meaning.probability:.0%}]")
    return "; ".join(parts) or _unlisted(event)


def _unlisted(event: CodeEvent) -> str:
    """What can be said of a code that no table has: of a 32-bit status value, its parts."""
    words = "in none of the tables"
    return f"{words}; a status value: {decode_status(int(event.status, 16)).words}" if event.status else words


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
    """A decoded text as plain data for the JSON: numbers, texts, lists and dicts only."""
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
