"""A text of blocks: a line with the version, one with the date, then notes, in any of the usual arrangements."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field

from nopost.firmware.release_list.cell_values import bare_version, first_date, has_unit, is_file, is_version, sha_of, whole_date
from nopost.firmware.release_list.table_rows import MOST_ROWS, ListRow

_BULLET = re.compile(r"^\s*(?:[-*•·‣–—+o]|\d{1,2}[.)])\s+")
_KEY = re.compile(
    r"\s*(?:[*_]{0,2})(?P<key>(?:firmware |bios |uefi |release )?(?:version|ver\.?|release|build)|"
    r"(?:release )?date|released(?: on)?|published"
    r"|(?:file |image )?size|sha-?256|checksum|file(?: ?name)?|image|description|notes|changes"
    r"|change ?log)(?:[*_]{0,2})\s*[:=]\s*(?P<value>.*)",
    re.IGNORECASE,
)
_CALLED = re.compile(
    r"\s*(?:[#*_=\[]{0,6}\s*)(?:(?:firmware|bios|uefi|system)\s+)?(?:version|ver\.?|release|build)\s+#?(?=\S*\d)(?P<rest>\S.*)",
    re.IGNORECASE,
)
_MARKED = re.compile(r"\s*(?:#{1,6}\s+|\*\*|__|\[|=+\s)(?P<rest>.+)")
_FURNITURE = re.compile(
    r"\s*(?:(?:firmware |bios |uefi )?(?:version|release)|download(?: now)?|show (?:more|less))\s*:?\s*", re.IGNORECASE
)
"""Lines that a page puts around its releases."""
_SIZE_LAST = re.compile(r"[\s,;(|]+(?P<size>\d{1,12}(?:[.,]\d{1,4})?\s?(?:[kmg]i?b|[kmg]bytes|bytes))[\s)]*$", re.IGNORECASE)
_EDGE = " \t-–—:;,.()[]*_#=|"
_VERSION_FIRST = re.compile(r"((?:(?:version|release|ver|v)\.?\s+)?\S{1,40}?)\s*[:\-–|]?\s+(?=\S)", re.IGNORECASE)
_JUST = re.compile(r"[\s()\[\],:;*_#|=\-–—]*(?:(?:date|released?|dated|published|on|of|from)[\s:,()]*)*", re.IGNORECASE)


@dataclass(slots=True)
class _Block:
    line: int
    cells: dict[str, str] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)


def read_blocks(text: str) -> tuple[ListRow, ...]:
    """One row for each block, in the order of the text."""
    reader = _BlockReader()
    for number, line in enumerate(text.split("\n"), 1):
        reader.take(number, line)
        if len(reader.blocks) > MOST_ROWS:
            break
    left = (ListRow(reader.coming_at, {"date": reader.coming}),) if reader.coming and reader.dates_lead else ()
    return (*(_row(block) for block in reader.blocks), *left)  # a date over: each may stand at the wrong version


def _row(block: _Block) -> ListRow:
    notes = "\n".join(block.notes)
    return ListRow(block.line, {**block.cells, **({"notes": notes} if notes else {})})


class _BlockReader:
    """Takes line after line. A date that comes where the block has one already, or before the first, is the next one's."""

    def __init__(self) -> None:
        self.blocks: list[_Block] = []
        self.coming, self.coming_at = "", 0
        self.dates_lead = False
        self.blank = True
        self.lone: tuple[int, str] | None = None

    def take(self, number: int, line: str) -> None:
        if not line.strip():
            self.blank = True
            return
        if _FURNITURE.fullmatch(line):
            self.blank = self.blank or line.strip(_EDGE).casefold().endswith(("version", "release"))
            return
        lone, self.lone = self.lone, None
        if lone and (whole_date(line) or _dated_size(line)) and not self.dates_lead:
            self._was_heading(*lone)
        begins = self._keyed(number, line) or self._both(line) or self._headed(number, line) or self._led(number, line)
        if not (begins or self._dated(line, number) or self._single(line)) and self.blocks:
            self._note(line)
        if not begins and " " not in line.strip() and not _BULLET.match(line) and _heading(line)[0]:
            self.lone = (number, _heading(line)[0])
        self.blank = False

    def _was_heading(self, number: int, version: str) -> None:
        """A date below a line that is nothing but a version: that line was no note, also without a blank line above it."""
        if self.blocks and self.blocks[-1].notes:
            self.blocks[-1].notes.pop()
        self._begin(number, version, "")

    def _note(self, line: str) -> None:
        """A line of notes; one that begins small goes on with the line before."""
        notes = self.blocks[-1].notes
        text = line.strip()
        if notes and not self.blank and text[:1].islower() and not _BULLET.match(line):
            notes[-1] += f" {text}"
        else:
            notes.append(_BULLET.sub("", line, count=1).strip())

    def _begin(self, number: int, version: str, date: str) -> None:
        block = _Block(number, {"version": version})
        if date or self.coming:
            block.cells["date"] = date or self.coming
        self.coming = ""
        self.blocks.append(block)

    def _keyed(self, number: int, line: str) -> bool:
        found = _KEY.fullmatch(line[:400])
        if not found:
            return False
        key, value = found["key"].lower(), found["value"].strip(" *_")
        if key in ("release", "build") and not is_version(value) and not any(_heading(value)):
            return whole_date(value) is not None and self._dated(value)
        if key.endswith(("version", "release", "build", "ver", "ver.")):
            version, date = _heading(value)
            if version or is_version(value):
                self._begin(number, version or bare_version(value), date)
            return bool(version or is_version(value))
        return self._value(key, value, line)

    def _value(self, key: str, value: str, line: str) -> bool:
        if "date" in key or key.startswith(("released", "published")):
            return self._dated(value)
        if not self.blocks:
            return False
        if key in ("description", "notes", "changes", "changelog", "change log"):
            if line.split(key, 1)[-1].strip(" :*_"):
                self.blocks[-1].notes.append(value) if value else None
            return True
        name = "sha256" if key.startswith(("sha", "check")) else "size" if "size" in key else "file"
        if name == "sha256" and not sha_of(value):
            return False
        self.blocks[-1].cells.setdefault(name, value)
        return True

    def _headed(self, number: int, line: str) -> bool:
        if _BULLET.match(line) or len(line) > 200:
            return False
        called, marked = _CALLED.fullmatch(line), _MARKED.fullmatch(line)
        text = (called or marked or {"rest": line})["rest"]
        size = _SIZE_LAST.search(text)
        version, date = _heading(text[: size.start()] if size else text)
        strong = bool(called or marked or date)
        if not version or not (strong or ((self.blank or self.coming) and " " not in line.strip())):
            return False
        self._begin(number, version, date)
        if size:
            self._single(size["size"])
        return True

    def _led(self, number: int, line: str) -> bool:
        """A line of version, date and notes, or of date, version and notes."""
        line = _BULLET.sub("", line, count=1)
        dated = first_date(line[:200])
        if dated is None:
            return False
        before, after = bare_version(line[: dated.start].strip(_EDGE)), line[dated.end :].strip()
        if not before and (found := _VERSION_FIRST.match(after.strip(_EDGE))):
            before, after = bare_version(found[1]), f":{after.strip(_EDGE)[found.end() :]}"
        rest = after.lstrip(_EDGE)
        told = rest[:1].isupper() or after.lstrip(" )]")[:1] in (":", "-", "–", "|", "•")
        if not (rest and told and is_version(before) and _sound(before)):
            return False
        self._begin(number, before, dated.text)
        self.blocks[-1].notes.append(rest)
        return True

    def _dated(self, line: str, number: int = 0) -> bool:
        found = (
            None
            if _BULLET.match(line) and self.blocks and "date" in self.blocks[-1].cells
            else whole_date(_BULLET.sub("", line, 1))
        )
        if found is None:
            return False
        self.dates_lead = self.dates_lead or not self.blocks
        if self.dates_lead or "date" in self.blocks[-1].cells:
            self.coming, self.coming_at = found.text, number
        else:
            self.blocks[-1].cells["date"] = found.text
        return True

    def _single(self, line: str) -> bool:
        """A line that is nothing but a size, a check sum or a file name."""
        text = line.strip(" *_`")
        name = "size" if has_unit(text) else "sha256" if len(text) < 90 and sha_of(text) else "file" if is_file(text) else ""
        if not name or not self.blocks or name in self.blocks[-1].cells:
            return False
        self.blocks[-1].cells[name] = text
        return True

    def _both(self, line: str) -> bool:
        """A line of nothing but a date and a size, as pages have them below the version."""
        found = _dated_size(line) if self.blocks else None
        return bool(found and self._dated(found[0]) and (self._single(found[1]) or True))


def _dated_size(line: str) -> tuple[str, str] | None:
    """The date and the size of a line that holds nothing else."""
    dated = None if len(line) > 80 else first_date(line)
    if dated is None:
        return None
    rest = f"{line[: dated.start]} {line[dated.end :]}".strip(_EDGE + "/•·")
    size = re.sub(r"^(?:(?:file|image) )?size[ :=]+", "", rest, flags=re.IGNORECASE)
    return (dated.text, size) if has_unit(size) else None


def _heading(text: str) -> tuple[str, str]:
    """Version and date when the text is a version, with or without a date; else nothing."""
    dated = first_date(text)
    rest = text if dated is None else f"{text[: dated.start]} {text[dated.end :]}"
    words = [
        word for word in _pieces(rest) if not _JUST.fullmatch(word) or (word[:1].isalnum() and any(c.isdigit() for c in word))
    ]
    rest = bare_version(" ".join(words).strip(" -–—:;,()[]*_#=|"))
    return (rest, dated.text if dated else "") if is_version(rest) and len(rest.split()) <= 2 and _sound(rest) else ("", "")


def _sound(version: str) -> bool:
    """A second word is only a word such as "beta"."""
    first, *more = version.split()
    return any(c.isdigit() for c in first) and all(
        re.fullmatch(r"\(?(?:beta|test|final|rc\d?|alpha)\d?\)?", w, re.I) for w in more
    )


def _pieces(text: str) -> Iterator[str]:
    yield from text.split()
