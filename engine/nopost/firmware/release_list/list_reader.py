"""A release list, from bytes to entries in their order, with what its notes tell: encoding found out, size bounded,
what no record may hold taken out.
"""

from __future__ import annotations

import codecs
import re
from collections.abc import Iterator, Mapping, Sequence
from types import MappingProxyType
from typing import Any

from nopost.errors import KnowledgeError, RecordError
from nopost.firmware.release_list.cell_values import (
    Dated,
    DayOrder,
    Guess,
    ListRemark,
    ReleaseEntry,
    ReleaseList,
    bare_version,
    day_order,
    first_date,
    read_as,
    sha_of,
    size_of,
)
from nopost.firmware.release_list.note_meaning import in_order, with_base, with_meaning, without_decided
from nopost.firmware.release_list.prose import Families, family_words
from nopost.firmware.release_list.table_rows import ListRow, is_true, read_table
from nopost.firmware.release_list.text_blocks import read_blocks
from nopost.knowledge.problem import Problem
from nopost.text import without_controls

MOST_BYTES = 2 * 1024 * 1024
"""More is no list of releases."""
_BREAKS = re.compile("\r\n?|[\x0b\x0c\x85\u2028\u2029]")
_SPACES = re.compile("[\ufeff\u00a0\u1680\u2000-\u200b\u202f\u205f\u3000]")
_BOMS = (
    (codecs.BOM_UTF8, "utf-8", "UTF-8"),
    (codecs.BOM_UTF16_LE, "utf-16-le", "UTF-16"),
    (codecs.BOM_UTF16_BE, "utf-16-be", "UTF-16"),
)


def decode(raw: bytes, name: str) -> tuple[str, str]:
    """Text and the name of its encoding. Raises RecordError for what is too large, or is no text."""
    if len(raw) > MOST_BYTES:
        raise RecordError(f"{name}: larger than 2 MB, which no list of releases is; save the list alone")
    text, encoding = _decoded(raw)
    if text.count("\0") > len(text) // 100:
        raise RecordError(f"{name}: this is not text; save the list as .csv, .tsv or .txt")
    return tidy(text), encoding


def tidy(text: str) -> str:
    """Text with plain line breaks and spaces, without characters that a record must not hold."""
    return without_controls(_SPACES.sub(" ", _BREAKS.sub("\n", text)), "\t\n", " ")


def _decoded(raw: bytes) -> tuple[str, str]:
    for bom, codec, shown in _BOMS:
        if raw.startswith(bom):
            return raw[len(bom) :].decode(codec, "replace"), shown
    half = len(raw) // 2
    if half > 4:  # UTF-16 without its mark: in plain text every second byte is zero
        for codec, offset in (("utf-16-le", 1), ("utf-16-be", 0)):
            if raw[offset::2].count(0) > half * 0.7 and raw[1 - offset :: 2].count(0) < half * 0.1:
                return raw.decode(codec, "replace"), "UTF-16"
    try:
        return raw.decode("utf-8"), "UTF-8"
    except UnicodeDecodeError:
        pass
    try:
        return raw.decode("cp1252"), "Latin-1"
    except UnicodeDecodeError:
        return raw.decode("latin-1"), "Latin-1"


MOST_NOTES = 1500
"""Characters that a record's notes can have."""
MOST_PROBLEMS = 50
"""No more are reported at once."""
_BETA = re.compile(r"\b(?:beta|test (?:release|version)|preview|release candidate)\b", re.IGNORECASE)


def read_list(
    raw: bytes,
    name: str,
    families: Families = Families(),  # noqa: B008  # frozen and empty
    base: Mapping[str, Any] = MappingProxyType({}),
) -> ReleaseList:
    """The releases of a list, and those of a board record that it comes to.

    Raises RecordError when there are none, KnowledgeError with lines for what cannot be used.
    """
    text, encoding = decode(raw, name)
    rows, form, unused = _rows(text)
    if not rows:
        raise RecordError(
            f"{name}: no release was found in it; each needs its version and its date, in columns or below each other"
        )
    dated = [first_date(row.cells.get("date", "")) for row in rows]
    problems = list(_problems(name, rows, dated))
    if problems:
        raise KnowledgeError(problems[:MOST_PROBLEMS])
    order = day_order(each for each in dated if each)
    entries = [_entry(row, each, order, families) for row, each in zip(rows, dated, strict=True) if each]
    remarks = [ListRemark(0, f"column {column!r} was not used") for column in unused]
    remarks += [remark for row in rows for remark in _remarks(row)]
    found, doubts = in_order(_once(entries, remarks))
    first = tuple(base.get("firmware", {}).get("first_families", ()))
    listed = ReleaseList(tuple(with_base(found, base)), form, encoding, (), first, (*remarks, *doubts))
    return without_decided(with_meaning(listed, families), base)


def _rows(text: str) -> tuple[Sequence[ListRow], str, tuple[str, ...]]:
    table = read_table(text)
    rows = [row for row in table.rows if row.cells.get("version") or row.cells.get("date")] if table else []
    if table and any(row.cells.get("version") for row in rows):
        return rows, f"table, {table.form}", table.unused
    return read_blocks(text), "blocks", ()


def _problems(name: str, rows: Sequence[ListRow], dated: Sequence[Dated | None]) -> Iterator[Problem]:
    for row, date in zip(rows, dated, strict=True):
        version = bare_version(row.cells.get("version", ""))
        if not version:
            yield Problem(
                name, row.line, "no-version", "this release has no version", "write it into the list, or delete the row"
            )
        elif len(version) > 40:
            yield Problem(name, row.line, "long-version", f"{version[:30]}... is too long for a version", "shorten it")
        if date is None:
            said = row.cells.get("date", "")
            what = f"{said[:40]!r} is no full date" if said else "this release has no date"
            yield Problem(name, row.line, "no-date", f"{version[:40]}: {what}", "write it as 2031-05-17")


def _entry(row: ListRow, date: Dated, order: DayOrder, families: Families) -> ReleaseEntry:
    cells = row.cells
    day = read_as(date, order).isoformat()
    stated: dict[str, Any] = {"version": bare_version(cells["version"]), "date": day}
    guesses = []
    if date.open and order.because != "sure":
        first = "the day" if order.day_first else "the month"
        rests = "so the dates keep their order" if order.because == "monotony" else "nothing in the list settles it"
        guesses.append(Guess("date", day, date.text, f"{first} read first: {rests}"))
    size, exact = size_of(cells.get("size", ""))
    if 0 < size <= 1 << 30:
        stated |= {"size": size} if exact else {}
        guesses += [] if exact else [Guess("size", str(size), cells["size"], "bytes of a chip of that size")]
    if sha := sha_of(cells.get("sha256", "")):
        stated["sha256"] = sha
    if file := cells.get("file", "").strip():
        stated["file"] = file[:120]
    if len(notes := _notes(cells.get("notes", ""))) >= 3:
        stated["notes"] = notes
    for name in ("requires", "accepts_from"):
        if any(c.isdigit() for c in cells.get(name, "")):
            stated[name] = cells[name][:120]
    if is_true(cells.get("one_way", "")):
        stated["one_way"] = True
    for guess in _listed_families(cells, families):
        if guess.why:
            guesses.append(guess)
        else:
            stated[guess.field] = [*stated.get(guess.field, ()), guess.value]
    return ReleaseEntry(row.line, stated, tuple(guesses))


def _listed_families(cells: dict[str, str], families: Families) -> Iterator[Guess]:
    for name in ("adds", "drops"):
        for family, known in family_words(cells.get(name, ""), families):
            said = known or re.search(rf"(?<![\w-]){re.escape(family)}(?![\w-])", cells[name])
            yield Guess(name, family, cells[name], "" if said else "an id made from these words")


def _notes(text: str) -> str:
    """Lines as sentences, cut where a record's notes end."""
    lines = [re.sub(r"^\s*(?:[-*•·‣–—]|\d{1,2}[.)])\s+", "", line).strip() for line in text.split("\n")]
    found = " ".join(line if line[-1] in ".!?:;," else f"{line}." for line in lines if line)
    found = " ".join(found.split())
    found = (
        found[:-1] if found.endswith(".") and len([line for line in lines if line]) == 1 and not lines[0].endswith(".") else found
    )
    return found if len(found) <= MOST_NOTES else found[: MOST_NOTES - 4].rsplit(" ", 1)[0] + " ..."


def _remarks(row: ListRow) -> Iterator[ListRemark]:
    version, size = bare_version(row.cells.get("version", "")), row.cells.get("size", "")
    if size and not size_of(size)[0]:
        yield ListRemark(
            row.line, f"{version}: size {size[:40]!r} is not that of a chip (a download's, or rounded), so it was not taken"
        )
    if row.cells.get("sha256") and not sha_of(row.cells["sha256"]):
        yield ListRemark(row.line, f"{version}: the check sum is no SHA-256, so it was not taken")
    if _BETA.search(f"{row.cells['version']} {row.cells.get('notes', '')}"):
        yield ListRemark(row.line, f"{version}: its words call it a test release")


def _once(entries: Sequence[ReleaseEntry], remarks: list[ListRemark]) -> list[ReleaseEntry]:
    """Entries without repetitions of a version on the same day."""
    seen: dict[tuple[str, str], ReleaseEntry] = {}
    for entry in entries:
        key = (entry.version, entry.date)
        if key in seen:
            remarks.append(
                ListRemark(
                    entry.line, f"{entry.version} stands twice with one date: the first was taken, from line {seen[key].line}"
                )
            )
        else:
            seen[key] = entry
    return list(seen.values())
