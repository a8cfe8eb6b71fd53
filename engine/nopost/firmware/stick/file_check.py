"""The file on the stick: where it lies, its name letter for letter, its size, and what lies beside it.

The kinds of slips in a name are common practice, no source.
"""

from __future__ import annotations

import difflib
import enum
import re
import unicodedata
from collections.abc import Iterator

from nopost.firmware.check_result import CheckResult, Level, byte_count
from nopost.firmware.stick.partition_table import ButtonRequirements, DirectoryEntry, Stick, StickVolume

NEAR = 0.8
"""Likeness from which a name counts as a slip of the wanted one."""
_COPY = re.compile(r"[ _]?\(\d{1,3}\)|[ _-]+copy(?: ?\d{1,3}| ?\(\d{1,3}\))?(?=\.|$)|^copy (?:\(\d{1,3}\) )?of ", re.IGNORECASE)
_BAD_83 = set(b'"*+,/:;<=>?[\\]|')
_RESERVED = {"CON", "PRN", "AUX", "NUL", *(f"COM{n}" for n in range(1, 10)), *(f"LPT{n}" for n in range(1, 10))}


class Slip(enum.StrEnum):
    """What keeps a name from being the wanted one, the smallest difference first."""

    SAME = "same"
    CASE = "case"
    BLANKS = "blanks"
    TWICE = "ending added"
    COPY = "copy"
    ENDING = "other ending"
    NEAR = "near"
    OTHER = "other"


def slip(name: str, wanted: str) -> Slip:
    """How `name` differs from `wanted`: the smallest difference that explains it."""
    if name == wanted:
        return Slip.SAME
    have, want = name.casefold(), wanted.casefold()
    if have == want:
        return Slip.CASE
    bare = _bare(have)
    if bare == _bare(want):
        return Slip.BLANKS
    if bare.startswith(want + "."):
        return Slip.TWICE
    plain = _COPY.sub("", have).strip()
    if plain != have and (plain == want or plain.startswith(want + ".")):
        return Slip.COPY
    if _stem(have) == _stem(want):
        return Slip.ENDING
    matcher = difflib.SequenceMatcher(None, have, want, autojunk=False)
    if matcher.quick_ratio() >= NEAR and matcher.ratio() >= NEAR:
        return Slip.NEAR
    return Slip.OTHER


def _bare(name: str) -> str:
    """Without blanks and invisible characters, wide letters as plain ones."""
    kept = (c for c in unicodedata.normalize("NFKC", name) if not c.isspace() and unicodedata.category(c) != "Cf")
    return "".join(kept).rstrip(".")


def _stem(name: str) -> str:
    stem, dot, _ = name.rpartition(".")
    return stem if dot else name


def ending(name: str) -> str:
    """What stands after the last dot, in small letters."""
    return name.rpartition(".")[2].casefold() if "." in name else ""


def fits_83(name: str) -> bool:
    """Whether the name is one of at most eight letters and three after the dot, as FAT stores it (edk2 FatPkg)."""
    stem, dot, tail = name.upper().partition(".")
    if not 1 <= len(stem) <= 8 or len(tail) > 3 or "." in tail or (dot and not tail) or stem in _RESERVED:
        return False
    try:
        raw = (stem + tail).encode("cp437")
    except UnicodeEncodeError:
        return False
    return not any(byte <= 0x20 or byte in _BAD_83 for byte in raw)


SMALLEST = 65536
"""No board of the last decades has a smaller firmware chip: common practice, no source."""
LARGEST = 256 << 20
"""Nor one near as large: common practice, no source."""
ENDINGS = {"rom", "bin", "cap", "fd", "bio", "img", "upd"}
"""Endings that firmware images often have: common practice, no source."""
ARCHIVES = {"zip", "7z", "rar", "gz", "xz"}
SLIPS = {
    Slip.CASE: "differs in capital and small letters",
    Slip.BLANKS: "has blanks, invisible or unusual characters",
    Slip.TWICE: "has one ending too many (it may be hidden on your screen)",
    Slip.COPY: "carries the mark of a second copy",
    Slip.ENDING: "has another ending",
    Slip.NEAR: "is nearly the name",
}
RANK = list(Slip)
MOST = 5


def check_file(stick: Stick, wanted: ButtonRequirements) -> Iterator[CheckResult]:
    """What to say about the wanted file. Buttons look at the top of the first partition: common practice, no source."""
    listed = [volume for volume in stick.volumes if volume.listed]
    if not listed:
        if stick.volumes:
            kind = stick.volumes[0].file_system.kind
            yield CheckResult(Level.NOTE, "not-listed", f"The names could not be read from this file system ({kind}).")
        return
    if not wanted.file:
        yield from _check_unnamed(listed[0], wanted)
        return
    first = stick.volumes[0]
    exact = next((entry for entry in first.top if entry.name == wanted.file), None)
    if exact is not None and exact.is_folder:
        yield CheckResult(Level.FIX, "is-a-folder", f"“{exact.name}” is a folder; the file itself must lie at the top.")
    elif exact is not None:
        yield CheckResult(Level.GOOD, "name", f"“{exact.name}” lies at the top, its name right letter for letter.")
        yield from _check_content(exact, first, wanted)
    else:
        yield from _check_misplaced(stick, first, wanted)
    yield from _check_leftovers(stick, first, exact, wanted)


def _check_misplaced(stick: Stick, first: StickVolume, wanted: ButtonRequirements) -> Iterator[CheckResult]:
    """The file is not where it should be under its name: where else, or under which other name."""
    for volume in stick.volumes:
        for entry in volume.entries:
            if entry.name != wanted.file or entry.is_folder or (volume is first and not entry.folder):
                continue
            place = f"in the folder “{entry.folder}”" if entry.folder else "at the top"
            other = f" of partition {volume.partition.number}" if volume is not first and volume.partition else ""
            target = " of the first partition" if other else ""
            text = f"“{entry.name}” lies {place}{other}: move it to the top{target}."
            yield CheckResult(Level.FIX, "wrong-place", text)
            yield from _check_content(entry, volume, wanted)
            return
    found = sorted(
        ((slip(e.name, wanted.file), e) for e in first.entries if not e.is_folder), key=lambda pair: RANK.index(pair[0])
    )
    close = [pair for pair in found if pair[0] is not Slip.OTHER]
    if close:
        kind, entry = close[0]
        archive = ending(entry.name) in ARCHIVES
        if archive:
            yield CheckResult(Level.FIX, "packed", f"“{entry.path}” is an archive: unpack it and put “{wanted.file}” at the top.")
            return
        move = f", and move it out of the folder “{entry.folder}”" if entry.folder else ""
        code = f"name-{kind.value.replace(' ', '-')}"
        level = Level.CHECK if kind is Slip.CASE and not move else Level.FIX
        yield CheckResult(level, code, f"“{entry.path}” {SLIPS[kind]}: rename it to “{wanted.file}”, letter for letter{move}.")
        yield from _check_content(entry, first, wanted)
        return
    released = next((e for e in first.entries if not e.is_folder and e.name in wanted.released), None)
    if released is not None:
        text = f"“{released.path}” still has its name from the archive: rename it to “{wanted.file}”, at the top."
        yield CheckResult(Level.FIX, "not-renamed", text)
        yield from _check_content(released, first, wanted)
        return
    packed = next((e.path for e in first.entries if not e.is_folder and ending(e.name) in ARCHIVES), "")
    hint = f"; “{packed}” is an archive, unpack it first" if packed else ""
    yield CheckResult(Level.FIX, "missing", f"No file is called “{wanted.file}”, nor nearly so: put it at the top{hint}.")


def _check_content(entry: DirectoryEntry, volume: StickVolume, wanted: ButtonRequirements) -> Iterator[CheckResult]:
    size = byte_count(entry.size)
    if entry.size == 0:
        yield CheckResult(Level.FIX, "empty", f"“{entry.path}” is empty: copy it again and eject the stick.")
        return
    if entry.whole is False:
        text = f"“{entry.path}” was not written to its end, or its clusters do not match its size: copy it again, then eject."
        yield CheckResult(Level.FIX, "not-whole", text)
    if entry.size < SMALLEST:
        yield CheckResult(Level.FIX, "too-small", f"“{entry.path}” has only {size}: that is no firmware image.")
    elif wanted.sizes and entry.size not in wanted.sizes:
        listed = " or ".join(byte_count(known) for known in sorted(set(wanted.sizes)))
        yield CheckResult(Level.FIX, "size", f"“{entry.path}” has {size}, but the board's releases have {listed}: get it again.")
    elif wanted.sizes:
        yield CheckResult(Level.GOOD, "size", f"Its size, {size}, is that of a release in the board's record.")
    elif wanted.chip_size and entry.size > wanted.chip_size:
        # a capsule has a header before the image (UEFI specification, section 8.5.3), so a little more is no fault
        chip = byte_count(wanted.chip_size)
        text = f"“{entry.path}” has {size}, more than the chip ({chip}): right only if it is a capsule with a header."
        yield CheckResult(Level.CHECK, "larger-than-chip", text)
    elif entry.size > LARGEST:
        yield CheckResult(
            Level.CHECK, "too-large", f"“{entry.path}” has {size}, too much for firmware: is it the right download?"
        )
    if entry.hidden:
        yield CheckResult(Level.CHECK, "hidden-file", f"“{entry.path}” is marked hidden or system: take the mark off.")
    named = entry.name == wanted.file
    if named and entry.short and fits_83(wanted.file) and entry.short != wanted.file.upper():
        # 8.3 name beside the long one: FAT specification 1.03; that small readers see only that: common practice, no source
        text = (
            f"Beside the long name stands the short name “{entry.short}”, and small readers see only that: format and copy anew."
        )
        yield CheckResult(Level.CHECK, "short-name", text)


def _check_leftovers(
    stick: Stick, first: StickVolume, exact: DirectoryEntry | None, wanted: ButtonRequirements
) -> Iterator[CheckResult]:
    """Leftovers that a button, or the machine, could take for the file."""
    alike = [e for volume in stick.volumes for e in volume.entries if not e.is_folder and _alike(e, wanted)]
    others = [e.path for e in alike if e is not exact] if exact is not None or len(alike) > 1 else []
    if others:
        shown = ", ".join(f"“{name}”" for name in others[:MOST]) + (
            f" and {len(others) - MOST} more" if len(others) > MOST else ""
        )
        said = "More than one file" if exact is None else "Other files"
        yield CheckResult(Level.CHECK, "leftovers", f"{said} could be taken for it: {shown}; leave only the one.")
    boot = next((e for e in first.top if e.is_folder and e.name.casefold() == "efi"), None)
    if boot is not None:
        # UEFI specification, section 3.5.1.1: removable media start from \EFI\BOOT
        yield CheckResult(
            Level.NOTE, "starts", "The stick can also start a machine (folder EFI): take it out before the next start."
        )


def _alike(entry: DirectoryEntry, wanted: ButtonRequirements) -> bool:
    if slip(entry.name, wanted.file) is not Slip.OTHER or entry.name in wanted.released:
        return True
    return ending(entry.name) in ENDINGS and entry.size >= SMALLEST


def _check_unnamed(volume: StickVolume, wanted: ButtonRequirements) -> Iterator[CheckResult]:
    candidates = [e for e in volume.entries if not e.is_folder and (ending(e.name) in ENDINGS or e.name in wanted.released)]
    shown = ", ".join(f"“{e.path}”" for e in candidates[:MOST]) or "none"
    text = f"The name that the button wants is not known: see the manual and give it with --file. Likely files here: {shown}."
    yield CheckResult(Level.CHECK, "name-unknown", text)
    for entry in candidates[:MOST]:
        yield from _check_content(entry, volume, wanted)
