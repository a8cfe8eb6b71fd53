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
from nopost_cli.board.draft import Draft
from nopost_cli.guided import Check, ask, confirm, tell

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


class _Sweep:
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
    return [*listed.first, *(guess for entry in listed.releases for guess in entry.guesses)]


def confirmed(listed: ReleaseList, families: Families, draft: Draft | None = None) -> ReleaseList:
    """The list with every guess confirmed, changed or refused by the person. Ctrl-C raises click.Abort; the draft keeps what was
    decided, and it is not asked again."""
    count = len(guesses_of(listed))
    if not count:
        return listed
    tell(f"{count} thing{'s' if count > 1 else ''} found in the words of the list.")
    sweep = _Sweep(_begun(draft, count), draft)
    if len(sweep.begun) < count:
        tell("y: right, n: no, edit: change it, all: the rest is right.")
    known = {version_key(entry.version): entry.version for entry in listed.releases}
    named = {guess.value for entry in listed.releases for guess in entry.guesses if guess.field in LISTS}
    offered = sorted({*families.ids, *listed.known_first, *named})
    first: list[str] = []
    if listed.first:
        if not sweep.known:
            tell("\nThe oldest release")
        decided = [_decided(guess, sweep, known, offered) for guess in listed.first]
        first = [part.strip() for value in decided for part in value.split(",") if part.strip()]
    releases = [_entry(entry, sweep, known, offered) for entry in listed.releases]
    return replace(listed, releases=tuple(releases), first=(), known_first=(*listed.known_first, *first))


def _begun(draft: Draft | None, count: int) -> list[str]:
    """What was decided about this list at an earlier time, if the person goes on with it."""
    found = draft.answers().get(DECIDED, []) if draft is not None else []
    if not isinstance(found, list) or not all(isinstance(each, str) for each in found) or not 0 < len(found) <= count:
        return []
    return found if confirm(f"{len(found)} of them were answered before. Go on from there?") else []


def _entry(entry: Entry, sweep: _Sweep, known: dict[str, str], offered: Sequence[str]) -> Entry:
    if entry.guesses and not sweep.known:
        tell(f"\n{entry.version}, {entry.date} (line {entry.line})")
    for guess in entry.guesses:
        entry = settled(entry, guess, _decided(guess, sweep, known, offered) or None)
    return entry


def _decided(guess: Guess, sweep: _Sweep, known: dict[str, str], offered: Sequence[str]) -> str:
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
        return sweep.take(ask("    date, as 2031-05-17", check=_date) if guess.field == "date" else "")
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
    if not re.fullmatch(r"\d{4}-\d{2}-\d{2}", text):
        return "write it as 2031-05-17"
    return "" if whole_date(text) else "there is no such day"


def family_check(text: str) -> str:
    """What is wrong with ids parted by commas."""
    parts = [part.strip() for part in text.split(",")]
    wrong = [part for part in parts if part != family_id(part) or not part]
    return f"small letters, digits and hyphens, such as {family_id(wrong[0]) or 'kelp-2'}" if wrong else ""
