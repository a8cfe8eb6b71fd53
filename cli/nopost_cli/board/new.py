"""`nopost board new`: a board record, asked item by item; each answer can be changed before it is written.

Each question says where its answer is found, and a list of releases can be one of the answers; `nopost board import` asks what
a list does not say. What was answered is kept at once.
"""

from __future__ import annotations

import shlex
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from nopost.errors import KnowledgeError, NopostError
from nopost.text import comma_parts
from nopost_cli.shared.options import kb_option, knowledge_of
from nopost_cli.shared.prompts import ask_where, choose, confirm, confirm_where, need_terminal, of_length, or_nothing, say, tell
from nopost_cli.shared.terminal import clean

if TYPE_CHECKING:
    from nopost.knowledge.model import Knowledge
    from nopost_cli.shared.drafts import Draft


def step_names() -> dict[str, str]:
    """Name of each question -> what it is about, for changing one."""
    return {
        "variant": "exact variant",
        "revision": "revision",
        "id": "id of the record",
        "title": "title",
        "identifiers": "other names",
        "look_alikes": "variants easily mistaken for it",
        "socket": "CPU socket",
        "memory_type": "memory type",
        "slots": "memory slots",
        "order": "slots by the manual",
        "cpu_power": "CPU power sockets",
        "video_outputs": "display sockets",
        "indicators": "lamps, display, speaker",
        "code_table": "code table",
        "first_families": "CPU families of the oldest release",
        "releases": "firmware releases",
        "recovery": "ways to write without starting",
        "source": "source",
    }


@click.command("new", short_help="Write a board record, asked item by item.")
@click.option("--out", metavar="FILE", type=click.Path(path_type=Path), help="Write it here; default: ID.yaml in this folder.")
@kb_option
def command(out: Path | None, kb: Path | None) -> None:
    """Ask for everything that a board record holds, say where it is found, check it and write it.

    Ctrl-C keeps what was answered; the next start offers it again.
    """
    from nopost_cli.shared.drafts import kept_drafts, may_write, new_draft, write_record

    need_terminal("write the record in an editor, from a copy of one in kb/boards, or use nopost board import")
    knowledge = knowledge_of(kb)
    if out is not None:
        may_write(out)
    draft = new_draft()
    answers = _kept(draft)
    tell("Ctrl-C leaves; what was answered is kept.")
    with kept_drafts([draft], "nopost board new goes on from there."):
        text, name = _asked(knowledge, answers, draft)
        target = out or Path(f"{name}.yaml")
        if out is None:
            may_write(target)
        write_record(target, text)
    draft.drop()
    click.echo(clean(f"Written: {target}"))
    tell(f"Look at it: nopost board show {shlex.quote(str(target))}")


def _kept(draft: Draft) -> dict[str, Any]:
    answers = draft.answers()
    if not answers:
        return {}
    done = f"{len(answers)} of {len(step_names())} questions answered"
    tell(f"There is a draft: {answers.get('variant', 'without a variant')}, {done}.")
    if confirm("Go on with it?"):
        return answers
    draft.drop()
    return {}


def _asked(knowledge: Knowledge, answers: dict[str, Any], draft: Draft) -> tuple[str, str]:
    """The checked text and its id, once the person is content with it."""
    from nopost_cli.shared.drafts import checked_text

    while True:
        data = ask_record(knowledge, answers, draft=draft)
        answers = draft.answers()
        try:
            text = checked_text(data, {}, "the record")
        except KnowledgeError as error:
            for problem in error.problems:
                tell(str(problem))
        else:
            say(f"\n{text}")
            if confirm("Write it?"):
                return text, str(data["id"])
        tell("Which answer is to be changed?")
        name = choose("answer", {"none": "leave; what was answered is kept", **step_names()}, "none")
        if name == "none":
            raise click.Abort
        answers = {key: value for key, value in answers.items() if key != name and not (name == "slots" and key == "order")}


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
    from nopost.firmware.release_list.board_record import assembled

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
    from nopost.firmware.release_list.board_record import INDICATORS, suggested_id
    from nopost_cli.board.firmware_questions import ask_recovery

    return {
        "variant": lambda a: ask_where(
            "Exact variant with every suffix (printed on the board, large, between the slots)", check=of_length(1, 60)
        ),
        "revision": lambda a: ask_where(
            "Revision (small print near the variant, such as REV 1.1; Enter: none)", check=of_length(0, 20)
        ),
        "id": lambda a: ask_where("Id of the record (names its file)", suggested_id(f"{a['variant']}"), _id),
        "title": lambda a: ask_where("Title", _title(a), of_length(3, 100)),
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
        "source": lambda a: ask_where("Where is all this from?", "the board and its manual", of_length(5, 300)),
    }


def _id(text: str) -> str:
    from nopost.firmware.release_list.prose import family_id

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


def _names(question: str) -> list[str]:
    def check(text: str) -> str:
        return next((f"{part[:20]}... is longer than 60 characters" for part in comma_parts(text) if len(part) > 60), "")

    return comma_parts(ask_where(question, check=check))


def _slots() -> list[str]:
    def check(text: str) -> str:
        found, words = comma_parts(text, once=True), text.split()
        if len(found) == 1 and len(words) > 1 and all(len(word) < 5 and word[-1].isdecimal() for word in words):
            return f"part them by commas: {', '.join(words)}"
        return "" if found and all(len(each) <= 20 for each in found) else "names of the slots, such as A1, A2, B1, B2"

    return comma_parts(ask_where("Memory slots as printed, from the CPU outwards (parted by commas)", check=check))


def _order(slots: list[str]) -> dict[str, list[str]]:
    tell("\n[Which slots the manual wants used: chapter on memory; Enter: it does not say]")
    found: dict[str, list[str]] = {}
    while not found:
        for count in range(1, len(slots) + 1):
            default = ", ".join(slots) if count == len(slots) else ""
            used = comma_parts(ask_where(f"  {count} module{'s' if count > 1 else ''}", default, _in_slots(slots, count)))
            if used:
                found[str(count)] = used
        if not found:
            tell("  At least one of them is needed: for one module, say.")
    return found


def _in_slots(slots: list[str], count: int) -> Callable[[str], str]:
    def check(text: str) -> str:
        found = comma_parts(text, once=True)
        if wrong := [each for each in found if each not in slots]:
            return f"{wrong[0]} is no slot of this board; there are {', '.join(slots)}"
        return "" if not found or len(found) == count else f"name {count} slot{'s' if count > 1 else ''}, not {len(found)}"

    return check


def _power() -> list[str]:
    def check(text: str) -> str:
        return "" if set(comma_parts(text)) <= {"4", "8"} else "numbers of pins: 4 or 8, such as 8, 4"

    typed = ask_where("CPU power sockets by their pins (near the CPU, such as 8 or 8, 4; Enter: not known)", check=check)
    return comma_parts(typed)


def _table(knowledge: Knowledge) -> str:
    tell("\n[Code table that the display follows: manual, list of codes]")
    titles = {name: table.title for name, table in knowledge.codes.items() if table.form == "hex" and not table.generic}
    name = choose("table", {"none": "not known", **titles}, "none")
    return "" if name == "none" else name


def _first(knowledge: Knowledge) -> list[str]:
    from nopost.firmware.release_list.prose import known_families_of
    from nopost_cli.board.firmware_questions import family_check

    known = sorted(known_families_of(knowledge.cpus.values(), knowledge.boards.values()).ids)
    tell(f"CPU families by id, as in {', '.join(known[:12])}" if known else "CPU families by id, such as kelp-2")
    typed = ask_where(
        "Families that the oldest release knows (support list of the maker; Enter: not known)",
        check=or_nothing(family_check),
    )
    return comma_parts(typed, once=True)


def _releases(knowledge: Knowledge, answers: Answers, keep: Keep) -> list[dict[str, Any]]:
    """From a file, or typed one by one; those that were typed before it was left are there."""
    from nopost_cli.board.firmware_questions import ask_releases

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
    releases = ask_releases(answers["first_families"], begun, lambda found: keep({**answers, BEGUN: found}))
    answers.pop(BEGUN, None)
    return releases


def _from_file(path: str, knowledge: Knowledge, answers: Answers) -> list[dict[str, Any]]:
    from nopost.firmware.release_list.board_record import firmware_part
    from nopost.firmware.release_list.prose import known_families_of
    from nopost_cli.board.firmware_questions import confirmed, read_release_list

    families = known_families_of(knowledge.cpus.values(), knowledge.boards.values())
    listed = read_release_list(path, families, {"firmware": {"first_families": answers["first_families"]}})
    part = firmware_part(confirmed(listed, families))
    answers["first_families"] = part.get("first_families", [])
    releases: list[dict[str, Any]] = part["releases"]
    return releases
