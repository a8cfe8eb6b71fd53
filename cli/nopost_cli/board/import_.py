"""`nopost board import`: a list of releases turned into a board record."""

from __future__ import annotations

import shlex
import sys
from pathlib import Path
from typing import Any

import click

from nopost.errors import OutputError
from nopost.files import open_plain
from nopost.firmware.notes.assemble import base_record
from nopost.firmware.notes.entry import Entry, ReleaseList
from nopost.firmware.notes.families import known_families_of
from nopost.firmware.notes.reading import MOST_BYTES
from nopost.firmware.notes.record import firmware_part, guess_comments, list_data, merged
from nopost.firmware.notes.releases import read_list
from nopost.knowledge.model import Knowledge
from nopost_cli.board.confirm import confirmed, guesses_of
from nopost_cli.board.draft import Draft, kept_drafts, list_draft
from nopost_cli.board.writing import checked_text, may_write, write
from nopost_cli.envelope import print_json
from nopost_cli.guided import confirm, tell
from nopost_cli.options import json_option, kb_option, knowledge_of
from nopost_cli.terminal import clean, is_interactive


@click.command("import", short_help="Turn a list of releases into a board record.")
@click.argument("table", metavar="TABLE")
@click.option("--id", "name", metavar="NAME", default="", help="Id of the record; default: that of the base record.")
@click.option("--out", metavar="FILE", type=click.Path(path_type=Path), help="Write it here; default: standard output.")
@click.option("--board", "base", metavar="NAME|FILE", default="", help="Record that gets these releases.")
@click.option("--yes", is_flag=True, help="Ask nothing: guesses are marked in the file.")
@json_option
@kb_option
def command(table: str, name: str, out: Path | None, base: str, yes: bool, as_json: bool, kb: Path | None) -> None:
    """Turn a list of releases with notes into the firmware part of a board record, or with --board into a whole record.

    TABLE is a file, or - for text that is pasted: comma, tab or semicolon separated, a table with bars, or blocks of a
    version, a date and notes. What is found in the words of the notes is a guess: it is shown with these words and asked about.
    With --yes, or without a terminal, each guess is marked in the file by a comment. Ctrl-C keeps what was answered; the next
    start with the same list goes on there.
    """
    asks = is_interactive() and not (yes or as_json)
    knowledge = knowledge_of(kb)
    record = base_record(base, knowledge, kb) if base else {}
    _check_id(name)
    if out is not None:
        may_write(out)
    families = known_families_of(knowledge.cpus.values(), knowledge.boards.values())
    listed = read_list(read_bytes(table), "standard input" if table == "-" else table, families, record)
    say_reading(listed)
    guesses = guesses_of(listed)
    drafts = (list_draft(guesses), list_draft(guesses, "record")) if asks else ()
    with kept_drafts(drafts, "nopost board import with the same list goes on from there."):
        if drafts:
            listed = confirmed(listed, families, drafts[0])
        part = firmware_part(listed)
        data = merged(record, part, name) if record else {**({"id": name} if name else {}), "firmware": part}
        if drafts and not record and _rest_now(drafts[1]):
            data = _whole(knowledge, part, name, drafts[1])
    _finish(listed, data, out, as_json)
    for draft in drafts:
        draft.drop()


def _rest_now(draft: Draft) -> bool:
    if draft.answers():
        if confirm("\nThe rest of the record was begun before. Go on with it?"):
            return True
        draft.drop()
    return confirm("\nFill in the rest of the record now?", default=False)


def _whole(knowledge: Knowledge, part: dict[str, Any], name: str, draft: Draft) -> dict[str, Any]:
    from nopost_cli.board.questions import ask_record

    tell("Ctrl-C leaves; what was answered is kept.")
    return ask_record(knowledge, {**draft.answers(), **({"id": name} if name else {})}, part, draft)


def _finish(listed: ReleaseList, data: dict[str, Any], out: Path | None, as_json: bool) -> None:
    comments = guess_comments(listed, data["firmware"])
    text = checked_text(data, comments, f"{out or 'the record'} (not written)", "variant" in data)
    if out is not None:
        write(out, text)
    marked = sum(each.startswith("guess") for said in comments.values() for each in said)
    if as_json:
        print_json("release-list", {**list_data(listed), "record": data, "written": str(out) if out else None})
    elif out is None:
        click.echo(clean(text), nl=False)
    if marked:
        tell(f"{marked} guess{'es' if marked > 1 else ''} from prose marked with '# guess:': check each and delete the mark.")
    if not data["firmware"].get("first_families"):
        tell("The list does not say which CPU families the oldest release knows: add first_families under firmware.")
    if out is not None:
        tell(f"Written: {out}" + (f"\nLook at it: nopost board show {shlex.quote(str(out))}" if "variant" in data else ""))


def say_reading(listed: ReleaseList) -> None:
    """How the list was read, and what is doubtful."""
    count = len(_read(listed))
    tell(f"{count} release{'s' if count > 1 else ''} read ({listed.form}, {listed.encoding}), oldest first: {_ends(listed)}.")
    for remark in listed.remarks:
        tell(f"  {f'line {remark.line}: ' if remark.line else ''}{remark.text}")


def _read(listed: ReleaseList) -> list[Entry]:
    """The releases of the list alone, without those of the base record."""
    return [entry for entry in listed.releases if entry.line]


def _ends(listed: ReleaseList) -> str:
    first, last = _read(listed)[0], _read(listed)[-1]
    return f"{first.version} ({first.date})" + (f" to {last.version} ({last.date})" if last is not first else "")


def _check_id(name: str) -> None:
    from nopost.firmware.notes.families import family_id

    if name and name != family_id(name):
        raise click.BadParameter(f"small letters, digits and hyphens, such as {family_id(name) or 'my-board'}", param_hint="--id")


def read_bytes(table: str) -> bytes:
    """The list's bytes, no more than one too many. Raises OSError."""
    if table == "-":
        if is_interactive():
            tell("Paste the list, then press Ctrl-D on a line of its own.")
        return sys.stdin.buffer.read(MOST_BYTES + 1) if sys.stdin is not None else b""
    if Path(table).is_dir():
        raise OutputError(f"{table}: this is a folder; name the file with the list")
    with open_plain(table) as stream:
        return stream.read(MOST_BYTES + 1)
