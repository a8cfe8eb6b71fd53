"""What `nopost verify` asks where there is no table: what was planned, and what is read off the machine."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace

from nopost.errors import NopostError
from nopost.firmware.expected import Expected
from nopost.firmware.facts import release_index
from nopost.firmware.machine import Machine, Module
from nopost.firmware.records import find_board, find_cpu
from nopost.knowledge.model import Board, Knowledge
from nopost_cli.guided import ask, tell

MOST = 1_000_000
"""No count and no rate is larger."""
GIB = 1 << 30
_REVISION = re.compile(r"(?P<product>.*?[^\s,])[\s,]+(?:rev(?:ision)?\b\.?\s*)?(?P<number>\d+(?:\.\d+)*)", re.IGNORECASE)


def asked_plan(knowledge: Knowledge) -> Expected:
    """What the person planned; each answer is checked at once."""
    tell("First what was planned. Enter: nothing planned, or not known.")
    board_name = ask("Board record, a name or a file", check=_refused(lambda text: find_board(text, knowledge)))
    board = find_board(board_name, knowledge) if board_name else None
    cpu = ask("CPU record, a name or a file", check=_refused(lambda text: find_cpu(text, knowledge)))
    release = _refused(lambda text: release_index(board, text) if board is not None else None)
    return Expected(
        board=board,
        cpu=find_cpu(cpu, knowledge) if cpu else None,
        firmware=ask("Release that was to be written", check=release),
        slots=split_slots(ask("Slots that hold a module, such as A2,B2", check=lambda text: _slots_wrong(text, board)), board),
        size=_size(ask("Size of each module in GiB, from its label", check=_number_wrong)),
        rated=number_of(ask("Rate on the modules' label in MT/s", check=_number_wrong)),
    )


def asked_machine() -> Machine:
    """What the person reads off the running machine."""
    tell("Read these off the machine. Enter: not shown, or not known.")
    board = ask("Board and revision, as the setup menu or the system shows it")
    machine = Machine(
        board=board_names(board),
        firmware=ask("Firmware version that is shown now"),
        cpu=ask("CPU name that is shown"),
        cores=number_of(ask("Cores that the system shows", check=_number_wrong)),
        threads=number_of(ask("Threads that the system shows", check=_number_wrong)),
    )
    slots = split_slots(ask("Slots in which the setup menu shows a module, such as A2,B2"))
    if not slots:
        return machine
    sizes = ask("Size of each in GiB, in this order, such as 16,16", check=lambda text: _sizes_wrong(text, len(slots)))
    rate = number_of(ask("Present rate of the memory in MT/s", check=_number_wrong))
    found = [_size(text.strip()) for text in sizes.split(",")] if sizes else [None] * len(slots)
    modules = tuple(Module(slot, size=size, configured=rate) for slot, size in zip(slots, found, strict=True))
    return replace(machine, modules=modules)


def board_names(typed: str) -> tuple[str, ...]:
    """A typed name in the writings in which a table has it, the fullest first; a number at its end can be the revision."""
    found = _REVISION.fullmatch(typed)
    if not found:
        return (typed,) if typed else ()
    product, number = found["product"], found["number"]
    return tuple(dict.fromkeys((f"{product} {number}", f"{product} rev {number}", product)))


def split_slots(text: str, board: Board | None = None) -> tuple[str, ...]:
    """Slot names, parted by commas, as the board writes them."""
    names = {slot.casefold(): slot for slot in (board.slots if board else ())}
    return tuple(names.get(slot.strip().casefold(), slot.strip()) for slot in text.split(",") if slot.strip())


def number_of(text: str) -> int | None:
    """A typed number that was found good, or nothing."""
    return int(text) if text else None


def _size(text: str) -> int | None:
    return int(text) * GIB if text else None


def _number_wrong(text: str) -> str:
    good = not text or (text.isdecimal() and len(text) < 8 and 0 < int(text) <= MOST)
    return "" if good else "A number, please, or Enter when it is not known."


def _sizes_wrong(text: str, count: int) -> str:
    parts = [part.strip() for part in text.split(",")]
    if not text or (len(parts) == count and all(part and not _number_wrong(part) for part in parts)):
        return ""
    return f"{count} number{'s, parted by commas' if count > 1 else ''}, please, or Enter when it is not known."


def _slots_wrong(text: str, board: Board | None) -> str:
    slots = split_slots(text, board)
    unknown = [slot for slot in slots if board is not None and slot not in board.slots]
    if board is not None and unknown:
        return f"{board.variant} has no slot {unknown[0]}; it has {', '.join(board.slots)}."
    return "A slot is named twice." if len(set(slots)) < len(slots) else ""


def _refused(find: Callable[[str], object]) -> Callable[[str], str]:
    """A check: the message of what the search for this name raises."""

    def check(text: str) -> str:
        try:
            if text:
                find(text)
        except NopostError as error:
            return f"{error}" if f"{error}".endswith("?") else f"{error}."
        return ""

    return check
