"""An entry of a list of releases, with its guesses, and what the cells of a table say: versions, dates, sizes, families."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_MONTH = (
    r"(?P<name>jan(?:uary)?|feb(?:ruary)?|mar(?:ch)?|apr(?:il)?|may|june?|july?|aug(?:ust)?|sept?(?:ember)?|oct(?:ober)?"
    r"|nov(?:ember)?|dec(?:ember)?)"
)
_FORMS = tuple(
    re.compile(form, re.IGNORECASE)
    for form in (
        r"(?<![\d.\-/])(?P<y>\d{4})(?P<mark>[-/.])(?P<m>\d{1,2})(?P=mark)(?P<d>\d{1,2})(?![\d/]|[.\-]\d)",
        r"(?<![\d.\-/])(?P<a>\d{1,2})(?P<mark>[-/.])(?P<b>\d{1,2})(?P=mark)(?P<y>\d{4})(?![\d/]|[.\-]\d)",
        rf"(?<![\d.])(?P<d>\d{{1,2}})(?:st|nd|rd|th)?[ \-/.]{{1,2}}(?:of )?{_MONTH}[,.]?[ \-/]{{1,2}}(?P<y>\d{{4}})(?!\d)",
        rf"(?<![a-z]){_MONTH}[. \-]{{1,2}}(?P<d>\d{{1,2}})(?:st|nd|rd|th)?,?[ \-]{{1,2}}(?P<y>\d{{4}})(?!\d)",
    )
)
_COMPACT = re.compile(r"(?P<y>\d{4})(?P<m>\d{2})(?P<d>\d{2})")
_AROUND = re.compile(
    r"[\s()\[\],:*_\-–—]*(?:(?:date|released?|release date|published|on|of|mon|tue|wed|thu|fri|sat|sun)[\s:.,]+)*", re.IGNORECASE
)
_CLOCK = re.compile(r"[T ]\d{1,2}:\d{2}(?::\d{2}(?:\.\d{1,6})?)?(?: ?(?:Z|UTC|[+-]\d{2}:?\d{2}))?")
YEARS = range(1980, 2200)
"""Years that a release can be from."""


@dataclass(frozen=True, slots=True)
class Dated:
    """A date as it stands in a text. `day_first`, `month_first`: what it is when read so; alike when there is one reading."""

    start: int
    end: int
    text: str
    day_first: date | None
    month_first: date | None

    @property
    def open(self) -> bool:
        """Whether day and month can be read either way."""
        return None not in (self.day_first, self.month_first) and self.day_first != self.month_first


@dataclass(frozen=True, slots=True)
class DayOrder:
    """Which of day and month comes first, and what that rests on: `sure`, `monotony` or `guess`."""

    day_first: bool
    because: str


def find_dates(text: str) -> Iterator[Dated]:
    """Every date in a text, those of one writing together."""
    for form in _FORMS:
        for found in form.finditer(text):
            dated = _dated(found)
            if dated is not None:
                yield dated


def first_date(text: str) -> Dated | None:
    """The first date in a text; None when there is none."""
    return min(find_dates(text), key=lambda found: found.start, default=None)


def whole_date(text: str) -> Dated | None:
    """The date when the text is nothing else, but for words such as "released" and a time of day."""
    text = text.strip()
    if len(text) > 60:
        return None
    compact = _COMPACT.fullmatch(text)
    found = _dated(compact) if compact else first_date(text)
    if found is None:
        return None
    before, after = text[: found.start], _CLOCK.sub("", text[found.end :])
    return found if _AROUND.fullmatch(f"{before} ") and not after.strip(" ()[].,:*_-–—") else None


def _dated(found: re.Match[str]) -> Dated | None:
    parts = found.groupdict()
    year = int(parts["y"])
    if "a" in parts:
        first, second = int(parts["a"]), int(parts["b"])
        by_day = _date(year, second, first)
        by_month = by_day if parts["mark"] == "." and by_day else _date(year, first, second)
    else:
        month = _MONTHS.index(parts["name"][:3].lower()) + 1 if parts.get("name") else int(parts["m"])
        by_day = by_month = _date(year, month, int(parts["d"]))
    if by_day is None and by_month is None:
        return None
    return Dated(found.start(), found.end(), found[0], by_day, by_month)


def _date(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day) if year in YEARS else None
    except ValueError:
        return None


def day_order(dates: Iterable[Dated]) -> DayOrder:
    """What comes first in this list, decided by any date that has one reading alone, else by which reading keeps the order."""
    found = [each for each in dates]
    only_day = any(each.month_first is None for each in found)
    only_month = any(each.day_first is None for each in found)
    if only_day != only_month:
        return DayOrder(only_day, "sure")
    if not any(each.open for each in found):
        return DayOrder(True, "sure")
    turns = {reading: _turns([read_as(each, DayOrder(reading, "")) for each in found]) for reading in (True, False)}
    if only_day or turns[True] == turns[False]:
        return DayOrder(True, "guess")
    return DayOrder(turns[True] < turns[False], "monotony")


def read_as(dated: Dated, order: DayOrder) -> date:
    """The date in this order; where it has only the other reading, that one."""
    first, second = (dated.day_first, dated.month_first) if order.day_first else (dated.month_first, dated.day_first)
    found = first or second
    assert found is not None  # one of the two is there
    return found


def _turns(dates: Sequence[date]) -> int:
    """How many neighbours go against the way in which most go."""
    pairs = list(itertools.pairwise(dates))
    return min(sum(a < b for a, b in pairs), sum(a > b for a, b in pairs))


MOST_VERSION = 40
_SIZE = re.compile(
    r"(?P<n>\d{1,3}(?:[ ,.']\d{3}){1,3}|\d{1,12}(?:[.,]\d{1,4})?)\s*(?P<unit>bytes?|[kmg]i?b|[kmg]bytes|b)?", re.IGNORECASE
)
_UNITS = {
    "": 1,
    "b": 1,
    "byte": 1,
    "bytes": 1,
    "kb": 1 << 10,
    "kib": 1 << 10,
    "mb": 1 << 20,
    "mib": 1 << 20,
    "gb": 1 << 30,
    "gib": 1 << 30,
    "kbytes": 1 << 10,
    "mbytes": 1 << 20,
    "gbytes": 1 << 30,
}
_SHA = re.compile(r"(?<![0-9a-fA-F])[0-9a-fA-F]{64}(?![0-9a-fA-F])")
_FILE = re.compile(r"[^\s/\\|<>\"']{1,100}\.(?:cap|rom|bin|fd|zip|img|efi|exe|hex|7z|rar|upd|flash)", re.IGNORECASE)
_CALLED = re.compile(
    r"(?:(?:firmware|bios|uefi|system|board|version|release|ver|rev|revision|build)\b\.?[\s:#]*){1,4}", re.IGNORECASE
)
_DECOR = " \t*_#`[]()<>:,"


def bare_version(text: str) -> str:
    """A version as published, without what stands around it: "Version 1.12:" is 1.12."""
    text = text.strip(_DECOR)
    called = _CALLED.match(text)
    rest = text[called.end() :].strip(_DECOR) if called else text
    return rest or text


def is_version(text: str) -> bool:
    """Whether it can be a version: short, with a digit, and nothing else that is known."""
    text = bare_version(text)
    if not 1 <= len(text) <= MOST_VERSION or not any(c.isdigit() for c in text) or len(text.split()) > 3:
        return False
    return not (whole_date(text) or is_file(text) or _SHA.search(text) or has_unit(text))


def has_unit(text: str) -> bool:
    """Whether the text is a number with a unit of size, such as 16 MB."""
    found = _SIZE.fullmatch(text.strip())
    return bool(found and found["unit"])


def is_size(text: str) -> bool:
    """Whether it is a size: a number with a unit, or the bytes of a chip."""
    text = text.strip()
    return has_unit(text) or (text.isdecimal() and 5 <= len(text) <= 10 and int(text) & (int(text) - 1) == 0)


def size_of(text: str) -> tuple[int, bool]:
    """Bytes, and whether that is exact; 0 for what is no size. Chips hold powers of two, so "16 MB" is taken as 16 MiB."""
    found = _SIZE.fullmatch(text.strip())
    if not found:
        return 0, False
    number, unit = found["n"], _UNITS[(found["unit"] or "").lower()]
    if unit == 1:
        digits = re.sub(r"\D", "", number)
        return int(digits), "." not in number or bool(re.fullmatch(r"\d{1,3}(?:\.\d{3})+", number))
    value = number.replace("'", "").replace(" ", "").replace(",", ".")
    size = float(value) * unit if value.count(".") < 2 else 0.0
    whole = size.is_integer() and size > 0 and int(size) & (int(size) - 1) == 0
    return (int(size), False) if whole else (0, False)


def sha_of(text: str) -> str:
    """The SHA-256 in a text, in small letters."""
    found = _SHA.search(text)
    return found[0].lower() if found else ""


def is_file(text: str) -> bool:
    """Whether it is the name of an image or an archive."""
    return bool(_FILE.fullmatch(text.strip()))


def version_key(text: str) -> str:
    """What two writings of one version have in common: letter case and a "v" before it do not count."""
    key = " ".join(bare_version(text).casefold().split())
    return key[1:].lstrip(".") if key.startswith("v") and key[1:].lstrip(".")[:1].isdigit() else key


def shape(text: str) -> str:
    """How a version is built: digits as 9, letters as a."""
    return re.sub(r"[a-z]+", "a", re.sub(r"\d+", "9", text.casefold()))


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
