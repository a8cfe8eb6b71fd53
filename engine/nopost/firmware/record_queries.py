"""Questions to a board record: the place of a release, the CPU families that a release knows, whether a name is this
variant's, whether it has such memory slots; and the name of a CPU.

A record without `first_families` leaves open what its oldest release knows; `is_family_recorded` says for which
families something may be concluded. Versions are compared as text: the order of releases is that of the record.
"""

from __future__ import annotations

from collections.abc import Sequence

from nopost.errors import RecordError, UnknownNameError
from nopost.knowledge.reference_records import Board, Cpu


def release_index(board: Board, version: str) -> int:
    """Place of a release in the board's order. Raises UnknownNameError."""
    versions = [release.version for release in board.releases]
    if version not in versions:
        raise UnknownNameError(f"release of {board.variant}", version, versions)
    return versions.index(version)


def known_families(board: Board, release: int) -> frozenset[str]:
    """CPU families that the release at this place knows: gained up to it and not lost since."""
    known = set(board.first_families)
    for each in board.releases[: release + 1]:
        known |= set(each.adds)
        known -= set(each.drops)
    return frozenset(known)


def is_family_recorded(board: Board, family: str) -> bool:
    """Whether the record says anything of a family. Without `first_families` it leaves open what the oldest release knows."""
    return bool(board.first_families) or any(family in (*release.adds, *release.drops) for release in board.releases)


def is_variant(board: Board, name: str) -> bool:
    """Whether an image made for `name` is made for exactly this board. Letter case and spaces do not count; a suffix does."""
    names = (board.variant, *board.identifiers)
    return plain_name(name) in {plain_name(each) for each in names}


def plain_name(name: str) -> str:
    """A name as it is compared: in small letters, with single spaces."""
    return " ".join(name.casefold().split())


def check_slot_names(slots: Sequence[str], board: Board | None) -> None:
    """Raises UnknownNameError for a memory slot that the board does not have, RecordError for one that is named twice."""
    unknown = [slot for slot in slots if board is not None and slot not in board.slots]
    if board is not None and unknown:
        raise UnknownNameError(f"memory slot of {board.variant}", unknown[0], board.slots)
    if len(set(slots)) < len(slots):
        raise RecordError(f"a memory slot is named twice: {', '.join(slots)}")


def cpu_name(cpu: Cpu) -> str:
    """The CPU's name: its title up to the first comma, behind which the record describes it."""
    return cpu.title.split(",")[0].strip()
