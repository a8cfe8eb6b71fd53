"""A text as rows of a table: delimiter, quotes, Markdown and aligned columns found out; which column holds what is
told by its heading, else by what stands in it.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from nopost.firmware.release_list.cell_values import is_file, is_size, is_version, sha_of, whole_date

_HEADINGS = {
    "requires": r"requires?|prerequisites?|needs( first)?|needed( first)?|before|install first",
    "accepts_from": r"accepts? from|minimum( version| release)?|lowest( version| release)?|update from|from version|min version",
    "adds": r"adds|added( cpus?| families)?|new (cpus?|processors?|families)|gained|cpus? added|families (added|gained)",
    "drops": r"drops|dropped( cpus?| families)?|removed( cpus?| families)?|lost|cpus? (removed|dropped)|families (removed|lost)",
    "one_way": r"one way|no way back|irreversible",
    "sha256": r"sha ?-?256( sum)?|check ?sum|hash|digest",
    "size": r"(file |image )?size( in bytes)?|bytes|length",
    "file": r"(image |archive )?file( ?name)?|image|download|archive|package",
    "date": r"(release |publish(ing|ed)? |publication )?date|released( on)?|published( on)?|day|when",
    "version": r"(firmware |bios |uefi |release )?(version|ver|revision|rev|build|number)( number| no)?|release"
    r"|firmware|bios|uefi|name",
    "notes": r"(release |change )?notes?|description|changes|change ?log|details|remarks?|comments?|what is new"
    r"|whats new|text|summary",
}
_TRUE = re.compile(r"y|yes|true|x|1|one.way", re.IGNORECASE)


def named(cells: Sequence[str]) -> dict[int, str]:
    """Place -> column, when the cells are headings; each column once."""
    found: dict[int, str] = {}
    for index, cell in enumerate(cells):
        words = " ".join(re.sub(r"[^a-z0-9 -]", "", cell.replace("_", " ").lower().replace("-", " ").strip()).split())
        name = next((name for name, form in _HEADINGS.items() if re.fullmatch(form, words)), "")
        if name and name not in found.values():
            found[index] = name
    return found


def is_heading(cells: Sequence[str]) -> bool:
    """Whether a row names columns: two known names and no value of its own."""
    return len(named(cells)) >= min(2, len(cells)) and bool(named(cells)) and not any(whole_date(cell) for cell in cells)


def columns_of(heading: Sequence[str], rows: Sequence[Sequence[str]]) -> dict[int, str]:
    """Place of a cell in its row -> name of the column."""
    found = named(heading)
    width = max((len(row) for row in rows), default=0)
    columns = [[row[i].strip() for row in rows if i < len(row) and row[i].strip()] for i in range(width)]
    swapped = next((i for i, name in found.items() if name == "version" and _share(columns, i, whole_date) > 0.7), None)
    if swapped is not None:  # "Release" can head the dates
        found[swapped] = "date"
        found = {i: name for i, name in found.items() if name != "date" or i == swapped}
    for name, test in (("sha256", sha_of), ("date", whole_date), ("file", is_file), ("size", is_size), ("version", is_version)):
        if name not in found.values():
            free = [i for i in range(width) if i not in found and _share(columns, i, test) > 0.6]
            if name == "version":
                free.sort(key=lambda i: (-len(set(columns[i])), i))
            if free:
                found[free[0]] = name
    if "notes" not in found.values():
        free = [i for i in range(width) if i not in found and columns[i]]
        if free:
            found[max(free, key=lambda i: sum(map(len, columns[i])))] = "notes"
    return found


def _share(columns: Sequence[Sequence[str]], index: int, test: object) -> float:
    cells = columns[index][:200] if index < len(columns) else ()
    return sum(bool(test(cell)) for cell in cells) / len(cells) if cells and callable(test) else 0.0


def is_true(text: str) -> bool:
    """Whether a cell of a yes-or-no column says yes."""
    return bool(_TRUE.fullmatch(text.strip()))


MOST_ROWS = 5000
"""So many rows are read."""
MOST_CELLS = 60
"""So many cells of a row; what is more stays in the last."""
_GLUE = {"commas": ", ", "semicolons": "; ", "bars": " | "}
_BREAK = re.compile(r"\s*<br\s?/?>\s*", re.IGNORECASE)
_RULE = re.compile(r"[\s|+:=\-]*")


@dataclass(frozen=True, slots=True)
class ListRow:
    """One release as it stands in the text: its line, and column -> text."""

    line: int
    cells: dict[str, str]


@dataclass(frozen=True, slots=True)
class ListTable:
    """Rows in the order of the text; `unused`: headings of columns that no record has a place for."""

    rows: tuple[ListRow, ...]
    form: str
    unused: tuple[str, ...] = ()


Raw = tuple[int, list[str]]


def read_table(text: str) -> ListTable | None:
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


def _table(rows: list[Raw], form: str) -> ListTable:
    top = next((i for i, (_, cells) in enumerate(rows[:10]) if is_heading(cells)), None)
    heading = rows[top][1] if top is not None else []
    body = rows[top + 1 :] if top is not None else rows
    body = [(n, cells) for n, cells in body if cells != heading]
    sample = [cells for _, cells in body if _is_release(cells)] or [cells for _, cells in body]
    columns = columns_of(heading, sample)
    width = len(heading) or max((len(cells) for cells in sample), default=0)
    found: list[ListRow] = []
    for number, cells in body[:MOST_ROWS]:
        row = _row(number, cells, columns, width, _GLUE.get(form, " "))
        if found and not row.cells.get("version") and not row.cells.get("date"):
            notes = [found[-1].cells.get("notes", ""), row.cells.get("notes", "") or " ".join(cells)]
            found[-1].cells["notes"] = "\n".join(filter(None, notes))
        elif row.cells:
            found.append(row)
    unused = tuple(cell for i, cell in enumerate(heading) if i not in columns and cell.strip())
    return ListTable(tuple(found), form, unused)


def _row(number: int, cells: list[str], columns: dict[int, str], width: int, glue: str) -> ListRow:
    """Cells by column; with more cells than columns the mark stands in the notes, so what is too much is theirs."""
    notes = next((i for i, name in columns.items() if name == "notes"), None)
    extra = len(cells) - width
    if extra > 0 and notes is not None and notes < width:
        cells = [*cells[:notes], glue.join(cells[notes : notes + extra + 1]), *cells[notes + extra + 1 :]]
    return ListRow(number, {columns[i]: cell.strip() for i, cell in enumerate(cells) if i in columns and cell.strip()})
