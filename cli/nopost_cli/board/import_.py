"""`nopost board import`: a list of releases turned into a board record.

The questions of a whole record stand here too, each with the place where its answer is found; `nopost board new` asks
them all, and a list of releases can be one of the answers. What was answered is kept at once.
"""

from __future__ import annotations

import shlex
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from nopost.errors import KnowledgeError, NopostError, OutputError
from nopost.files import open_plain
from nopost.firmware.records import board_source
from nopost.firmware.release_list.board_record import (
    INDICATORS,
    assembled,
    firmware_part,
    guess_comments,
    list_data,
    merged,
    suggested_id,
)
from nopost.firmware.release_list.list_reader import MOST_BYTES, read_list
from nopost.firmware.release_list.prose import family_id, known_families_of
from nopost.firmware.release_list.release_entry import ReleaseEntry, ReleaseList
from nopost.knowledge.model import Knowledge
from nopost.paths import data_dir
from nopost_cli.board.firmware_questions import ask_recovery, ask_releases, confirmed, family_check, guesses_of
from nopost_cli.shared.drafts import Draft, checked_text, kept_drafts, list_draft, may_write, write_record
from nopost_cli.shared.input_output import print_json
from nopost_cli.shared.options import json_option, kb_option, knowledge_of
from nopost_cli.shared.prompts import ask_where, choose, confirm, confirm_where, tell
from nopost_cli.shared.terminal import clean, is_interactive


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
    record = board_source(base, knowledge, (kb or data_dir("kb")) / "boards") if base else {}
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

    tell("Ctrl-C leaves; what was answered is kept.")
    return ask_record(knowledge, {**draft.answers(), **({"id": name} if name else {})}, part, draft)


def _finish(listed: ReleaseList, data: dict[str, Any], out: Path | None, as_json: bool) -> None:
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


def say_reading(listed: ReleaseList) -> None:
    """How the list was read, and what is doubtful."""
    count = len(_read(listed))
    tell(f"{count} release{'s' if count > 1 else ''} read ({listed.form}, {listed.encoding}), oldest first: {_ends(listed)}.")
    for remark in listed.remarks:
        tell(f"  {f'line {remark.line}: ' if remark.line else ''}{remark.text}")


def _read(listed: ReleaseList) -> list[ReleaseEntry]:
    """The releases of the list alone, without those of the base record."""
    return [entry for entry in listed.releases if entry.line]


def _ends(listed: ReleaseList) -> str:
    first, last = _read(listed)[0], _read(listed)[-1]
    return f"{first.version} ({first.date})" + (f" to {last.version} ({last.date})" if last is not first else "")


def _check_id(name: str) -> None:
    from nopost.firmware.release_list.prose import family_id

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


Answers = dict[str, Any]
Keep = Callable[[Answers], None]
BEGUN = "releases_begun"
"""Releases typed so far, in a draft."""
_LAMPS = {
    "stage_lamps": "Stage lamps? (four small ones for CPU, memory, graphics and boot device, near the memory slots or the edge)",
    "code_display": "A two-digit display? (on the board, mostly near the upper right corner)",
    "speaker": "A speaker on the board, or supplied with it?",
    "standby_lamp": "Standby lamp? (lit while the machine is plugged in and off)",
}


def ask_record(
    knowledge: Knowledge, given: Answers, part: dict[str, Any] | None = None, draft: Draft | None = None
) -> dict[str, Any]:
    """A whole record; `given` answers are not asked again. Ctrl-C raises click.Abort, the draft keeps what was answered."""
    answers = dict(given)
    if part is not None:
        answers |= {"releases": part["releases"], **{k: part[k] for k in ("first_families",) if part.get(k)}}

    def keep(found: Answers) -> None:
        if draft is not None:
            draft.keep(found)

    for name, question in _steps(knowledge, keep).items():
        if name not in answers:
            answers[name] = question(answers)
            keep(answers)
    return assembled(answers)


def _steps(knowledge: Knowledge, keep: Keep) -> dict[str, Callable[[Answers], Any]]:
    return {
        "variant": lambda a: ask_where(
            "Exact variant with every suffix (printed on the board, large, between the slots)", check=_short(60)
        ),
        "revision": lambda a: ask_where("Revision (small print near the variant, such as REV 1.1; Enter: none)", check=_upto(20)),
        "id": lambda a: ask_where("Id of the record (names its file)", suggested_id(f"{a['variant']}"), _id),
        "title": lambda a: ask_where("Title", _title(a), _between(3, 100)),
        "identifiers": lambda a: _names(
            "Other names of the same board (box, label, firmware screen; parted by commas; Enter: none)"
        ),
        "look_alikes": lambda a: _names(
            "Variants easily mistaken for it (other suffix or revision; parted by commas; Enter: none)"
        ),
        "socket": lambda a: ask_where(f"CPU socket (manual, or printed at the socket{_sockets(knowledge)})", check=_id),
        "memory_type": lambda a: ask_where("Memory type (manual; such as DDR4)", check=_memory).upper(),
        "slots": lambda a: _slots(),
        "order": lambda a: _order(a["slots"]),
        "cpu_power": lambda a: _power(),
        "video_outputs": lambda a: confirm_where("Does the board itself have display sockets? (at the back)"),
        "indicators": lambda a: {name: confirm_where(_LAMPS[name], default=False) for name in INDICATORS},
        "code_table": lambda a: _table(knowledge) if a["indicators"]["code_display"] else "",
        "first_families": lambda a: _first(knowledge),
        "releases": lambda a: _releases(knowledge, a, keep),
        "recovery": lambda a: ask_recovery(),
        "source": lambda a: ask_where("Where is all this from?", "the board and its manual", _between(5, 300)),
    }


def _short(most: int) -> Callable[[str], str]:
    return _between(1, most)


def _upto(most: int) -> Callable[[str], str]:
    return _between(0, most)


def _between(least: int, most: int) -> Callable[[str], str]:
    return lambda text: "" if least <= len(text) <= most else f"{least} to {most} characters, here {len(text)}"


def _id(text: str) -> str:
    return "" if text and text == family_id(text) else f"small letters, digits and hyphens, such as {family_id(text) or 'reef-4'}"


def _memory(text: str) -> str:
    good = len(text) == 4 and text.upper().startswith("DDR") and text[3] in "3456789"
    return "" if good else "DDR and one digit, such as DDR4 or DDR5"


def _title(answers: Answers) -> str:
    revision = answers["revision"]
    return (
        f"{answers['variant']}, revision {revision}"
        if revision and revision not in answers["variant"]
        else str(answers["variant"])
    )


def _sockets(knowledge: Knowledge) -> str:
    known = sorted({board.socket for board in knowledge.boards.values()})
    return f"; known: {', '.join(known)}" if 0 < len(known) < 10 else ""


def parts(text: str) -> list[str]:
    """What stands between commas."""
    return list(dict.fromkeys(part.strip() for part in text.split(",") if part.strip()))


def _names(question: str) -> list[str]:
    def check(text: str) -> str:
        return next((f"{part[:20]}... is longer than 60 characters" for part in parts(text) if len(part) > 60), "")

    return parts(ask_where(question, check=check))


def _slots() -> list[str]:
    def check(text: str) -> str:
        found, words = parts(text), text.split()
        if len(found) == 1 and len(words) > 1 and all(len(word) < 5 and word[-1].isdecimal() for word in words):
            return f"part them by commas: {', '.join(words)}"
        return "" if found and all(len(each) <= 20 for each in found) else "names of the slots, such as A1, A2, B1, B2"

    return parts(ask_where("Memory slots as printed, from the CPU outwards (parted by commas)", check=check))


def _order(slots: list[str]) -> dict[str, list[str]]:
    tell("\n[Which slots the manual wants used: chapter on memory; Enter: it does not say]")
    found: dict[str, list[str]] = {}
    while not found:
        for count in range(1, len(slots) + 1):
            default = ", ".join(slots) if count == len(slots) else ""
            used = parts(ask_where(f"  {count} module{'s' if count > 1 else ''}", default, _in_slots(slots, count)))
            if used:
                found[str(count)] = used
        if not found:
            tell("  At least one of them is needed: for one module, say.")
    return found


def _in_slots(slots: list[str], count: int) -> Callable[[str], str]:
    def check(text: str) -> str:
        found = parts(text)
        if wrong := [each for each in found if each not in slots]:
            return f"{wrong[0]} is no slot of this board; there are {', '.join(slots)}"
        return "" if not found or len(found) == count else f"name {count} slot{'s' if count > 1 else ''}, not {len(found)}"

    return check


def _power() -> list[str]:
    def check(text: str) -> str:
        return "" if all(each.strip() in ("4", "8", "") for each in text.split(",")) else "numbers of pins: 4 or 8, such as 8, 4"

    typed = ask_where("CPU power sockets by their pins (near the CPU, such as 8 or 8, 4; Enter: not known)", check=check)
    return [each.strip() for each in typed.split(",") if each.strip()]


def _table(knowledge: Knowledge) -> str:
    tell("\n[Code table that the display follows: manual, list of codes]")
    titles = {name: table.title for name, table in knowledge.codes.items() if table.form == "hex" and not table.generic}
    name = choose("table", {"none": "not known", **titles}, "none")
    return "" if name == "none" else name


def _first(knowledge: Knowledge) -> list[str]:
    known = sorted(known_families_of(knowledge.cpus.values(), knowledge.boards.values()).ids)
    tell(f"CPU families by id, as in {', '.join(known[:12])}" if known else "CPU families by id, such as kelp-2")
    typed = ask_where(
        "Families that the oldest release knows (support list of the maker; Enter: not known)",
        check=lambda text: family_check(text) if text else "",
    )
    return parts(typed)


def _releases(knowledge: Knowledge, answers: Answers, keep: Keep) -> list[dict[str, Any]]:
    """From a file, or typed one by one; those that were typed before it was left are there."""
    begun: list[dict[str, Any]] = answers.get(BEGUN, [])
    while not begun:
        path = ask_where("File with the list of releases (from the maker's page, saved or copied; Enter: type them one by one)")
        if not path:
            break
        try:
            return _from_file(path, knowledge, answers)
        except KnowledgeError as error:
            for problem in error.problems:
                tell(f"  {problem}")
        except NopostError as error:
            tell(f"  {error}")
        except OSError as error:
            tell(f"  {path}: {error.strerror}")
    releases = ask_releases(answers["first_families"], begun, lambda found: keep({**answers, BEGUN: found}))
    answers.pop(BEGUN, None)
    return releases


def _from_file(path: str, knowledge: Knowledge, answers: Answers) -> list[dict[str, Any]]:
    from nopost.firmware.release_list.list_reader import read_list

    families = known_families_of(knowledge.cpus.values(), knowledge.boards.values())
    first = {"firmware": {"first_families": answers["first_families"]}}
    listed = read_list(read_bytes(path), path, families, first)
    say_reading(listed)
    part = firmware_part(confirmed(listed, families))
    answers["first_families"] = part.get("first_families", [])
    releases: list[dict[str, Any]] = part["releases"]
    return releases
