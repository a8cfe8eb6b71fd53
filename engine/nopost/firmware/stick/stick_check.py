"""What to fix on a stick before a board's button is pressed: one line each, the medium (partition table, partitions,
file system) first, then the file. Facts stand beside each check.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from nopost.firmware.check_result import CheckResult, Level
from nopost.firmware.stick.file_check import check_file
from nopost.firmware.stick.partition_table import FAT_KINDS, TYPE_KINDS, UNKNOWN, ButtonRequirements, Stick, StickVolume
from nopost.knowledge.reference_records import Board

LARGE = 32 * 10**9 + (1 << 30)
"""Sticks sold as larger than 32 GB: common practice, no source."""


def check_medium(stick: Stick, wanted: ButtonRequirements) -> Iterator[CheckResult]:
    """The checks of the medium itself: partition table, partitions, file systems, size and socket."""
    if wanted.button is False:
        yield CheckResult(
            Level.NOTE, "no-button", "The board's record says that it has no button that writes firmware without a CPU."
        )
    if stick.unreadable:
        yield CheckResult(Level.FIX, "unreadable", "Parts of the medium cannot be read: take another stick.")
    if not stick.top_of_medium:
        yield CheckResult(
            Level.NOTE,
            "not-the-top",
            "This folder is not the top of a mounted stick: the button looks at its top, so give that or its device.",
        )
    if stick.table.kind == UNKNOWN:
        seen = "a folder" if stick.form == "folder" else "one partition"
        text = f"From {seen} the partition table cannot be seen; give the whole stick's device to have it checked."
        yield CheckResult(Level.NOTE, "table-unseen", text)
    yield from _check_table(stick)
    for number, volume in enumerate(stick.volumes):
        if number == 0 or volume.file_system.kind != UNKNOWN:
            yield from _check_volume(stick, volume, wanted, number == 0)
    if stick.size > LARGE:
        # common practice, no source
        yield CheckResult(
            Level.CHECK, "large", "The stick is large: some buttons read only small, old ones; 4 to 32 GB is the safe choice."
        )
    if wanted.socket:
        yield CheckResult(Level.NOTE, "socket", f"Plug it into the socket that the button reads: {wanted.socket}.")


def _check_table(stick: Stick) -> Iterator[CheckResult]:
    table = stick.table
    for problem in table.problems:
        yield CheckResult(Level.FIX, "table-damaged", f"{_upper(problem)}: make a new MBR table with one partition.")
    for doubt in table.doubts:
        # UEFI specification 2.10, 5.3.2: the backup has to be there; that a button minds is not known
        text = f"{_upper(doubt)}: the stick was pulled too early, copied from one of another size, or holds less than it says."
        yield CheckResult(Level.CHECK, "gpt-backup", text)
    if table.kind == "GPT":
        # common practice, no source: the small readers behind buttons often know the MBR only
        yield CheckResult(
            Level.CHECK, "gpt", "The partition table is GPT; many buttons know only MBR: make an MBR table to be safe."
        )
    elif table.kind == "none" and stick.volumes and stick.volumes[0].file_system.kind != UNKNOWN:
        # common practice, no source: both kinds of reader exist
        yield CheckResult(
            Level.CHECK, "no-table", "There is no partition table; some buttons want an MBR table with one partition."
        )
    elif table.kind in ("MBR", "GPT") and not table.partitions:
        yield CheckResult(Level.FIX, "no-partition", "The partition table is empty: make one partition and format it.")
    if len(table.partitions) > 1:
        # common practice, no source: buttons look at the first partition
        yield CheckResult(
            Level.CHECK,
            "several-partitions",
            f"There are {len(table.partitions)} partitions; buttons look at the first one: leave only one.",
        )
    for part in table.partitions:
        if part.hidden:
            text = f"Partition {part.number} is hidden (type {part.kind}): people do not see it, but a button may look there."
            yield CheckResult(Level.CHECK, "hidden-partition", text)


def _check_volume(stick: Stick, volume: StickVolume, wanted: ButtonRequirements, first: bool) -> Iterator[CheckResult]:
    system = volume.file_system
    where = f"Partition {volume.partition.number}" if volume.partition else "The stick"
    for problem in system.problems:
        yield CheckResult(Level.FIX, "system-damaged", f"{where}: {problem}: format it anew.")
    for problem in volume.problems:
        yield CheckResult(Level.CHECK, "listing", f"{where}: {problem}.")
    if first and stick.top_of_medium:
        yield from _check_readable(stick, system.kind, wanted, where)
    if system.says in FAT_KINDS and system.kind in FAT_KINDS and system.says != system.kind:
        text = f"{where}: its boot sector says {system.says}, but {system.clusters} clusters make it {system.kind}."
        yield CheckResult(Level.NOTE, "label-differs", text)
    if system.dirty:
        # FAT specification 1.03 (bit of a clean unmount); exFAT specification, VolumeDirty
        text = f"{where} was not ejected cleanly: eject it properly, or let the system check it."
        yield CheckResult(Level.CHECK, "not-ejected", text)
    part = volume.partition
    if part is not None and len(part.kind) == 2:
        promised = TYPE_KINDS.get(int(part.kind, 16))
        known = system.kind != UNKNOWN
        if known and promised and system.kind not in promised and not part.hidden:
            # type bytes: edk2 Mbr.h and the published list of partition types
            text = (
                f"{where}: its type {part.kind} promises {' or '.join(promised)}, but it holds {system.kind}: set the type anew."
            )
            yield CheckResult(Level.CHECK, "type-differs", text)


def _check_readable(stick: Stick, kind: str, wanted: ButtonRequirements, where: str) -> Iterator[CheckResult]:
    """The file system of the place where the button looks, against what it can read."""
    if kind == UNKNOWN:
        if stick.form == "folder":
            yield CheckResult(Level.NOTE, "system-unseen", "The file system cannot be told from this folder.")
        else:
            yield CheckResult(Level.FIX, "no-system", f"{where}: no file system is found: format it as {_advised(wanted)}.")
    elif wanted.file_systems:
        if kind in wanted.file_systems:
            yield CheckResult(Level.GOOD, "system", f"{where} is {kind}, which the button reads.")
        else:
            listed = ", ".join(wanted.file_systems)
            text = f"{where} is {kind}: the button cannot read it, it reads {listed}. Format it as {_advised(wanted)}."
            yield CheckResult(Level.FIX, "system", text)
    elif kind == "FAT32":
        yield CheckResult(
            Level.GOOD, "system", f"{where} is FAT32, which nearly every button reads."
        )  # common practice, no source
    elif kind in ("FAT12", "FAT16"):
        text = f"{where} is {kind}; many buttons want FAT32: see the manual, or format it as FAT32."
        yield CheckResult(Level.CHECK, "system", text)
    elif kind in ("exFAT", "NTFS"):
        # common practice, no source; UEFI asks firmware only for FAT (section 13.3, not read)
        yield CheckResult(Level.FIX, "system", f"{where} is {kind}, which most buttons cannot read: format it as FAT32.")
    else:
        yield CheckResult(Level.FIX, "system", f"{where} is {kind}, which no button reads: format it as {_advised(wanted)}.")


def _advised(wanted: ButtonRequirements) -> str:
    return "FAT32" if "FAT32" in wanted.file_systems or not wanted.file_systems else wanted.file_systems[0]


def _upper(text: str) -> str:
    return text[:1].upper() + text[1:]


ORDER = (Level.FIX, Level.CHECK, Level.NOTE, Level.GOOD)


@dataclass(frozen=True, slots=True)
class StickVerdict:
    """The results, those to fix first; `verdict`: the gravest of fix, check and good."""

    results: tuple[CheckResult, ...]
    verdict: Level

    def of(self, level: Level) -> tuple[CheckResult, ...]:
        """Results of one level."""
        return tuple(result for result in self.results if result.level is level)


def button_requirements(board: Board | None, file: str = "") -> ButtonRequirements:
    """What the button of this board wants; `file`, typed by the person, goes before the record."""
    if board is None:
        return ButtonRequirements(file)
    recovery = board.recovery
    return ButtonRequirements(
        file=file or recovery.get("button_file", ""),
        file_systems=tuple(recovery.get("button_file_systems", ())),
        socket=recovery.get("button_socket", ""),
        sizes=tuple(release.size for release in board.releases if release.size),
        chip_size=recovery.get("chip_size", 0),
        button=recovery["button"],
        released=tuple(dict.fromkeys(release.file for release in board.releases if release.file)),
    )


def check_stick(stick: Stick, wanted: ButtonRequirements) -> StickVerdict:
    """Everything to say about this stick for this board."""
    results = [*check_medium(stick, wanted), *check_file(stick, wanted)]
    results.sort(key=lambda result: ORDER.index(result.level))
    levels = {result.level for result in results}
    verdict = next((level for level in (Level.FIX, Level.CHECK) if level in levels), Level.GOOD)
    return StickVerdict(tuple(results), verdict)
