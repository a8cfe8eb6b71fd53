"""Code tables indexed for look-up: the rows that a code names, and its place in the normal order of a start-up."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from nopost.codes.code_events import BRANCH_PHASES, CodeForm
from nopost.errors import UnknownNameError
from nopost.knowledge.reference_records import Code, CodeTable
from nopost.knowledge.roles import Roles

WIDTHS = (2, 4, 8)
"""Digits of a hex code."""
HEX_DIGITS = frozenset("0123456789ABCDEF")
REMEMBERED = 4096
"""Codes whose rows are kept; text that was never a code must not fill the memory."""


@dataclass(frozen=True, slots=True)
class _Range:
    """Codes of one width from `low` to `high`, both included; `head` comes before the number."""

    head: str
    width: int
    low: int
    high: int
    row: int


@dataclass(frozen=True, slots=True)
class MatchedRows:
    """Rows of a table that a code names, as positions. `wide`: only the low byte of a longer code fits."""

    rows: tuple[int, ...] = ()
    wide: bool = False


class IndexedTable:
    """One code table with its look-up. Codes are compared without regard to case in the hex form."""

    def __init__(self, table: CodeTable) -> None:
        self.table = table
        self.id = table.id
        self.form = CodeForm(table.form)
        self.generic = table.generic
        self.weight = table.weight
        self.codes = table.codes
        self._exact: dict[str, list[int]] = {}
        self._low: dict[str, list[int]] = {}
        self._status: dict[str, list[int]] = {}
        self._ranges: list[_Range] = []
        self._found: dict[str, MatchedRows] = {}
        self._places: dict[str, float | None] = {}
        for row, code in enumerate(table.codes):
            self._enter(row, code)
        in_order = [row for row, code in enumerate(table.codes) if code.kind != "error" and code.phase not in BRANCH_PHASES]
        self._steps = {row: step for step, row in enumerate(in_order)}
        self._spans = {span.row: span for span in self._ranges}
        last = self._spans.get(in_order[-1]) if in_order else None
        self._length = max(1.0, len(in_order) - 1 + ((last.high - last.low) / (last.high - last.low + 1) if last else 0.0))

    def _enter(self, row: int, code: Code) -> None:
        if code.status:
            self._status.setdefault(code.status, []).append(row)
        span = _range(code.code, row) if self.form in (CodeForm.HEX, CodeForm.FIRMWARE_EVENTS) else None
        if span is not None:
            self._ranges.append(span)
            return
        self._exact.setdefault(code.code if self.form is CodeForm.HEX else code.code.casefold(), []).append(row)
        if self.form is CodeForm.HEX and self.table.low_byte and len(code.code) > 2:
            self._low.setdefault(code.code[-2:], []).append(row)

    def look_up(self, code: str) -> MatchedRows:
        """Rows of a code in the order of the table: exact, then ranges, then low byte; a status value finds its rows."""
        found = self._found.get(code)
        if found is None:
            found = self._search(code)
            if len(self._found) < REMEMBERED:
                self._found[code] = found
        return found

    def _search(self, code: str) -> MatchedRows:
        if self.form is not CodeForm.HEX:
            name = code.strip().casefold()
            return MatchedRows((*self._exact.get(name, ()), *self._in_ranges(name.upper())))
        name = code.strip().upper()
        short = _without_padding(name)
        rows = [*self._exact.get(name, ()), *self._in_ranges(name)]
        if not rows and short != name:
            rows = [*self._exact.get(short, ()), *self._in_ranges(short)]
        if len(short) == 2:
            rows += self._low.get(short, ())
        if len(name) == 8:
            rows += self._status.get(name, ())
        if rows or not self.table.low_byte or len(short) not in WIDTHS or not HEX_DIGITS.issuperset(short):
            return MatchedRows(tuple(rows))
        return self._by_low_byte(short[-2:])

    def _by_low_byte(self, byte: str) -> MatchedRows:
        """A longer word that the table does not have, read by its low byte."""
        rows = (*self._exact.get(byte, ()), *self._in_ranges(byte), *self._low.get(byte, ()))
        return MatchedRows(rows, wide=True)

    def _in_ranges(self, code: str) -> list[int]:
        if not self._ranges:
            return []
        head, digits = _head(code)
        value = _number(digits)
        return [r.row for r in self._ranges if r.head == head and r.width == len(digits) and r.low <= value <= r.high]

    def find(self, code: str, kind: str = "") -> list[Code]:
        """All rows of a code, progress and error rows alike; with `kind`, only rows of that kind where there are any."""
        rows = [self.codes[row] for row in self.look_up(code).rows]
        wanted = [c for c in rows if (c.kind == "error") == (kind == "error")] if kind else rows
        return wanted or rows

    def place(self, code: str) -> float | None:
        """Where in the normal order a code stands, 0 the first to 1 the last step; None for error codes, for codes of recovery,
        resume or any phase, and for codes that the table does not have. Inside a range it rises with the number."""
        if code not in self._places:
            if len(self._places) >= REMEMBERED:
                return self._place(code)
            self._places[code] = self._place(code)
        return self._places[code]

    def _place(self, code: str) -> float | None:
        for row in self.look_up(code).rows:
            if row in self._steps:
                return (self._steps[row] + self._inside(row, code)) / self._length
        return None

    def _inside(self, row: int, code: str) -> float:
        """How far inside the range of the row, 0 to below 1."""
        span = self._spans.get(row)
        if span is None:
            return 0.0
        return (_number(_head(code.strip().upper())[1][-span.width :]) - span.low) / (span.high - span.low + 1)


NO_ROLES = Roles()


class TableSet:
    """The code tables of a knowledge base, by id, and its `roles`: which findings their codes answer."""

    def __init__(self, tables: Mapping[str, CodeTable], roles: Roles = NO_ROLES) -> None:
        self.roles = roles
        self.tables = {name: IndexedTable(table) for name, table in sorted(tables.items())}
        self._of_form = {form: [t for t in self.tables.values() if t.form is form] for form in CodeForm}

    def of_form(self, form: CodeForm) -> list[IndexedTable]:
        """The tables of one form in order of id, generic ones too."""
        return list(self._of_form[form])

    def named(self, name: str) -> IndexedTable:
        """The table with this id; UnknownNameError with the nearest ids when there is none."""
        if name not in self.tables:
            raise UnknownNameError("code table", name, self.tables)
        return self.tables[name]

    def form_of(self, codes: Iterable[str]) -> CodeForm:
        """The form whose tables know most of these codes; hex when none stands out."""
        seen = set(codes)
        known = {
            form: max((sum(bool(t.look_up(c).rows) for c in seen) for t in self._of_form[form]), default=0) for form in CodeForm
        }
        best = max(known.values())
        return CodeForm.HEX if known[CodeForm.HEX] == best else max(known, key=known.__getitem__)


def _without_padding(code: str) -> str:
    """A longer hex code without the leading zero bytes that only fill it up: 0092 is 92."""
    while len(code) in (4, 8) and code.startswith("0" * (len(code) // 2)):
        code = code[len(code) // 2 :]
    return code


def _head(code: str) -> tuple[str, str]:
    """What stands up to a colon, and the rest."""
    head, colon, digits = code.rpartition(":")
    return head + colon, digits


def _number(digits: str) -> int:
    """The value of hex digits; -1 when it is something else."""
    return int(digits, 16) if digits and HEX_DIGITS.issuperset(digits) and len(digits) <= max(WIDTHS) else -1


def _range(code: str, row: int) -> _Range | None:
    """A range such as 10-1F or 01:C0-FF; None for a single code."""
    head, digits = _head(code)
    low, dash, high = digits.partition("-")
    return _Range(head, len(low), _number(low), _number(high), row) if dash else None
