"""`nopost diagnose`: ask at the terminal, or assess answers that are given."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import click

from nopost.diagnosis.diagnose import Diagnostician
from nopost.diagnosis.given_answers import GivenAnswers, read_answers, split_pairs
from nopost.diagnosis.history import EventKind, Session, check_answer, check_tried, new_session, observations
from nopost.errors import NopostError, SessionError, UnknownNameError
from nopost.firmware.record_facts import record_facts
from nopost.firmware.records import find_board, records_of
from nopost.knowledge.model import Knowledge
from nopost.knowledge.reference_records import Board
from nopost.store.sessions import free_name, save, save_as_free, session_path
from nopost_cli.shared.options import json_option, kb_option, knowledge_of, person_of, person_options
from nopost_cli.shared.terminal import is_interactive


def record_options(command: Any) -> Any:
    """What the person knows of the parts."""
    for option in (
        click.option("--memory-type", metavar="TYPE", default="", help="Type on the modules' label, such as DDR4."),
        click.option("--slots", metavar="A,B", default="", help="Memory slots in use, as printed on the board."),
        click.option(
            "--image-for", metavar="VARIANT", default="", help="Board variant that a written firmware file was made for."
        ),
        click.option("--firmware", metavar="VERSION", default="", help="Firmware release on the board."),
        click.option("--cpu", metavar="NAME|FILE", default="", help="CPU record: one of the knowledge base, or a file."),
        click.option("--board", metavar="NAME|FILE", default="", help="Board record: one of the knowledge base, or a file."),
    ):
        command = option(command)
    return command


@click.command("diagnose", short_help="Find out why a machine does not start.")
@click.option("--answer", "answers", metavar="FINDING=ANSWER", multiple=True, help="An answer (again for more).")
@click.option(
    "--answers", "answers_file", metavar="FILE|CASE", default="", help="Answers from a YAML or JSON file, or from a case."
)
@click.option("--codes", metavar="TEXT|FILE", default="", help="Codes, lamps or beeps that were seen, or a file with them.")
@click.option("--tried", metavar="FIX=OUTCOME", multiple=True, help="A fix that was tried: FIX=same or FIX=changed.")
@click.option("--skipped", metavar="STEP", multiple=True, help="A test or fix that cannot be done (again for more).")
@record_options
@click.option("--name", metavar="NAME", default="", help="Name of the session to keep; default: the day and a number.")
@click.option("--ask", is_flag=True, help="Go on asking after the given answers.")
@person_options
@json_option
@kb_option
def command(
    answers: tuple[str, ...],
    answers_file: str,
    codes: str,
    tried: tuple[str, ...],
    skipped: tuple[str, ...],
    name: str,
    ask: bool,
    as_json: bool,
    kb: Path | None,
    currency: str,
    per_minute: float | None,
    have: tuple[str, ...],
    **parts: str,
) -> None:
    """Find out why a machine does not start.

    At a terminal it asks one question or proposes one action at a time and keeps the session after each answer. With --answer or
    --answers it assesses what is given and prints the causes and the next step.
    """
    knowledge = knowledge_of(kb)
    given = _given(knowledge, answers, answers_file, tried)
    given.answers += _seen(knowledge, codes, parts["board"])
    session = replace(new_session(name or "given", knowledge), person=person_of(knowledge, per_minute, have), currency=currency)
    session = _with_records(session, knowledge, {**given.records, **{k: v for k, v in parts.items() if v}})
    if kb is not None:
        session = replace(session, records={**session.records, "kb": str(kb.resolve())})
    session = _with_given(session, given)
    session = _with_skipped(session, knowledge, skipped)
    if ask or not (given or as_json or (session.facts and not is_interactive())):
        _ask(knowledge, session, name)
    else:
        _print(knowledge, session, as_json)


def _given(knowledge: Knowledge, answers: tuple[str, ...], file: str, tried: tuple[str, ...]) -> GivenAnswers:
    given = read_answers(file, knowledge) if file else GivenAnswers()
    for finding, answer in split_pairs(answers, "--answer"):
        check_answer(knowledge, finding, answer)
        given.answers.append((finding, answer))
    for action, outcome in split_pairs(tried, "--tried"):
        check_tried(knowledge, action, outcome)
        if outcome == "starts":
            raise click.UsageError(f"--tried {action}=starts: then there is nothing to find; give fixes that did not help")
        given.tried.append((action, outcome))
    return given


def _seen(knowledge: Knowledge, codes: str, board: str) -> list[tuple[str, str]]:
    """The answers that codes give: --codes names a file, or holds them."""
    if not codes:
        return []
    from nopost.codes.decode import decode, known_answers
    from nopost.codes.tables import TableSet
    from nopost_cli.decode import NOTHING, read_bytes

    is_file = len(codes) < 1000 and Path(codes).is_file()
    table = (find_board(board, knowledge).code_table or None) if board else None
    found = decode(read_bytes(codes) if is_file else codes, TableSet(knowledge.codes, knowledge.base.roles), table=table)
    answers = known_answers(found, knowledge.findings)
    if not answers:
        raise NopostError(f"--codes: {'they say too little to weigh causes' if found else NOTHING}")
    return list(answers.items())


def _with_records(session: Session, knowledge: Knowledge, parts: dict[str, Any]) -> Session:
    """The session with what board and CPU records settle."""
    slots = parts.get("slots", ())
    if isinstance(slots, str):
        slots = [slot.strip() for slot in slots.split(",") if slot.strip()]
    records = records_of({**parts, "slots": slots, "memory_type": parts.get("memory_type", "").upper()}, knowledge)
    if records.board is None and (records.firmware or records.image_for or records.slots or records.memory_type):
        raise click.UsageError("--firmware, --image-for, --slots and --memory-type need a --board to compare with")
    cpu = records.cpu
    machine = {
        "board": _board_name(records.board) if records.board else "",
        "cpu": f"{cpu.title}, {cpu.cores} cores, {cpu.threads} threads" if cpu else "",
        "firmware": records.firmware,
        "slots": ", ".join(records.slots),
    }
    named = {
        "board": _named(parts.get("board", ""), knowledge.boards),
        "firmware": records.firmware,
        "cpu": _named(parts.get("cpu", ""), knowledge.cpus),
        "slots": ",".join(records.slots),
        "memory_type": records.memory_type,
        "image_for": records.image_for,
    }
    return replace(
        session,
        facts=record_facts(records),
        machine={k: v for k, v in machine.items() if v},
        records={k: v for k, v in named.items() if v},
    )


def _named(name: str, known: Collection[str]) -> str:
    """A record's name as it holds from any folder: a file by its whole path."""
    return name if not name or name in known else str(Path(name).resolve())


def _board_name(board: Board) -> str:
    """The variant with the revision, which may stand in it already."""
    return board.variant if board.revision in board.variant else f"{board.variant} rev {board.revision}"


def _with_given(session: Session, given: GivenAnswers) -> Session:
    for finding, answer in given.answers:
        session = session.add(EventKind.ANSWER, finding, answer)
    for action, outcome in given.tried:
        session = session.add(EventKind.TRIED, action, outcome)
    return session


def _with_skipped(session: Session, knowledge: Knowledge, skipped: tuple[str, ...]) -> Session:
    for action in skipped:
        if action not in knowledge.actions:
            raise UnknownNameError("test or fix", action, knowledge.actions)
        session = session.add(EventKind.SKIPPED, action, "")
    return session


def _ask(knowledge: Knowledge, session: Session, name: str) -> None:
    from nopost_cli.dialogue.start import start_dialogue

    day = date.today().isoformat()

    def keep(now: Session) -> Session:
        return save(now) if name or now.revision else save_as_free(now, day)

    session = replace(session, name=name or free_name(day))
    if session_path(session.name).exists():
        raise SessionError(f"there is a session {session.name!r} already; go on with: nopost resume {session.name}")
    start_dialogue(Diagnostician(knowledge), session, keep)


def _print(knowledge: Knowledge, session: Session, as_json: bool) -> None:
    from nopost.diagnosis.firmware_offer import offer_data, plan_offer
    from nopost.diagnosis.step_view import assessment_data
    from nopost_cli.shared.input_output import print_json

    assessor = Diagnostician(knowledge)
    assessment = assessor.assess(observations(session, knowledge), session.person)
    if as_json:
        data = assessment_data(knowledge, assessment, session.person)
        plan = offer_data(plan_offer(knowledge, session, assessment))
        print_json("assessment", {"facts": dict(session.facts), **data, "firmware_plan": plan})
        return
    from nopost_cli.dialogue.session_screens import show_assessment

    show_assessment(assessor, session, assessment)
