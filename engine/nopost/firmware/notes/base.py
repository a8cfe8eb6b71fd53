"""A list that comes to a board record: what the record says of its releases stands, and nothing is guessed beside it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from nopost.firmware.notes.entry import Entry, ReleaseList


def with_base(entries: Sequence[Entry], base: Mapping[str, Any]) -> list[Entry]:
    """Entries with those of the record; one that the list lacks has line 0 and its place by date."""
    old = base.get("firmware", {}).get("releases", ())
    known = {release["version"]: release for release in old}
    found = [replace(entry, stated={**entry.stated, **known.get(entry.version, {})}) for entry in entries]
    listed = {entry.version for entry in entries}
    for release in old:
        if release["version"] not in listed:
            after = [index for index, entry in enumerate(found) if entry.date <= release["date"]]
            found.insert(after[-1] + 1 if after else 0, Entry(0, release))
    return found


def without_decided(listed: ReleaseList, base: Mapping[str, Any]) -> ReleaseList:
    """The list without guesses for what the record says."""
    known = {release["version"]: release for release in base.get("firmware", {}).get("releases", ())}
    entries = []
    for entry in listed.releases:
        said = known.get(entry.version, {})
        entries.append(replace(entry, guesses=tuple(guess for guess in entry.guesses if guess.field not in said)))
    return replace(listed, releases=tuple(entries), first=() if listed.known_first else listed.first)
