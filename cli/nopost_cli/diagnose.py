"""`nopost diagnose`: ask at the terminal, or assess answers that are given."""

from __future__ import annotations

import os
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from nopost_cli.shared.options import json_option, kb_option, knowledge_of, parts_options, person_options, there_of, there_option
from nopost_cli.shared.terminal import is_interactive

if TYPE_CHECKING:
    from nopost.diagnosis.history import Event, History, Parts
    from nopost.diagnosis.replay import GivenAnswers
    from nopost.knowledge.model import Knowledge
    from nopost.store.sessions import Session


@click.command("diagnose", short_help="Find out why a machine does not start.")
@click.option("--answer", "answers", metavar="FINDING=ANSWER", multiple=True, help="An answer (again for more).")
@click.option(
    "--answers", "answers_file", metavar="FILE|CASE", default="", help="Answers from a YAML or JSON file, or from a case."
)
@click.option("--codes", metavar="TEXT|FILE", default="", help="Codes, lamps or beeps that were seen, or a file with them.")
@click.option("--readings", metavar="TEXT", default="", help="Readings of a meter, such as: 12V=11.3 5VSB=5.05.")
@click.option("--again", metavar="FINDING=ANSWER", multiple=True, help="What a second look at an answered finding showed.")
@click.option("--tried", metavar="FIX=OUTCOME", multiple=True, help="A fix that was tried: FIX=same or FIX=changed.")
@click.option("--skipped", metavar="STEP", multiple=True, help="A test or fix that cannot be done (again for more).")
@parts_options
@there_option
@click.option("--name", metavar="NAME", default="", help="Name of the session to keep; default: the day and a number.")
@click.option("--ask", is_flag=True, help="Go on asking after the given answers.")
@person_options
@json_option
@kb_option
def command(
    answers: tuple[str, ...],
    answers_file: str,
    codes: str,
    readings: str,
    again: tuple[str, ...],
    tried: tuple[str, ...],
    skipped: tuple[str, ...],
    name: str,
    ask: bool,
    as_json: bool,
    kb: Path | None,
    currency: str,
    per_minute: float | None,
    have: tuple[str, ...],
    there: tuple[str, ...],
    **parts: str,
) -> None:
    """Find out why a machine does not start.

    At a terminal it asks one question or proposes one action at a time and keeps the session after each answer. With --answer or
    --answers it assesses what is given and prints the causes and the next step.
    """
    from nopost.diagnosis.parts_facts import with_records

    knowledge = knowledge_of(kb)
    given = _given(knowledge, answers, answers_file, again, tried)
    records = {**given.records, **{name: text for name, text in parts.items() if text}}
    records["there"] = {**given.records.get("there", {}), **there_of(knowledge, there)}
    told = _parts(knowledge, records, per_minute, have)
    knowledge = with_records(knowledge, told)
    history = _history(knowledge, told, given, codes, readings, skipped)
    folder = str(kb.resolve()) if kb is not None else ""
    if ask or not (given or codes or readings or as_json or ((told.board or told.cpu) and not is_interactive())):
        _ask(knowledge, history, name, folder, currency)
    else:
        _print(knowledge, history, folder, currency, as_json)


def _given(
    knowledge: Knowledge, answers: tuple[str, ...], file: str, again: tuple[str, ...], tried: tuple[str, ...]
) -> GivenAnswers:
    from nopost.diagnosis.history import check_answer, check_tried
    from nopost.diagnosis.replay import GivenAnswers, read_answers, split_pairs

    given = read_answers(file, knowledge) if file else GivenAnswers()
    for finding, answer in split_pairs(answers, "--answer"):
        check_answer(knowledge, finding, answer)
        given.answers.append((finding, answer))
    for finding, answer in split_pairs(again, "--again"):
        check_answer(knowledge, finding, answer)
        given.again.append((finding, answer))
    for action, outcome in split_pairs(tried, "--tried"):
        check_tried(knowledge, action, outcome)
        if outcome == "starts":
            raise click.UsageError(f"--tried {action}=starts: then there is nothing to find; give fixes that did not help")
        given.tried.append((action, outcome))
    return given


def _parts(knowledge: Knowledge, records: dict[str, Any], per_minute: float | None, have: tuple[str, ...]) -> Parts:
    """The parts as they were told; records in files are named by their whole path, so that they hold from any folder."""
    from nopost.diagnosis.history import Parts
    from nopost_cli.shared.options import person_of

    person = person_of(knowledge, per_minute, have)
    told = Parts.of_records({**records, "memory_type": records.get("memory_type", "").upper()})
    if not told.board and (told.firmware or told.image_for or told.slots or told.memory_type):
        raise click.UsageError("--firmware, --image-for, --slots and --memory-type need a --board to compare with")
    return replace(
        told,
        board=_whole_name(told.board, knowledge.boards),
        cpu=_whole_name(told.cpu, knowledge.cpus),
        at_hand=person.at_hand,
        minute_rate=person.minute_rate,
    )


def _whole_name(name: str, known: Any) -> str:
    """An id as it is; a file by its whole path."""
    return name if name in known or not os.path.isfile(name) else str(Path(name).resolve())


def _history(
    knowledge: Knowledge, parts: Parts, given: GivenAnswers, codes: str, readings: str, skipped: tuple[str, ...]
) -> History:
    """All that was given: answers, codes, readings, fixes tried, steps that cannot be taken."""
    from nopost.diagnosis.history import Event, EventKind, History
    from nopost.errors import UnknownNameError

    events = [Event(EventKind.CODES, text=given.codes)] if given.codes else []
    events += [Event(EventKind.ANSWER, finding, answer) for finding, answer in given.answers]
    events += [Event(EventKind.LOOKED_AGAIN, finding, answer) for finding, answer in given.again]
    events += _codes(knowledge, codes, parts.board) if codes else []
    events += [_readings(knowledge, readings)] if readings else []
    events += [Event(EventKind.TRIED, action, outcome) for action, outcome in given.tried]
    for action in skipped:
        if action not in knowledge.actions:
            raise UnknownNameError("test or fix", action, knowledge.actions)
        events.append(Event(EventKind.SKIPPED, action))
    history = History(parts)
    for event in events:
        history = history.add(event.kind, event.item, event.value, event.text)
    return history


def _codes(knowledge: Knowledge, codes: str, board: str) -> list[Event]:
    """What codes tell: `codes` names a file, or holds them. Binary records, which no text can keep, become plain answers."""
    from nopost.codes.decode import decode, known_answers
    from nopost.codes.tables import TableSet
    from nopost.diagnosis.history import LONGEST_TEXT, Event, EventKind
    from nopost.errors import NopostError
    from nopost_cli.shared.terminal import NO_CODES, read_codes

    given: str | bytes = read_codes(codes) if os.path.isfile(codes) else codes
    table = knowledge.boards[board].code_table if board else ""
    found = decode(given, TableSet(knowledge.codes, knowledge.base.roles), table=table or None)
    answers = known_answers(found, knowledge.findings)
    if not answers:
        raise NopostError(f"--codes: {'they say too little to weigh causes' if found else NO_CODES}")
    text = given if isinstance(given, str) else _text_of(given)
    if not text or len(text) > LONGEST_TEXT:
        return [Event(EventKind.ANSWER, finding, answer) for finding, answer in answers.items()]
    return [Event(EventKind.CODES, table, text=text)]


def _text_of(raw: bytes) -> str:
    """The text of a file of codes; empty for one that is no text."""
    try:
        return raw.decode("utf-8-sig") if b"\0" not in raw else ""
    except UnicodeDecodeError:
        return ""


def _readings(knowledge: Knowledge, text: str) -> Event:
    """Readings of a meter; refused when they answer nothing. Raises ReadingError for what is no reading."""
    from nopost.diagnosis.history import Event, EventKind
    from nopost.diagnosis.replay import reading_answers
    from nopost.errors import ReadingError
    from nopost.meter.parse_readings import parse_text
    from nopost.meter.reading import names_of

    parse_text(text, names_of(knowledge.limits.values()))
    if not reading_answers(knowledge, text):
        raise ReadingError("--readings: they answer no question of this knowledge base; judge them with: nopost rails")
    return Event(EventKind.READINGS, text=text)


def _ask(knowledge: Knowledge, history: History, name: str, folder: str, currency: str) -> None:
    from nopost.diagnosis.diagnose import Diagnostician
    from nopost.errors import SessionError
    from nopost.store.sessions import free_name, new_session, save, save_as_free, session_path
    from nopost_cli.dialogue.start import start_dialogue

    day = date.today().isoformat()

    def keep(now: Session) -> Session:
        return save(now) if name or now.revision else save_as_free(now, day)

    session = replace(new_session(name or free_name(day), knowledge, history), kb=folder, currency=currency)
    if session_path(session.name).exists():
        raise SessionError(f"there is a session {session.name!r} already; go on with: nopost resume {session.name}")
    start_dialogue(Diagnostician(knowledge), session, keep, ask_there=not history.events and not history.parts.there)


def _print(knowledge: Knowledge, history: History, folder: str, currency: str, as_json: bool) -> None:
    from nopost.diagnosis.diagnose import Diagnostician
    from nopost.diagnosis.diagnosis_data import diagnosis_data, inventory_data
    from nopost.diagnosis.firmware_offer import offer_data
    from nopost.diagnosis.inventory import person_here
    from nopost.diagnosis.step_view import step_view
    from nopost_cli.shared.terminal import print_json

    diagnostician = Diagnostician(knowledge)
    diagnosis = diagnostician.diagnose(history)
    view = step_view(diagnostician, history, diagnosis, kb=folder)
    if as_json:
        data = diagnosis_data(knowledge, diagnosis, person_here(knowledge, history.parts, diagnosis.seen.facts))
        seen = {"facts": dict(diagnosis.seen.facts), "there": inventory_data(view.inventory)}
        print_json("assessment", {**seen, **data, "firmware_plan": offer_data(view.offer)})
        return
    from nopost_cli.dialogue.step_screen import diagnosis_screen
    from nopost_cli.shared.terminal import make_console

    diagnosis_screen(make_console(), knowledge, diagnosis, view, currency)
