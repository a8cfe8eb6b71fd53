"""What a machine that starts again says of itself, from its SMBIOS table or typed, and what it should have become."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from nopost.firmware.verify.smbios_dump import Dump
from nopost.firmware.verify.smbios_structures import CENTRAL_PROCESSOR, SYSTEM_MEMORY, MemoryDevice, Processor
from nopost.knowledge.reference_records import Board, Cpu


@dataclass(frozen=True, slots=True)
class Expected:
    """What the machine should have become, as far as it is known. `firmware`: version that was to be written; `slots`: where
    modules were put; `rated`: the rate on their label in MT/s; `size`: of each module in bytes."""

    board: Board | None = None
    cpu: Cpu | None = None
    firmware: str = ""
    slots: tuple[str, ...] = ()
    rated: int | None = None
    size: int | None = None


PLACEHOLDERS = frozenset(
    (
        "default string",
        "to be filled by o.e.m.",
        "to be filled by oem",
        "not specified",
        "not applicable",
        "not available",
        "unknown",
        "undefined",
        "none",
        "n/a",
        "x.x",
        "xx",
        "0",
        "string",
        "product name",
        "system product name",
        "system version",
        "base board product name",
        "base board version",
    )
)
"""What firmware says when nobody filled the field in (common practice, no source)."""
_NAME = re.compile(r"[a-z]+[0-9]+|[a-z]+|[0-9]+")
_BEHIND = re.compile(r"dimm[ _-]*([a-z][0-9])(?![0-9])")
_CHANNEL = re.compile(r"chan(?:nel)?[ _-]*([a-h])(?![a-z])")
_PLACE = re.compile(r"dimm[ _-]*([0-9])(?![0-9])")


@dataclass(frozen=True, slots=True)
class MemoryModule:
    """A memory module. `slot`: the board's own name for its slot, "" when the machine uses other names; `locator`: the
    machine's name for it; `size` in bytes; `rated` (by the module's own data) and `configured` (at present) in MT/s; `rank`:
    how many ranks it has. None: not told."""

    slot: str
    locator: str = ""
    size: int | None = None
    type: str = ""
    rated: int | None = None
    configured: int | None = None
    rank: int | None = None
    part: str = ""

    @property
    def place(self) -> str:
        """Where it sits, as well as that is known."""
        return self.slot or self.locator or "unknown slot"


@dataclass(frozen=True, slots=True)
class CpuSocket:
    """One of the CPU sockets and what sits in it; `state` as in `smbios_structures.Processor`. None: not told."""

    name: str
    cpu: str
    present: bool | None
    state: int | None
    cores: int | None
    cores_enabled: int | None
    threads: int | None


@dataclass(frozen=True, slots=True)
class Machine:
    """What a machine says of itself; None and "": it does not say.

    `board` goes from the fullest name to the shortest; `modules` None: nothing is known of the memory. `cpu` to `threads`: of the
    first socket that holds a CPU; `sockets`: all of them; `notes`: faults of the table.
    """

    board: tuple[str, ...] = ()
    firmware: str = ""
    firmware_date: str = ""
    cpu: str = ""
    cpu_present: bool | None = None
    cpu_state: int | None = None
    cores: int | None = None
    cores_enabled: int | None = None
    threads: int | None = None
    sockets: tuple[CpuSocket, ...] = ()
    modules: tuple[MemoryModule, ...] | None = None
    notes: tuple[str, ...] = ()


def machine_of(dump: Dump, slots: Sequence[str] = ()) -> Machine:
    """What the table says; memory slots get the board's own names where they can be told."""
    sockets = tuple(_socket(each) for each in _central(dump.processors))
    cpu = next((each for each in sockets if each.present), sockets[0] if sockets else None)
    return Machine(
        board=_board_names(dump),
        firmware=without_placeholder(dump.firmware.version) if dump.firmware else "",
        firmware_date=without_placeholder(dump.firmware.date) if dump.firmware else "",
        cpu=cpu.cpu if cpu else "",
        cpu_present=cpu.present if cpu else None,
        cpu_state=cpu.state if cpu else None,
        cores=cpu.cores if cpu else None,
        cores_enabled=cpu.cores_enabled if cpu else None,
        threads=cpu.threads if cpu else None,
        sockets=sockets,
        modules=_modules(dump, slots),
        notes=dump.notes,
    )


def without_placeholder(text: str) -> str:
    """The text, or nothing for a placeholder that firmware shows where nobody filled the field in."""
    return "" if " ".join(text.casefold().split()) in PLACEHOLDERS else text


def _central(found: Sequence[Processor]) -> list[Processor]:
    """The CPUs; a coprocessor counts only where nothing else is told."""
    return [each for each in found if each.kind in (CENTRAL_PROCESSOR, None)] or list(found)


def _socket(each: Processor) -> CpuSocket:
    return CpuSocket(each.socket, each.name, each.populated, each.state, each.cores, each.cores_enabled, each.threads)


def _board_names(dump: Dump) -> tuple[str, ...]:
    """The board's own name; a machine's name only when the board has none."""
    names: list[str] = []
    for each in (dump.board, dump.system):
        product = without_placeholder(each.product) if each else ""
        if each is None or not product:
            continue
        version = without_placeholder(each.version)
        if version:
            names += [f"{product} {version}", f"{product} rev {version}"]
        names.append(product)
        break
    return tuple(names)


def _modules(dump: Dump, slots: Sequence[str]) -> tuple[MemoryModule, ...] | None:
    other = {array.handle for array in dump.arrays if array.use not in (SYSTEM_MEMORY, None)}
    devices = [device for device in dump.devices if device.array not in other]
    if not devices:
        return None
    names = slot_names(devices, slots)
    return tuple(
        MemoryModule(
            name,
            device.locator or device.bank,
            device.size,
            device.type,
            device.rated,
            device.configured,
            device.rank,
            without_placeholder(device.part),
        )
        for device, name in zip(devices, names, strict=True)
        if device.size != 0
    )


def slot_names(devices: Sequence[MemoryDevice], slots: Sequence[str]) -> list[str]:
    """The board's name for the slot of each device, "" where it cannot be told. No name is given to two devices."""
    for names in (_by_name(devices, slots), _by_channel(devices, slots)):
        given = [name for name in names if name]
        if given and len(set(given)) == len(given):
            return names
    return [""] * len(devices)


def _by_name(devices: Sequence[MemoryDevice], slots: Sequence[str]) -> list[str]:
    """The locator holds the printed name: DIMM_A2."""
    known = {slot.casefold(): slot for slot in slots}
    names = []
    for device in devices:
        text = device.locator.casefold().strip()
        words = (text, *_NAME.findall(text), *_BEHIND.findall(text))
        names.append(next((known[word] for word in words if word in known), ""))
    return names


def _by_channel(devices: Sequence[MemoryDevice], slots: Sequence[str]) -> list[str]:
    """Channel letter and place in the channel, counted from 0 or from 1: the names A1, A2, B1 … (common practice, no source)."""
    known = {slot.casefold(): slot for slot in slots}
    places = []
    for device in devices:
        text = f"{device.bank} {device.locator}".casefold()
        channel, place = _CHANNEL.search(text), _PLACE.search(text)
        if channel and place:
            places.append((channel[1], int(place[1])))
    if not places or not len(places) == len(devices) == len(slots):
        return []  # only a full list shows where counting begins
    first = 1 - min(place for _, place in places)
    return [known.get(f"{channel}{place + first}", "") for channel, place in places]
