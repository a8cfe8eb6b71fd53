"""A list of releases read, and the questions about a board's firmware: releases, and the ways to write them.

What was guessed from the prose of a list is asked about thing by thing, with the words that it rests on; without a list
the releases are typed one by one, oldest first. Then come the ways to write firmware when the machine does not start.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from nopost.firmware.release_list.cell_values import (
    LIST_FIELDS,
    Guess,
    ReleaseEntry,
    ReleaseList,
    day_order,
    read_as,
    settled,
    sha_of,
    size_of,
    version_key,
    whole_date,
)
from nopost.firmware.release_list.list_reader import MOST_BYTES, read_list
from nopost.firmware.release_list.prose import Families, family_id
from nopost.text import comma_parts
from nopost_cli.shared.drafts import Draft
from nopost_cli.shared.prompts import Check, ask, ask_where, choose_several, confirm, confirm_where, of_length, or_nothing, tell
from nopost_cli.shared.terminal import STDIN, is_interactive, read_bytes, shown_name

WORDS = {
    "date": "Date",
    "size": "Size of the image in bytes",
    "requires": "On the board before it",
    "accepts_from": "Accepted only from this release or a later one",
    "adds": "CPU family gained",
    "drops": "CPU family lost",
    "one_way": "No way back to older releases",
    "first_families": "CPU family of the oldest release",
}
DECIDED = "decided"
"""Name in a draft: the decisions, guess by guess."""
_ALL = ("y", "n", "edit", "all")


def read_release_list(name: str, families: Families, record: Mapping[str, Any]) -> ReleaseList:
    """The list in a file, or of standard input for `-`, once it was told how it was read.

    `record`: the board record that gets the releases. Raises InputError, RecordError and KnowledgeError.
    """
    if name == STDIN and is_interactive():
        tell("Paste the list, then press Ctrl-D on a line of its own.")
    listed = read_list(read_bytes(name, MOST_BYTES + 1, "name the file with the list"), shown_name(name), families, record)
    _say_reading(listed)
    return listed


def _say_reading(listed: ReleaseList) -> None:
    """How the list was read, and what is doubtful."""
    count = len(_listed(listed))
    tell(f"{count} release{'s' if count > 1 else ''} read ({listed.form}, {listed.encoding}), oldest first: {_ends(listed)}.")
    for remark in listed.remarks:
        tell(f"  {f'line {remark.line}: ' if remark.line else ''}{remark.text}")


def _listed(listed: ReleaseList) -> list[ReleaseEntry]:
    """The releases of the list alone, without those of the base record."""
    return [entry for entry in listed.releases if entry.line]


def _ends(listed: ReleaseList) -> str:
    first, last = _listed(listed)[0], _listed(listed)[-1]
    return f"{first.version} ({first.date})" + (f" to {last.version} ({last.date})" if last is not first else "")


class _Decisions:
    """What was decided, guess by guess ("" for refused), and whether the person has said "all". `begun`: at an earlier time."""

    def __init__(self, begun: Sequence[str], draft: Draft | None) -> None:
        self.everything = False
        self.begun = begun
        self.decided: list[str] = []
        self.draft = draft

    @property
    def known(self) -> bool:
        """Whether the next guess was decided before."""
        return len(self.decided) < len(self.begun)

    def take(self, value: str) -> str:
        """Keep one decision."""
        again = self.known
        self.decided.append(value)
        if self.draft is not None and not again:
            self.draft.keep({DECIDED: self.decided})
        return value


def guesses_of(listed: ReleaseList) -> list[Guess]:
    """All guesses, in the order in which they are asked about."""
    return [*listed.guessed_first, *(guess for entry in listed.releases for guess in entry.guesses)]


def confirmed(listed: ReleaseList, families: Families, draft: Draft | None = None) -> ReleaseList:
    """The list with every guess confirmed, changed or refused by the person. Ctrl-C raises click.Abort; the draft keeps what was
    decided, and it is not asked again."""
    count = len(guesses_of(listed))
    if not count:
        return listed
    tell(f"{count} thing{'s' if count > 1 else ''} found in the words of the list.")
    sweep = _Decisions(_begun(draft, count), draft)
    if len(sweep.begun) < count:
        tell("y: right, n: no, edit: change it, all: the rest is right.")
    known = {version_key(entry.version): entry.version for entry in listed.releases}
    named = {guess.value for entry in listed.releases for guess in entry.guesses if guess.field in LIST_FIELDS}
    offered = sorted({*families.ids, *listed.known_first, *named})
    first: list[str] = []
    if listed.guessed_first:
        if not sweep.known:
            tell("\nThe oldest release")
        decided = [_decided(guess, sweep, known, offered) for guess in listed.guessed_first]
        first = [part for value in decided for part in comma_parts(value)]
    releases = [_entry(entry, sweep, known, offered) for entry in listed.releases]
    return replace(listed, releases=tuple(releases), guessed_first=(), known_first=(*listed.known_first, *first))


def _begun(draft: Draft | None, count: int) -> list[str]:
    """What was decided about this list at an earlier time, if the person goes on with it."""
    found = draft.answers().get(DECIDED, []) if draft is not None else []
    if not isinstance(found, list) or not all(isinstance(each, str) for each in found) or not 0 < len(found) <= count:
        return []
    return found if confirm(f"{len(found)} of them were answered before. Go on from there?") else []


def _entry(entry: ReleaseEntry, sweep: _Decisions, known: dict[str, str], offered: Sequence[str]) -> ReleaseEntry:
    if entry.guesses and not sweep.known:
        tell(f"\n{entry.version}, {entry.date} (line {entry.line})")
    for guess in entry.guesses:
        entry = settled(entry, guess, _decided(guess, sweep, known, offered) or None)
    return entry


def _decided(guess: Guess, sweep: _Decisions, known: dict[str, str], offered: Sequence[str]) -> str:
    """The value, or "" when it is refused."""
    if sweep.known:
        return sweep.take(sweep.begun[len(sweep.decided)])
    shown = "" if guess.value == "true" else f": {guess.value}"
    why = f" ({guess.why})" if guess.why else ""
    tell(f"  {WORDS[guess.field]}{shown}{why}")
    tell(f'    "{guess.words}"')
    if sweep.everything:
        return sweep.take(guess.value)
    answer = ask("    right? (y, n, edit, all)", "y", _one_of_all).lower()
    sweep.everything = answer.startswith("a")
    if answer.startswith("n"):
        return sweep.take(ask("    date, as 2031-05-17", check=_iso_date) if guess.field == "date" else "")
    return sweep.take((_edited(guess, known, offered) or "") if answer.startswith("e") else guess.value)


def _one_of_all(text: str) -> str:
    return "" if any(text and word.startswith(text.lower()) for word in (*_ALL, "yes", "no")) else "type y, n, edit or all"


def _edited(guess: Guess, known: dict[str, str], offered: Sequence[str]) -> str | None:
    if guess.field == "one_way":
        return "true" if confirm("    no older release can be written afterwards") else None
    if guess.field in ("adds", "drops", "first_families"):
        tell(f"    known families: {', '.join(offered)}" if offered else "    no family is known yet")
        return ask("    family, or several parted by commas", guess.value, family_check)
    if guess.field == "date":
        return ask("    date, as 2031-05-17", guess.value, _iso_date)
    if guess.field == "size":
        return ask("    bytes", guess.value, _size)
    typed = ask("    version", guess.value, _known_version(known))
    return known[version_key(typed)]


def _known_version(known: dict[str, str]) -> Check:
    return lambda text: "" if version_key(text) in known else f"the list has {', '.join(list(known.values())[:30])}"


def _iso_date(text: str) -> str:
    if not re.fullmatch(r"\d{4}-\d{2}-\d{2}", text):
        return "write it as 2031-05-17"
    return "" if whole_date(text) else "there is no such day"


def family_check(text: str) -> str:
    """What is wrong with ids parted by commas."""
    parts = [part.strip() for part in text.split(",")]
    wrong = [part for part in parts if part != family_id(part) or not part]
    return f"small letters, digits and hyphens, such as {family_id(wrong[0]) or 'kelp-2'}" if wrong else ""


FILE_SYSTEMS = ("FAT12", "FAT16", "FAT32", "exFAT", "NTFS")


def ask_recovery() -> dict[str, Any]:
    """The `recovery` of a record."""
    found: dict[str, Any] = {
        "button": confirm_where("Firmware button? (writes firmware without a CPU: at the back, manual)", default=False)
    }
    if found["button"]:
        found |= _button()
    found["recovery_block"] = confirm_where(
        "Recovery block? (a protected part that writes a new image from a stick by itself: manual)", default=False
    )
    found["second_chip"] = confirm_where("A second firmware chip? (manual, or two alike chips on the board)", default=False)
    if size := ask_where("Size of the firmware chip (manual, such as 16 MB; Enter: not known)", check=or_nothing(_chip)):
        found["chip_size"] = size_of(size)[0]
    found["socketed_chip"] = confirm_where("Does the firmware chip sit in a socket?", default=False)
    return found


def _button() -> dict[str, Any]:
    told = {
        "button_file": ask_where(
            "  Name that the file must have on the stick (manual; Enter: not known)", check=of_length(0, 60)
        ),
        "button_socket": ask_where(
            "  USB socket that it reads (as printed, or its place; Enter: not known)", check=of_length(0, 120)
        ),
    }
    minutes = ask_where("  How many minutes it writes (manual; Enter: not known)", check=or_nothing(_minutes))
    tell("  File systems that it reads (parted by commas; Enter: not known)")
    systems = choose_several("  file systems", dict.fromkeys(FILE_SYSTEMS, ""))
    tell("  Plugs that must be on (manual; Enter: not known)")
    needs = choose_several("  plugs", {"main": "main power plug", "cpu": "CPU power plug"})
    lists = {"button_file_systems": list(systems), "button_needs": list(needs)}
    return {k: v for k, v in {**told, **({"button_minutes": float(minutes)} if minutes else {}), **lists}.items() if v}


def _chip(text: str) -> str:
    return "" if 65536 <= size_of(text)[0] <= 1 << 30 else "a size of a chip, such as 16 MB or 16777216"


def _minutes(text: str) -> str:
    try:
        return "" if 0 < float(text) <= 120 else "more than 0, at most 120"
    except ValueError:
        return "a number, such as 6"


Release = dict[str, Any]


def ask_releases(first: list[str], begun: list[Release], keep: Callable[[list[Release]], None]) -> list[Release]:
    """At least one release; Enter instead of a version ends. `begun`: those that are there; `keep` is told after each."""
    tell("\nReleases, the oldest first, from the maker's page for exactly this variant.")
    found = list(begun)
    if found:
        tell(f"There are {', '.join(str(each['version']) for each in found)}.")
    known = set(first)
    for each in found:
        known = (known | set(each.get("adds", ()))) - set(each.get("drops", ()))
    while True:
        version = ask_where(
            f"Version of release {len(found) + 1} (as published; Enter: no more)",
            check=_new_version([each["version"] for each in found]),
        )
        if not version:
            return found
        found.append(_release(version, [each["version"] for each in found], known))
        known = (known | set(found[-1].get("adds", ()))) - set(found[-1].get("drops", ()))
        keep(found)


def _release(version: str, earlier: list[str], known: set[str]) -> Release:
    release: Release = {"version": version, "date": _iso(ask_where("  Date", check=_date))}
    release["adds"] = comma_parts(ask_where("  CPU families gained (ids, parted by commas; Enter: none)", check=_families(None)))
    if known:
        tell(f"  known so far: {', '.join(sorted(known))}")
        release["drops"] = comma_parts(ask_where("  CPU families lost (Enter: none)", check=_families(known)))
    if earlier:
        release["requires"] = ask_where(
            "  Release that must be on the board before (its notes; Enter: none)", check=_one_of(earlier)
        )
        release["accepts_from"] = ask_where("  Lowest release from which it is accepted (Enter: any)", check=_one_of(earlier))
        release["one_way"] = confirm_where("  Can no older release be written afterwards?", default=False)
    if confirm_where("  Image: size, check sum, file name?", default=False):
        release |= _image()
    release["notes"] = ask_where("  Notes (Enter: none)", check=or_nothing(of_length(3, 1500)))
    return {name: value for name, value in release.items() if value}


def _image() -> Release:
    size = ask_where("    Size in bytes (Enter: not known)", check=or_nothing(_size))
    return {
        "size": int(size) if size else 0,
        "file": ask_where("    File name (Enter: not known)", check=of_length(0, 120)),
        "sha256": sha_of(
            ask_where("    SHA-256 (Enter: not known)", check=or_nothing(lambda text: "" if sha_of(text) else "64 hex digits"))
        ),
    }


def _size(text: str) -> str:
    return "" if text.isdecimal() and len(text) < 12 and 0 < int(text) <= 1 << 30 else "a whole number of bytes"


def _new_version(earlier: list[str]) -> Callable[[str], str]:
    def check(text: str) -> str:
        if not text:
            return "" if earlier else "at least one release is needed"
        return f"{text} stands there already" if text in earlier else "" if len(text) <= 40 else "at most 40 characters"

    return check


def _date(text: str) -> str:
    found = whole_date(text)
    if found is None:
        return "there is no such day" if re.fullmatch(r"\d{4}-\d{2}-\d{2}", text) else "write it as 2031-05-17"
    return f"{text} has two readings: write it as 2031-05-17" if found.open else ""


def _iso(text: str) -> str:
    found = whole_date(text)
    return read_as(found, day_order([found])).isoformat() if found else ""


def _families(known: set[str] | None) -> Callable[[str], str]:
    def check(text: str) -> str:
        wrong = or_nothing(family_check)(text)
        unknown = [part for part in comma_parts(text) if known is not None and part not in known]
        return wrong or (f"{unknown[0]} is not known before this release" if unknown else "")

    return check


def _one_of(versions: list[str]) -> Callable[[str], str]:
    return or_nothing(lambda text: "" if text in versions else f"one of {', '.join(versions)}")
