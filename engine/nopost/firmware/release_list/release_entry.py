"""A release on its way into a record: what its list states, and what is guessed from prose, with the words that each
guess rests on. Until a person confirms it, it is a guess.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any


@dataclass(frozen=True, slots=True)
class Guess:
    """`field` of a release and its value. `words`: of the note; `why`: how it was understood, when that is not plain."""

    field: str
    value: str
    words: str
    why: str = ""

    def shown(self) -> str:
        """The guess in one line, with the words it rests on."""
        words = " ".join(self.words.split())
        words = words if len(words) <= 160 else words[:157] + "..."
        return f'{self.field} {self.value}: "{words}"' + (f" ({self.why})" if self.why else "")


LIST_FIELDS = ("adds", "drops")
FIELD_ORDER = ("version", "date", "size", "file", "sha256", "adds", "drops", "requires", "accepts_from", "one_way", "notes")
"""Fields of a release as a record writes them."""


@dataclass(frozen=True, slots=True)
class ReleaseEntry:
    """`line` of the list it was read from; `stated`: fields of a record; guesses beside them."""

    line: int
    stated: Mapping[str, Any]
    guesses: tuple[Guess, ...] = ()

    @property
    def version(self) -> str:
        return str(self.stated["version"])

    @property
    def date(self) -> str:
        return str(self.data().get("date", ""))

    def data(self) -> dict[str, Any]:
        """The release as a record has it, its guesses taken for true."""
        found = dict(self.stated)
        for guess in self.guesses:
            _put(found, guess.field, guess.value)
        return {name: found[name] for name in FIELD_ORDER if name in found}


@dataclass(frozen=True, slots=True)
class ListRemark:
    """Something to say of a list that is no field of a release: a doubt, or what was not used. `line` 0: of the whole list."""

    line: int
    text: str


@dataclass(frozen=True, slots=True)
class ReleaseList:
    """Releases, oldest first. `form`: how the text was read.

    `guessed_first`: families guessed for the oldest release; `known_first`: those that are known.
    """

    releases: tuple[ReleaseEntry, ...]
    form: str
    encoding: str = ""
    guessed_first: tuple[Guess, ...] = ()
    known_first: tuple[str, ...] = ()
    remarks: tuple[ListRemark, ...] = ()


def settled(entry: ReleaseEntry, guess: Guess, value: str | None) -> ReleaseEntry:
    """The entry with one guess decided: confirmed, changed to another value, or refused (None)."""
    rest = tuple(each for each in entry.guesses if each is not guess)
    stated = dict(entry.stated)
    if value is not None:
        for part in value.split(",") if guess.field in LIST_FIELDS else [value]:
            _put(stated, guess.field, part.strip())
    return replace(entry, stated=stated, guesses=rest)


def _put(data: dict[str, Any], name: str, value: str) -> None:
    if name in LIST_FIELDS:
        data[name] = list(dict.fromkeys([*data.get(name, ()), value]))
    else:
        data[name] = value == "true" if name == "one_way" else int(value) if name == "size" else value
