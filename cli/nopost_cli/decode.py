"""`nopost decode`: codes, lamps, beeps or logs in; meaning, stop, causes and first steps out."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from nopost.errors import NopostError
from nopost_cli.shared.options import NamedPath, json_option, kb_option, knowledge_of
from nopost_cli.shared.prompts import Choice, understand
from nopost_cli.shared.terminal import NO_CODES, STDIN, is_interactive, print_json, read_codes

if TYPE_CHECKING:
    from nopost.codes.decode import Decoded
    from nopost.codes.tables import TableSet
    from nopost.diagnosis.history import History
    from nopost.knowledge.model import Knowledge

CLEAR = 0.8
"""From this probability on the table is not asked for (judgement)."""


@click.command("decode", short_help="Read POST codes, lamps, beeps or logs.")
@click.argument("file", required=False)
@click.option("--table", metavar="ID", help="The code table, when it is known; see: nopost codes list.")
@click.option("--board", metavar="NAME|FILE", default="", help="Take the code table from this board record.")
@click.option("--oldest-first", "order", flag_value="oldest-first", help="The codes are in order of time.")
@click.option("--newest-first", "order", flag_value="newest-first", help="The newest code comes first.")
@click.option(
    "--format", "form", type=click.Choice(["text", "html", "svg"]), default="text", show_default=True, help="Form of the result."
)
@click.option("--batch", metavar="PATH", help="Decode a folder of logs, or a JSONL file with one log a line.")
@click.option("--out", metavar="FILE", type=NamedPath(path_type=Path), help="Where --batch writes: .jsonl, .csv or .parquet.")
@click.option("--force", is_flag=True, help="Write over a file that is there.")
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
    force: bool,
    as_json: bool,
    kb: Path | None,
) -> None:
    """Say what a sequence of codes means, where the start-up stopped, and what to do.

    FILE is a text or log; without it the codes are read from standard input, or pasted at the terminal and ended with Ctrl-D.
    Digits of a display, stage lamps and beeps in words, console captures, management logs and event records are understood.
    """
    from nopost.codes.code_events import EventOrder
    from nopost.codes.decode import decode
    from nopost.codes.tables import TableSet
    from nopost.diagnosis.history import History, Parts
    from nopost.firmware.records import find_board

    if batch is not None or out is not None:
        _batch(batch, out, workers, kb, force, as_json)
        return
    knowledge = knowledge_of(kb)
    tables = TableSet(knowledge.codes, knowledge.base.roles)
    named = table or (find_board(board, knowledge).code_table if board else None) or None
    text, ordered = _text(file), EventOrder(order) if order else None
    found = decode(text, tables, table=named, order=ordered)
    if not found:
        raise NopostError(NO_CODES)
    if named is None and not as_json and form == "text" and is_interactive() and (chosen := _ask_table(tables, found[0])):
        found = decode(text, tables, table=chosen, order=ordered)
    _show(knowledge, tables, found, form, as_json, History(Parts(board=board)), str(kb or ""))


def _ask_table(tables: TableSet, decoded: Decoded) -> str | None:
    """The table that the person knows the board to follow; asked only when the codes leave it open."""
    from nopost.codes.code_events import CodeForm

    inference = decoded.inference
    if decoded.reading.form is not CodeForm.HEX or inference.probability >= CLEAR:
        return None
    choices = [Choice(table.id, table.table.title) for table in tables.of_form(CodeForm.HEX) if not table.generic]
    click.echo("Which table does this board follow? Its manual may say.")
    for number, choice in enumerate(choices, 1):
        click.echo(f"{number:4} {choice.text}")
    typed = click.prompt("A number, or Enter when you do not know", default="", show_default=False)
    return understand(typed, choices, {}).choice or None if typed.strip() else None


def _batch(path: str | None, out: Path | None, workers: int | None, kb: Path | None, force: bool, as_json: bool) -> None:
    if path is None or out is None:
        raise click.UsageError("--batch PATH and --out FILE go together")
    if not path:
        raise click.BadParameter("the name is empty: name a folder or a file, or - for standard input", param_hint="--batch")
    from nopost_cli.batch import run_batch

    run_batch(path, out, kb, workers, force=force, as_json=as_json)


def _text(file: str | None) -> bytes:
    """The bytes of the file, or of standard input."""
    if file == "":
        raise click.BadParameter("the name is empty: name a file, or leave it out and pipe the codes in", param_hint="FILE")
    if file is not None and file != STDIN:
        return read_codes(file)
    if sys.stdin is None or sys.stdin.closed:
        raise click.UsageError("there is nothing to read: name a file, or pipe the codes in")
    if sys.stdin.isatty():
        click.echo("Paste the codes; end with Enter and Ctrl-D.", err=True)
    return read_codes(STDIN)


def _show(
    knowledge: Knowledge, tables: TableSet, found: list[Decoded], form: str, as_json: bool, history: History, kb: str
) -> None:
    """What the codes say, and what follows from them and from nothing else; `history` holds the parts, to go on from here."""
    from nopost.codes.decode import known_answers
    from nopost.diagnosis.diagnose import Diagnostician
    from nopost.diagnosis.history import Event, EventKind, History

    for finding, answer in known_answers(found, knowledge.findings).items():
        history = history.with_event(Event(EventKind.ANSWER, finding, answer))
    diagnostician = Diagnostician(knowledge)
    diagnosis = diagnostician.diagnose(History(events=history.events))
    if as_json:
        from nopost.codes.wording import decoded_data
        from nopost.diagnosis.diagnosis_data import diagnosis_data
        from nopost.diagnosis.inventory import person_here

        data = [decoded_data(decoded, tables) for decoded in found]
        weighed = diagnosis_data(knowledge, diagnosis, person_here(knowledge, history.parts, diagnosis.seen.facts))
        print_json("decode", {"decoded": data, "assessment": weighed})
        return
    from nopost_cli.dialogue.end_screens import again_command
    from nopost_cli.shared import decode_screen

    if form == "text":
        decode_screen.show_decoded(diagnostician, tables, found, diagnosis, again_command(history, kb))
    else:
        click.echo(decode_screen.drawn(diagnostician, tables, found, diagnosis, form), nl=False)
