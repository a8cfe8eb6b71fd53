"""`nopost board import`: a list of releases turned into a board record."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from nopost_cli.shared.options import json_option, kb_option, knowledge_of
from nopost_cli.shared.prompts import confirm, tell
from nopost_cli.shared.terminal import clean, is_interactive

if TYPE_CHECKING:
    from nopost.firmware.release_list.cell_values import ReleaseList
    from nopost.knowledge.model import Knowledge
    from nopost_cli.shared.drafts import Draft


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
    from nopost.files import data_dir
    from nopost.firmware.records import board_source
    from nopost.firmware.release_list.board_record import firmware_part, merged
    from nopost.firmware.release_list.prose import known_families_of
    from nopost_cli.board.firmware_questions import confirmed, guesses_of, read_release_list
    from nopost_cli.shared.drafts import kept_drafts, list_draft, may_write

    asks = is_interactive() and not (yes or as_json)
    knowledge = knowledge_of(kb)
    record = board_source(base, knowledge, (kb or data_dir("kb")) / "boards") if base else {}
    _check_id(name)
    if out is not None:
        may_write(out)
    families = known_families_of(knowledge.cpus.values(), knowledge.boards.values())
    listed = read_release_list(table, families, record)
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
    from nopost_cli.board.new import ask_record

    tell("Ctrl-C leaves; what was answered is kept.")
    return ask_record(knowledge, {**draft.answers(), **({"id": name} if name else {})}, part, draft)


def _finish(listed: ReleaseList, data: dict[str, Any], out: Path | None, as_json: bool) -> None:
    from nopost.firmware.release_list.board_record import guess_comments, list_data
    from nopost_cli.shared.drafts import checked_text, write_record
    from nopost_cli.shared.terminal import print_json

    comments = guess_comments(listed, data["firmware"])
    text = checked_text(data, comments, f"{out or 'the record'} (not written)", "variant" in data)
    if out is not None:
        write_record(out, text)
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


def _check_id(name: str) -> None:
    from nopost.firmware.release_list.prose import family_id

    if name and name != family_id(name):
        raise click.BadParameter(f"small letters, digits and hyphens, such as {family_id(name) or 'my-board'}", param_hint="--id")
