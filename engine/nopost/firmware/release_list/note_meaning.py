"""What the notes of all releases together tell: prerequisites, barriers, families; each as a guess at the release
that it is about.

Which release is the older one is told by the place in the list and by dates; versions are never compared. When the
list comes to a board record, what the record says of its releases stands, and nothing is guessed beside it.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

from nopost.firmware.release_list.cell_values import (
    Guess,
    ListRemark,
    ReleaseEntry,
    ReleaseList,
    bare_version,
    shape,
    version_key,
)
from nopost.firmware.release_list.note_phrases import LATER, SELF, Prerequisite, one_way_words, prerequisites, support_changes
from nopost.firmware.release_list.prose import Families


def with_base(entries: Sequence[ReleaseEntry], base: Mapping[str, Any]) -> list[ReleaseEntry]:
    """Entries with those of the record; one that the list lacks has line 0 and its place by date."""
    old = base.get("firmware", {}).get("releases", ())
    known = {release["version"]: release for release in old}
    found = [replace(entry, stated={**entry.stated, **known.get(entry.version, {})}) for entry in entries]
    listed = {entry.version for entry in entries}
    for release in old:
        if release["version"] not in listed:
            after = [index for index, entry in enumerate(found) if entry.date <= release["date"]]
            found.insert(after[-1] + 1 if after else 0, ReleaseEntry(0, release))
    return found


def without_decided(listed: ReleaseList, base: Mapping[str, Any]) -> ReleaseList:
    """The list without guesses for what the record says."""
    known = {release["version"]: release for release in base.get("firmware", {}).get("releases", ())}
    entries = []
    for entry in listed.releases:
        said = known.get(entry.version, {})
        entries.append(replace(entry, guesses=tuple(guess for guess in entry.guesses if guess.field not in said)))
    return replace(listed, releases=tuple(entries), guessed_first=() if listed.known_first else listed.guessed_first)


Found = tuple[int, Guess]
COLUMNS = ("requires", "accepts_from")
"""Fields that name another release."""


def with_meaning(listed: ReleaseList, families: Families) -> ReleaseList:
    """The list with its guesses; what was already stated is not guessed again."""
    reader = _NotesReader(listed.releases, families)
    found: dict[int, list[Guess]] = {}
    for at, guess in reader.found():
        found.setdefault(at, []).append(guess)
    entries = [_with(reader.stated(index), found.get(index, ())) for index in range(len(listed.releases))]
    first, entries = _first(entries, listed.known_first)
    return replace(listed, releases=tuple(entries), guessed_first=tuple(first), remarks=(*listed.remarks, *reader.remarks))


class _NotesReader:
    """Reads the notes of each release against all versions."""

    def __init__(self, entries: Sequence[ReleaseEntry], families: Families) -> None:
        self.entries, self.families = entries, families
        self.places = {version_key(entry.version): index for index, entry in reversed(list(enumerate(entries)))}
        self.shapes = {shape(key) for key in self.places}
        self.remarks: list[ListRemark] = []

    def found(self) -> Iterator[Found]:
        for index, entry in enumerate(self.entries):
            if not entry.line:  # of a record, whose notes are settled
                continue
            notes = str(entry.stated.get("notes", ""))
            asked = [f"requires {entry.stated[name]}" for name in COLUMNS if name in entry.stated]
            for demand in prerequisites("\n".join([*asked, notes])):
                yield from self._demanded(index, demand)
            if words := one_way_words(notes):
                yield index, Guess("one_way", "true", words)
            for change in support_changes(notes, self.families):
                why = "" if change.known else "an id made from these words"
                yield index, Guess("drops" if change.lost else "adds", change.family, change.words, why)

    def stated(self, index: int) -> ReleaseEntry:
        """The entry without columns of its own that name no older release of the list; they are read as prose."""
        entry = self.entries[index]
        stated = dict(entry.stated)
        for name in COLUMNS:
            if name in stated:
                place = self._place(bare_version(str(stated.pop(name))), index)
                if place is not None and place < index:
                    stated[name] = self.entries[place].version
        return replace(entry, stated=stated)

    def _demanded(self, index: int, demand: Prerequisite) -> Iterator[Found]:
        need = self._place(demand.need, index)
        if need is None:
            self._unlisted(index, demand)
            return
        for target in self._targets(index, need, demand):
            field = "accepts_from" if demand.at_least else "requires"
            why = "" if target == index else f"said at {self.entries[index].version}"
            if need < target:
                yield target, Guess(field, self.entries[need].version, demand.words, why)
            else:
                version = self.entries[need].version
                self._remark(index, f"its notes ask for {version} first, which is not older, so that was not taken")

    def _place(self, name: str, own: int) -> int | None:
        key = version_key(name)
        if name == SELF:
            return own
        if key in self.places:
            return self.places[key]
        near = [index for each, index in self.places.items() if each.startswith(f"{key} ")]
        return near[0] if len(near) == 1 else None

    def _targets(self, index: int, need: int, demand: Prerequisite) -> Iterable[int]:
        """All later releases, or the named one and what is newer, or the release itself."""
        if demand.target == LATER:
            return range(max(index, need) + 1, len(self.entries))
        if demand.need != SELF:
            place = self._place(demand.target, index)
            return [place] if place is not None else [index]
        place = self._place(demand.target, index)
        return range(place, len(self.entries)) if place is not None else range(index + 1, len(self.entries))

    def _unlisted(self, index: int, demand: Prerequisite) -> None:
        """A version that the list lacks, when it looks like one of them or is called a version: no record can ask for it."""
        here = demand.target in (SELF, LATER) or self._place(demand.target, index) == index
        if here and (demand.called or shape(version_key(demand.need)) in self.shapes):
            words = " ".join(demand.words.split())[:160]
            self._remark(index, f'needs {demand.need} first, which this list does not have; add that release: "{words}"')

    def _remark(self, index: int, text: str) -> None:
        remark = ListRemark(self.entries[index].line, f"{self.entries[index].version}: {text}")
        if remark not in self.remarks:
            self.remarks.append(remark)


def _with(entry: ReleaseEntry, guesses: Sequence[Guess]) -> ReleaseEntry:
    """The entry with guesses for what it does not state; of several demands of a kind the last is the one that holds."""
    single: dict[str, Guess] = {}
    several: dict[tuple[str, str], Guess] = {(guess.field, guess.value): guess for guess in entry.guesses}
    for guess in guesses:
        if guess.field in ("adds", "drops"):
            several.setdefault((guess.field, guess.value), guess)
        elif guess.field not in entry.stated:
            single[guess.field] = guess
    if "requires" in single and "accepts_from" in single and single["requires"].value == single["accepts_from"].value:
        del single["accepts_from"]
    return replace(entry, guesses=(*several.values(), *single.values()))


def _first(entries: Sequence[ReleaseEntry], known_first: Sequence[str]) -> tuple[list[Guess], list[ReleaseEntry]]:
    """Families of the oldest release: what its notes name, and what is lost later without having been gained."""
    first: dict[str, Guess] = {}
    known = set(known_first)
    found: list[ReleaseEntry] = []
    for index, entry in enumerate(entries):
        kept = []
        for guess in entry.guesses:
            if guess.field == "adds" and index == 0:
                first[guess.value] = replace(guess, field="first_families", why="named by the oldest release")
            elif guess.field == "adds" and guess.value in (known | set(first)):
                continue
            else:
                kept.append(guess)
        entry = replace(entry, guesses=tuple(kept))
        data = entry.data()
        words = {guess.value: guess.words for guess in kept if guess.field == "drops"}
        for family in data.get("drops", ()):
            if family not in known and family not in first:
                why = f"lost at {entry.version} and gained nowhere, so known from the first"
                first[family] = Guess("first_families", family, words.get(family, family), why)
        known = (known | set(data.get("adds", ()))) - set(data.get("drops", ()))
        found.append(entry)
    return list(first.values()), found


FEW = 0.25
"""While no larger share of neighbours goes against the rest, the list is believed and not the odd dates."""


def in_order(entries: Sequence[ReleaseEntry]) -> tuple[list[ReleaseEntry], list[ListRemark]]:
    """Entries oldest first, and where place and date disagree. Without a direction: newest first, as most are."""
    up = sum(a.date < b.date for a, b in itertools.pairwise(entries))
    down = sum(a.date > b.date for a, b in itertools.pairwise(entries))
    placed = list(entries) if up > down else list(entries[::-1])
    against = [(a, b) for a, b in itertools.pairwise(placed) if a.date > b.date]
    if not against:
        return placed, _same_day(placed, up == down)
    by_list = len(against) <= FEW * (len(placed) - 1)
    took = "the order of the list was taken" if by_list else "the order of the dates was taken"
    doubts = [
        ListRemark(b.line, f"{a.version} ({a.date}) and {b.version} ({b.date}): list and dates disagree which is older; {took}")
        for a, b in against
    ]
    return (placed if by_list else sorted(placed, key=lambda entry: entry.date)), doubts


def _same_day(placed: Sequence[ReleaseEntry], directionless: bool) -> list[ListRemark]:
    if directionless and len(placed) > 1:
        return [ListRemark(0, "the dates do not say in which direction the list goes; it was read as newest first")]
    return []
