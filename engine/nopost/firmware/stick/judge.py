"""What to fix on a stick before a board's button is pressed: one line each, the medium first, then the file."""

from __future__ import annotations

from dataclasses import dataclass

from nopost.firmware.remark import Level, Remark
from nopost.firmware.stick.judge_file import file_remarks
from nopost.firmware.stick.judge_medium import medium_remarks
from nopost.firmware.stick.model import Stick, Wanted
from nopost.knowledge.model import Board

ORDER = (Level.FIX, Level.CHECK, Level.NOTE, Level.GOOD)


@dataclass(frozen=True, slots=True)
class Judgement:
    """The remarks, those to fix first; `verdict`: the gravest of fix, check and good."""

    remarks: tuple[Remark, ...]
    verdict: Level

    def of(self, level: Level) -> tuple[Remark, ...]:
        """Remarks of one level."""
        return tuple(remark for remark in self.remarks if remark.level is level)


def wanted_of(board: Board | None, file: str = "") -> Wanted:
    """What the button of this board wants; `file`, typed by the person, goes before the record."""
    if board is None:
        return Wanted(file)
    recovery = board.recovery
    return Wanted(
        file=file or recovery.get("button_file", ""),
        file_systems=tuple(recovery.get("button_file_systems", ())),
        socket=recovery.get("button_socket", ""),
        sizes=tuple(release.size for release in board.releases if release.size),
        chip_size=recovery.get("chip_size", 0),
        button=recovery["button"],
        released=tuple(dict.fromkeys(release.file for release in board.releases if release.file)),
    )


def judge(stick: Stick, wanted: Wanted) -> Judgement:
    """Everything to say about this stick for this board."""
    remarks = [*medium_remarks(stick, wanted), *file_remarks(stick, wanted)]
    remarks.sort(key=lambda remark: ORDER.index(remark.level))
    levels = {remark.level for remark in remarks}
    verdict = next((level for level in (Level.FIX, Level.CHECK) if level in levels), Level.GOOD)
    return Judgement(tuple(remarks), verdict)
