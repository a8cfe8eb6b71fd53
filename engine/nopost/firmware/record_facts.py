"""The facts that records settle, as rules see them. A fact that records do not settle is left out."""

from __future__ import annotations

from nopost.firmware.record_queries import check_slot_names, is_family_recorded, is_variant, known_families, release_index
from nopost.firmware.records import Records
from nopost.knowledge.reference_records import Board, Cpu


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
    facts = {}
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
