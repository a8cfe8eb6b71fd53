"""A text as rows of a table: delimiter, quotes, markdown and aligned columns found out."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from nopost.firmware.notes.cells import is_version
from nopost.firmware.notes.columns import columns_of, is_heading, named
from nopost.firmware.notes.dates import whole_date

MOST_ROWS = 5000
"""So many rows are read."""
MOST_CELLS = 60
"""So many cells of a row; what is more stays in the last."""
_GLUE = {"commas": ", ", "semicolons": "; ", "bars": " | "}
_BREAK = re.compile(r"\s*<br\s?/?>\s*", re.IGNORECASE)
_RULE = re.compile(r"[\s|+:=\-]*")


@dataclass(frozen=True, slots=True)
class Row:
    """One release as it stands in the text: its line, and column -> text."""

    line: int
    cells: dict[str, str]


@dataclass(frozen=True, slots=True)
class Table:
    """Rows in the order of the text; `unused`: headings of columns that no record has a place for."""

    rows: tuple[Row, ...]
    form: str
    unused: tuple[str, ...] = ()


Raw = tuple[int, list[str]]


def read_table(text: str) -> Table | None:
    """The table, or None when the text is none."""
    best: tuple[float, str, list[Raw]] = (0.0, "", [])
    for form, rows in _readings(text):
        score = _score(rows)
        if score > best[0] + 1e-9:
            best = (score, form, rows)
    return _table(best[2], best[1]) if best[0] else None


def _readings(text: str) -> Iterator[tuple[str, list[Raw]]]:
    for mark, form in (("\t", "tabs"), ("|", "bars"), (";", "semicolons"), (",", "commas")):
        if mark in text:
            for quoted in (True, False):
                rows = _barred(text) if mark == "|" else _split(text, mark, quoted)
                yield form, rows
    yield "aligned columns", [(n, re.split(r"[ \t]{2,}", row.strip(), maxsplit=MOST_CELLS)) for n, row in _lines(text)]


def _lines(text: str) -> list[tuple[int, str]]:
    return [(n, row) for n, row in enumerate(text.split("\n"), 1) if row.strip()][: 4 * MOST_ROWS]


def _barred(text: str) -> list[Raw]:
    rows = []
    for number, row in _lines(text):
        if "|" in row and not _RULE.fullmatch(row):
            inner = row.strip().removeprefix("|")
            inner = inner[:-1] if inner.endswith("|") and not inner.endswith("\\|") else inner
            rows.append(
                (
                    number,
                    [
                        _BREAK.sub("\n", cell.replace("\\|", "|")).strip(" *`")
                        for cell in re.split(r"(?<!\\)\|", inner, maxsplit=MOST_CELLS)
                    ],
                )
            )
    return rows


def _split(text: str, mark: str, quoted: bool) -> list[Raw]:
    reader = csv.reader(
        io.StringIO(text, newline=""),
        delimiter=mark,
        quoting=csv.QUOTE_MINIMAL if quoted else csv.QUOTE_NONE,
        skipinitialspace=True,
    )
    rows: list[Raw] = []
    before = 0
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                rows.append((before + 1, _few([cell.strip() for cell in cells], mark)))
            before = reader.line_num
            if len(rows) > 4 * MOST_ROWS:
                break
    except csv.Error:  # a field of more than 128 KiB: an open quote
        return []
    return rows


def _few(cells: list[str], mark: str) -> list[str]:
    """No more cells than are looked at; dates with a comma whole."""
    if len(cells) > MOST_CELLS:
        cells = [*cells[: MOST_CELLS - 1], mark.join(cells[MOST_CELLS - 1 :])]
    return _joined(cells) if mark == "," else cells


def _joined(cells: list[str]) -> list[str]:
    """Cells with dates such as "May 17, 2031" whole again."""
    found: list[str] = []
    for cell in cells:
        if found and re.fullmatch(r"\d{4}", cell) and whole_date(f"{found[-1]}, {cell}") and not whole_date(found[-1]):
            found[-1] = f"{found[-1]}, {cell}"
        else:
            found.append(cell)
    return found


def _score(rows: Sequence[Raw]) -> float:
    """How much it looks like a table of releases: rows with a date and a version in cells of their own."""
    rows = rows[:400]
    good = sum(_is_release(cells) for _, cells in rows)
    if good * 2 >= len(rows) and good:
        widths = [len(cells) for _, cells in rows]
        return good + 0.5 * max(map(widths.count, set(widths))) / len(widths)
    headed = bool(rows) and is_heading(rows[0][1]) and "version" in named(rows[0][1]).values() and len(rows[0][1]) > 1
    return 0.5 * (len(rows) - 1) if headed else 0.0


def _is_release(cells: Sequence[str]) -> bool:
    return len(cells) > 1 and any(whole_date(c) for c in cells) and any(is_version(c) for c in cells if len(c) <= 60)


def _table(rows: list[Raw], form: str) -> Table:
    top = next((i for i, (_, cells) in enumerate(rows[:10]) if is_heading(cells)), None)
    heading = rows[top][1] if top is not None else []
    body = rows[top + 1 :] if top is not None else rows
    body = [(n, cells) for n, cells in body if cells != heading]
    sample = [cells for _, cells in body if _is_release(cells)] or [cells for _, cells in body]
    columns = columns_of(heading, sample)
    width = len(heading) or max((len(cells) for cells in sample), default=0)
    found: list[Row] = []
    for number, cells in body[:MOST_ROWS]:
        row = _row(number, cells, columns, width, _GLUE.get(form, " "))
        if found and not row.cells.get("version") and not row.cells.get("date"):
            notes = [found[-1].cells.get("notes", ""), row.cells.get("notes", "") or " ".join(cells)]
            found[-1].cells["notes"] = "\n".join(filter(None, notes))
        elif row.cells:
            found.append(row)
    unused = tuple(cell for i, cell in enumerate(heading) if i not in columns and cell.strip())
    return Table(tuple(found), form, unused)


def _row(number: int, cells: list[str], columns: dict[int, str], width: int, glue: str) -> Row:
    """Cells by column; with more cells than columns the mark stands in the notes, so what is too much is theirs."""
    notes = next((i for i, name in columns.items() if name == "notes"), None)
    extra = len(cells) - width
    if extra > 0 and notes is not None and notes < width:
        cells = [*cells[:notes], glue.join(cells[notes : notes + extra + 1]), *cells[notes + extra + 1 :]]
    return Row(number, {columns[i]: cell.strip() for i, cell in enumerate(cells) if i in columns and cell.strip()})
