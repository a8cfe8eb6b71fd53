"""What board and CPU records settle: facts for the rules, and the questions to a record that several rooms ask."""

from __future__ import annotations

from collections.abc import Sequence

from nopost.errors import RecordError, UnknownNameError
from nopost.firmware.records import Records
from nopost.knowledge.reference_records import FACTS, Board, Cpu


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


def record_facts(records: Records) -> dict[str, str]:
    """Fact -> value, see `nopost.knowledge.reference_records`. Raises RecordError or UnknownNameError for what does not fit the
    board.
    """
    board, cpu = records.board, records.cpu
    facts: dict[str, str] = {}
    if cpu is not None:
        facts["cpu-graphics"] = _yes(cpu.graphics)
    if board is not None:
        facts |= _board_facts(board)
        facts |= _button_facts(board)
        facts |= _memory_facts(board, records)
        if records.image_for:
            facts["image-variant"] = "exact" if is_variant(board, records.image_for) else "other"
    if board is not None and cpu is not None:
        facts["cpu-fits-socket"] = _yes(board.socket == cpu.socket)
        facts |= _support_facts(board, cpu, records.firmware)
    elif records.firmware and board is not None:
        release_index(board, records.firmware)
    return facts


def _yes(value: bool) -> str:
    return "yes" if value else "no"


def _board_facts(board: Board) -> dict[str, str]:
    return {
        "board-video": _yes(board.video_outputs),
        "has-stage-lamps": _yes(board.indicators["stage_lamps"]),
        "has-code-display": _yes(board.indicators["code_display"]),
        "has-speaker": _yes(board.indicators["speaker"]),
        "has-standby-lamp": _yes(board.indicators["standby_lamp"]),
        "has-write-button": _yes(board.recovery["button"]),
        "has-second-chip": _yes(board.recovery["second_chip"]),
    }


def _button_facts(board: Board) -> dict[str, str]:
    """What a write button asks for; nothing for a board without one or for what its record leaves out."""
    if not board.recovery["button"]:
        return {}
    facts = {}
    if "button_needs" in board.recovery:
        facts["button-needs-cpu-plug"] = _yes("cpu" in board.recovery["button_needs"])
    systems = board.recovery.get("button_file_systems")
    if systems:
        facts["button-reads"] = "fat-only" if all(name.startswith("FAT") for name in systems) else "newer-too"
    return facts


def _memory_facts(board: Board, records: Records) -> dict[str, str]:
    generation = board.memory_type.casefold()
    facts = {"memory-generation": generation} if generation in FACTS["memory-generation"] else {}
    if records.memory_type:
        facts["memory-type-fits"] = _yes(records.memory_type == board.memory_type)
    if records.slots:
        check_slot_names(records.slots, board)
        wanted = board.slot_order.get(len(records.slots))
        if wanted is not None:
            facts["slots-by-manual"] = "first-choice" if set(wanted) == set(records.slots) else "other"
    return facts


def _support_facts(board: Board, cpu: Cpu, version: str) -> dict[str, str]:
    """Whether the fitted release knows the CPU; without a version only what holds for every release. Nothing for a family that
    the record does not name, when it does not say either what the oldest release knows."""
    if not is_family_recorded(board, cpu.family):
        if version:
            release_index(board, version)
        return {}
    releases = range(len(board.releases))
    candidates = [release_index(board, version)] if version else list(releases)
    knows = {cpu.family in known_families(board, release) for release in candidates}
    if len(knows) > 1:
        return {}
    facts = {"firmware-knows-cpu": _yes(knows.pop())}
    if version and facts["firmware-knows-cpu"] == "no":
        earlier = (known_families(board, release) for release in range(candidates[0]))
        if cpu.family in board.first_families or any(cpu.family in known for known in earlier):
            facts["firmware-dropped-cpu"] = "yes"
    return facts
