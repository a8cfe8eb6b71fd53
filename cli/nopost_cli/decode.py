"""`nopost decode`: codes, lamps, beeps or logs in; meaning, stop, causes and first steps out."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from nopost.advice.assess import Assessor
from nopost.cases.session import EventKind, Session, new_session, observations
from nopost.codes.decode import Decoded, decode, joined_answers
from nopost.codes.event import Order
from nopost.codes.tables import TableSet
from nopost.errors import NopostError
from nopost.firmware.records import find_board
from nopost.knowledge.model import Knowledge
from nopost_cli.envelope import print_json
from nopost_cli.options import json_option, kb_option, knowledge_of

MAX_BYTES = 64 * 1024 * 1024
NOTHING = "no codes were found; write digits such as 53 or 0x53, lamps such as 'memory lamp on', or beeps such as '1-3-1'"


@click.command("decode", short_help="Read POST codes, lamps, beeps or logs.")
@click.argument("file", required=False)
@click.option("--table", metavar="ID", help="The code table, when it is known; see: nopost codes list.")
@click.option("--board", metavar="NAME|FILE", default="", help="Take the code table from this board record.")
@click.option("--oldest-first", "order", flag_value=Order.OLDEST_FIRST.value, help="The codes are in order of time.")
@click.option("--newest-first", "order", flag_value=Order.NEWEST_FIRST.value, help="The newest code comes first.")
@click.option(
    "--format", "form", type=click.Choice(["text", "html", "svg"]), default="text", show_default=True, help="Form of the result."
)
@click.option("--batch", metavar="PATH", help="Decode a folder of logs, or a JSONL file with one log a line.")
@click.option("--out", metavar="FILE", type=click.Path(path_type=Path), help="Where --batch writes: .jsonl, .csv or .parquet.")
@click.option("--workers", type=click.IntRange(1, 64), help="How many processes --batch uses; default: all cores.")
@json_option
@kb_option
def command(
    file: str | None,
    table: str | None,
    board: str,
    order: str | None,
    form: str,
    batch: str | None,
    out: Path | None,
    workers: int | None,
    as_json: bool,
    kb: Path | None,
) -> None:
    """Say what a sequence of codes means, where the start-up stopped, and what to do.

    FILE is a text or log; without it the codes are read from standard input, or pasted at the terminal and ended with Ctrl-D.
    Digits of a display, stage lamps and beeps in words, console captures, management logs and event records are understood.
    """
    if batch is not None or out is not None:
        _batch(batch, out, workers, kb, as_json)
        return
    knowledge = knowledge_of(kb)
    tables = TableSet(knowledge.codes)
    named = table or (find_board(board, knowledge).code_table if board else None) or None
    found = decode(_text(file), tables, table=named, order=Order(order) if order else None)
    if not found:
        raise NopostError(NOTHING)
    _show(knowledge, tables, found, form, as_json)


def _batch(path: str | None, out: Path | None, workers: int | None, kb: Path | None, as_json: bool) -> None:
    if path is None or out is None:
        raise click.UsageError("--batch PATH and --out FILE go together")
    from nopost_cli.batch import run_batch

    run_batch(path, out, kb, workers, as_json=as_json)


def _text(file: str | None) -> bytes:
    """The bytes of the file, or of standard input."""
    if file is not None and file != "-":
        return read_bytes(file)
    if sys.stdin is None or sys.stdin.closed:
        raise click.UsageError("there is nothing to read: name a file, or pipe the codes in")
    if sys.stdin.isatty():
        click.echo("Paste the codes; end with Enter and Ctrl-D.", err=True)
    return sys.stdin.buffer.read(MAX_BYTES)


def read_bytes(file: str) -> bytes:
    """A file's bytes, up to the limit. Raises NopostError."""
    try:
        with Path(file).open("rb") as stream:
            return stream.read(MAX_BYTES)
    except OSError as error:
        raise NopostError(f"{file}: cannot be read: {error.strerror}") from None


def _show(knowledge: Knowledge, tables: TableSet, found: list[Decoded], form: str, as_json: bool) -> None:
    session = session_of(knowledge, found)
    assessor = Assessor(knowledge)
    assessment = assessor.assess(observations(session, knowledge))
    if as_json:
        from nopost.cases.summary import assessment_data
        from nopost.codes.telling import decoded_data

        data = [decoded_data(decoded, tables) for decoded in found]
        print_json("decode", {"decoded": data, "assessment": assessment_data(knowledge, assessment, session.person)})
        return
    from nopost_cli import decode_screen

    if form == "text":
        decode_screen.show(assessor, tables, found, assessment)
    else:
        click.echo(decode_screen.drawn(assessor, tables, found, assessment, form), nl=False)


def session_of(knowledge: Knowledge, found: list[Decoded]) -> Session:
    """A session, not kept, that knows what the codes say and nothing else."""
    session = new_session("decoded", knowledge)
    for finding, answer in joined_answers(found).items():
        if finding in knowledge.findings and answer in knowledge.findings[finding].answer_ids:
            session = session.add(EventKind.ANSWER, finding, answer)
    return session
