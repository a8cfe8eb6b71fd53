"""What the record of the board at hand says of a step: the exact name, socket, file systems and minutes of its button."""

from __future__ import annotations

import shlex
from collections.abc import Callable

from nopost.advice.step import Step, StepKind
from nopost.cases.session import Session
from nopost.errors import NopostError
from nopost.firmware.records import find_board
from nopost.knowledge.model import Board, Knowledge

PLUGS = {"main": "the main plug", "cpu": "the CPU plug"}


def _variant(board: Board) -> str:
    alike = f", not {' or '.join(board.look_alikes)}" if board.look_alikes else ""
    return f"files for exactly {board.variant}{alike}"


WORDS: dict[str, Callable[[Board], str]] = {
    "variant": _variant,
    "button_needs": lambda board: f"plugged in {' and '.join(PLUGS[plug] for plug in board.recovery['button_needs'])}",
    "button_socket": lambda board: f"the stick in {board.recovery['button_socket']}",
    "button_file": lambda board: f"file name {board.recovery['button_file']}, letter for letter",
    "button_file_systems": lambda board: f"file system {' or '.join(board.recovery['button_file_systems'])}",
    "button_minutes": lambda board: f"the lamp blinks for about {board.recovery['button_minutes']:g} minutes",
}
"""What a step can show of the record -> how it is said."""


def record_words(knowledge: Knowledge, session: Session, step: Step) -> str:
    """What the board's record says to this step, in one line; empty without a record or when the step asks for none of it."""
    wanted = _wanted(knowledge, step)
    if not wanted or not session.records.get("board"):
        return ""
    try:
        board = find_board(session.records["board"], knowledge)
    except NopostError:  # the file is gone; the step itself says how to find out
        return ""
    said = [WORDS[key](board) for key in wanted if key == "variant" or (board.recovery["button"] and board.recovery.get(key))]
    text = "; ".join(said if "variant" in wanted else [board.variant, *said])
    return f"{text[:1].upper()}{text[1:]}." if said else ""


def look_command(knowledge: Knowledge, session: Session, step: Step) -> str:
    """The command that looks at stick or image instead of the person, in words; empty without a record of the board."""
    wanted, board = _wanted(knowledge, step), shlex.quote(session.records.get("board", ""))
    if not session.records.get("board"):
        return ""
    if session.records.get("kb"):
        board += f" --kb {shlex.quote(session.records['kb'])}"
    if "button_file" in wanted or "button_file_systems" in wanted:
        return f"To have the stick looked at: nopost stick PATH --board {board}"
    return f"To have the file looked at: nopost image FILE --board {board}" if "variant" in wanted else ""


def _wanted(knowledge: Knowledge, step: Step) -> tuple[str, ...]:
    if step.kind is StepKind.ASK:
        return knowledge.findings[step.id].record
    return knowledge.actions[step.id].record if step.kind is StepKind.DO else ()
