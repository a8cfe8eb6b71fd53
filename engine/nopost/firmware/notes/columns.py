"""Which column of a table holds what: by its heading, else by what stands in it."""

from __future__ import annotations

import re
from collections.abc import Sequence

from nopost.firmware.notes.cells import is_file, is_size, is_version, sha_of
from nopost.firmware.notes.dates import whole_date

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
    """Place -> column."""
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
