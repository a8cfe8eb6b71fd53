"""Ask about each thing that was guessed from prose, with the words that it rests on."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from nopost.firmware.notes.cells import version_key
from nopost.firmware.notes.dates import whole_date
from nopost.firmware.notes.entry import LISTS, Entry, ReleaseList, settled
from nopost.firmware.notes.families import Families, family_id
from nopost.firmware.notes.guess import Guess
from nopost_cli.board.telling import tell
from nopost_cli.guided import Check, ask, confirm

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
_ALL = ("y", "n", "edit", "all")


class _Sweep:
    """Whether the person has said "all"."""

    everything = False


def confirmed(listed: ReleaseList, families: Families) -> ReleaseList:
    """The list with every guess confirmed, changed or refused by the person. Ctrl-C raises click.Abort."""
    count = len(listed.first) + sum(len(entry.guesses) for entry in listed.releases)
    if not count:
        return listed
    tell(f"{count} thing{'s' if count > 1 else ''} found in the words of the list.")
    tell("y: right, n: no, edit: change it, all: the rest is right.")
    sweep = _Sweep()
    known = {version_key(entry.version): entry.version for entry in listed.releases}
    named = {guess.value for entry in listed.releases for guess in entry.guesses if guess.field in LISTS}
    offered = sorted({*families.ids, *listed.known_first, *named})
    first: list[str] = []
    if listed.first:
        tell("\nThe oldest release")
        decided = [_decided(guess, sweep, known, offered) or "" for guess in listed.first]
        first = [part.strip() for value in decided for part in value.split(",") if part.strip()]
    releases = [_entry(entry, sweep, known, offered) for entry in listed.releases]
    return replace(listed, releases=tuple(releases), first=(), known_first=(*listed.known_first, *first))


def _entry(entry: Entry, sweep: _Sweep, known: dict[str, str], offered: Sequence[str]) -> Entry:
    if entry.guesses:
        tell(f"\n{entry.version}, {entry.date} (line {entry.line})")
    for guess in entry.guesses:
        value = _decided(guess, sweep, known, offered)
        if value is None and guess.field == "date":
            value = ask("    date, as 2031-05-17", check=_date)
        entry = settled(entry, guess, value)
    return entry


def _decided(guess: Guess, sweep: _Sweep, known: dict[str, str], offered: Sequence[str]) -> str | None:
    """The value, or None when it is refused."""
    shown = "" if guess.value == "true" else f": {guess.value}"
    why = f" ({guess.why})" if guess.why else ""
    tell(f"  {WORDS[guess.field]}{shown}{why}")
    tell(f'    "{guess.words}"')
    if sweep.everything:
        return guess.value
    answer = ask("    right? (y, n, edit, all)", "y", _one_of_all).lower()
    if answer.startswith("a"):
        sweep.everything = True
    return None if answer.startswith("n") else _edited(guess, known, offered) if answer.startswith("e") else guess.value


def _one_of_all(text: str) -> str:
    return "" if any(text and word.startswith(text.lower()) for word in (*_ALL, "yes", "no")) else "type y, n, edit or all"


def _edited(guess: Guess, known: dict[str, str], offered: Sequence[str]) -> str | None:
    if guess.field == "one_way":
        return "true" if confirm("    no older release can be written afterwards") else None
    if guess.field in ("adds", "drops", "first_families"):
        tell(f"    known families: {', '.join(offered)}" if offered else "    no family is known yet")
        return ask("    family, or several parted by commas", guess.value, family_check)
    if guess.field == "date":
        return ask("    date, as 2031-05-17", guess.value, _date)
    if guess.field == "size":
        return ask(
            "    bytes", guess.value, lambda text: "" if text.isdecimal() and 0 < int(text[:12]) <= 1 << 30 else "a whole number"
        )
    typed = ask("    version", guess.value, _version(known))
    return known[version_key(typed)]


def _version(known: dict[str, str]) -> Check:
    return lambda text: "" if version_key(text) in known else f"the list has {', '.join(list(known.values())[:30])}"


def _date(text: str) -> str:
    return "" if re.fullmatch(r"\d{4}-\d{2}-\d{2}", text) and whole_date(text) else "write it as 2031-05-17"


def family_check(text: str) -> str:
    """What is wrong with ids parted by commas."""
    parts = [part.strip() for part in text.split(",")]
    wrong = [part for part in parts if part != family_id(part) or not part]
    return f"small letters, digits and hyphens, such as {family_id(wrong[0]) or 'kelp-2'}" if wrong else ""
