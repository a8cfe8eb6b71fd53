"""What a machine has become against what was planned. Boards, CPUs and tables are invented.

Source of each rule, unless one stands beside the check: common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from firmware import dumps
from nopost.errors import RecordError, UnknownNameError
from nopost.firmware.check_result import CheckResult, Level
from nopost.firmware.verify.machine import Expected, Machine, MemoryModule, machine_of
from nopost.firmware.verify.recognise import recognise_board, recognise_cpu
from nopost.firmware.verify.smbios_dump import read_dump
from nopost.firmware.verify.verify_machine import STANDARD_RATES, size_text, verify
from nopost.knowledge.model import Knowledge

OK, WRONG, OPEN = Level.GOOD, Level.FIX, Level.CHECK


@pytest.fixture
def expected(knowledge: Knowledge) -> Expected:
    """The plan: the invented board with its newest release, CPU and two modules."""
    return Expected(knowledge.boards["tb-harbour-m2"], knowledge.cpus["kelp-450"], "0.110", ("A2", "B2"))


def checks(expected: Expected, table: bytes) -> dict[str, CheckResult]:
    """The checks of a table by their id."""
    machine = machine_of(read_dump(table), expected.board.slots if expected.board else expected.slots)
    return {check.code: check for check in verify(expected, machine)}


def test_all_well(expected: Expected) -> None:
    """A machine that is as planned."""
    found = checks(expected, dumps.table())
    assert {check.level for check in found.values()} == {OK}
    assert list(found) == [
        "board",
        "firmware",
        "support",
        "cpu",
        "cores",
        "threads",
        "slots",
        "slot-order",
        "module A2",
        "module B2",
    ]
    assert "3600" in found["module A2"].text


@pytest.mark.parametrize(
    ("product", "revision", "verdict", "told"),
    [
        ("TB-Harbour M2", "1.1", OK, "rev 1.1"),
        ("TB-Harbour M2 rev 1.1", "Default string", OK, "rev 1.1"),
        ("tbh-m2-11", "x.x", OK, "tbh-m2-11"),
        ("TB-Harbour M2W", "1.1", WRONG, "look-alike"),
        ("TB-Harbour M2", "2.0", WRONG, "look-alike"),
        ("TB-Harbour M2", "Default string", OPEN, "leaves variant"),
        ("TB-Harbour M2", "1.3", OPEN, "leaves variant"),
        ("Harbour M2", "2.0", OPEN, "leaves variant"),
        ("Harbour M2", "rev. 1.1", OK, "rev 1.1"),
        ("Harbour M2", "made here", OK, "rev 1.1"),
        ("TB-Breakwater X1", "1.2", WRONG, "the record is of"),
        ("To be filled by O.E.M.", "", OPEN, "does not tell"),
    ],
)
def test_board(expected: Expected, product: str, revision: str, verdict: Level, told: str) -> None:
    """One suffix more is another board; a name without its revision leaves it open."""
    found = checks(expected, dumps.table(product=product, revision=revision))["board"]
    assert found.level is verdict
    assert told in found.text
    assert bool(found.do) == (verdict is not OK)


def test_firmware(expected: Expected) -> None:
    """Versions are compared as texts, and their order is the record's."""
    older = checks(expected, dumps.table(version="0.98"))
    assert older["firmware"].level is WRONG
    assert "0.98 of 06/03/2031, an older release; 0.110 was planned" in older["firmware"].text
    assert older["support"].level is WRONG
    newer = checks(replace(expected, firmware="0.98"), dumps.table(version="0.110"))["firmware"]
    assert newer.level is WRONG
    assert "a newer release" in newer.text
    assert "refused" in newer.do
    assert checks(expected, dumps.table(version="TBH-M2 0.110"))["firmware"].level is OK
    strange = checks(expected, dumps.table(version="0.1100"))
    assert strange["firmware"].level is WRONG
    assert "release" not in strange["firmware"].text
    assert "support" not in strange
    assert checks(replace(expected, firmware=""), dumps.table())["firmware"].level is OK
    assert checks(replace(expected, firmware=""), dumps.table(version="7"))["firmware"].level is OPEN
    assert checks(expected, dumps.table(version="unknown"))["firmware"].level is OPEN
    with pytest.raises(UnknownNameError):
        checks(replace(expected, firmware="0.111"), dumps.table())


def test_dropped_family(expected: Expected, knowledge: Knowledge) -> None:
    """The newest release no longer knows the first family."""
    old = replace(expected, cpu=knowledge.cpus["kelp-120"])
    assert checks(old, dumps.table())["support"].level is WRONG
    assert checks(replace(old, firmware="0.102"), dumps.table(version="0.102"))["support"].level is OK


@pytest.mark.parametrize(
    ("values", "name", "verdict"),
    [
        ({}, "cpu", OK),
        ({"ProcessorVersion": "Kelp 240"}, "cpu", WRONG),
        ({"ProcessorVersion": "Model 450"}, "cpu", OPEN),
        ({"ProcessorVersion": "Unknown"}, "cpu", OPEN),
        ({"ProcessorVersion": "", "Status": 0x00}, "cpu", WRONG),
        ({"Status": 0x43}, "cpu-state", WRONG),
        ({"CoreCount": 6}, "cores", WRONG),
        ({"EnabledCoreCount": 4}, "cores", WRONG),
        ({"CoreCount": 0}, "cores", OPEN),
        ({"CoreCount": 12, "EnabledCoreCount": 12}, "cores", WRONG),
        ({"ThreadCount": 8}, "threads", WRONG),
        ({"ThreadCount": 0}, "threads", OPEN),
    ],
)
def test_cpu(expected: Expected, values: dict[str, int | str], name: str, verdict: Level) -> None:
    """Name, state, cores and threads. Source of the status bits: DSP0134, type 4."""
    found = checks(expected, dumps.table(processor=dumps.cpu(**values)))[name]
    assert found.level is verdict
    assert bool(found.do) == (verdict is not OK)


def test_missing_module(expected: Expected) -> None:
    """One of two is seen: slot or seating, and the slot is named."""
    modules = [dumps.module("DIMM_A1", 0), dumps.module("DIMM_A2"), dumps.module("DIMM_B1", 0), dumps.module("DIMM_B2", 0)]
    found = checks(expected, dumps.table(modules=modules))
    assert found["slots"].level is WRONG
    assert found["slots"].text == "1 module of 2 seen, none in B2."
    assert "stays with the slot" in found["slots"].do
    assert found["slot-order"].level is OK
    unsaid = checks(replace(expected, slots=()), dumps.table(modules=modules))
    assert unsaid["slots"].level is OPEN


def test_slots(expected: Expected) -> None:
    """The board's names for slots are found in the machine's, where they can be told."""
    channels = [dumps.module(f"DIMM {k}", size, BankLocator=f"P0 CHANNEL {c}") for c in "AB" for k, size in ((0, 0), (1, 8192))]
    assert checks(expected, dumps.table(modules=channels))["slots"].level is OK
    from_one = [dumps.module(f"ChannelA-DIMM{k}", 8192 * (k == 1)) for k in (1, 2)]
    from_one += [dumps.module(f"ChannelB-DIMM{k}", 8192 * (k == 1)) for k in (1, 2)]
    moved = checks(expected, dumps.table(modules=from_one))["slots"]
    assert (moved.level, moved.text) == (WRONG, "Modules are seen in A1, B1; said was A2, B2.")
    short = [dumps.module("ChannelA-DIMM1"), dumps.module("ChannelB-DIMM1")]
    assert checks(expected, dumps.table(modules=short))["slots"].level is OPEN
    other = [dumps.module("upper"), dumps.module("lower")]
    assert checks(expected, dumps.table(modules=other))["slots"].level is OPEN
    one = checks(expected, dumps.table(modules=other[:1]))["slots"]
    assert (one.level, one.text) == (WRONG, "1 module of 2 seen (upper).")
    nothing = checks(expected, dumps.table(modules=[dumps.module("DIMM_A1", 0)]))["slots"]
    assert nothing.level is OPEN


def test_slot_order(expected: Expected) -> None:
    """The manual's first choice, from the record."""
    modules = [dumps.module("A1"), dumps.module("A2", 0), dumps.module("B1"), dumps.module("B2", 0)]
    found = checks(replace(expected, slots=("A1", "B1")), dumps.table(modules=modules))
    assert found["slots"].level is OK
    assert found["slot-order"].level is WRONG
    assert "A2, B2" in found["slot-order"].do
    three = checks(replace(expected, slots=("A1", "A2", "B1")), dumps.table(modules=modules))
    assert three["slot-order"].level is OPEN
    assert three["slots"].level is WRONG


@pytest.mark.parametrize(
    ("rated", "configured", "label", "verdict", "told"),
    [
        (3600, 2400, None, WRONG, "rated 3600 MT/s, runs at 2400 MT/s (a base rate of DDR4, JEDEC)"),
        (3600, 2500, None, WRONG, "(not a base rate of DDR4)"),
        (3200, 2667, None, WRONG, "(a base rate of DDR4, JEDEC)"),
        (2667, 2666, None, OK, "(a base rate of DDR4, JEDEC)"),
        (3600, 3600, None, OK, "(not a base rate of DDR4)"),
        (2666, 2666, 3600, WRONG, "rated 3600 MT/s, runs at 2666 MT/s"),
        (3600, 1800, None, OPEN, "runs at 1800"),
        (0, 2400, None, OPEN, "label unknown"),
        (3600, 0, None, OPEN, "present rate unknown"),
    ],
)
def test_rates(expected: Expected, rated: int, configured: int, label: int | None, verdict: Level, told: str) -> None:
    """Configured below rated: the rated profile is not selected. Source of base rates: JEDEC JESD79-4C."""
    modules = [dumps.module("DIMM_A2", 16384, rated, configured), dumps.module("DIMM_B2", 16384, rated, configured)]
    found = checks(replace(expected, rated=label), dumps.table(modules=modules))["module A2"]
    assert found.level is verdict
    assert found.text.startswith("A2: 16 GiB, DDR4, ")
    assert told in found.text
    assert ("profile is not selected" in found.do) == (verdict is WRONG)


def test_standard_rates() -> None:
    """Source: JEDEC JESD79-4C and JESD79-5C, by way of `facts/jedec_speeds.csv`."""
    kept = [(row["type"], int(row["standard_data_rate_mts"])) for row in dumps.rows("jedec_speeds.csv")]
    assert [(kind, rate) for kind, rates in STANDARD_RATES.items() for rate in rates] == kept


def test_sizes() -> None:
    """Sizes as people write them."""
    assert [size_text(size) for size in (None, 512 << 20, 8 << 30, 24 << 30)] == ["size unknown", "512 MiB", "8 GiB", "24 GiB"]


def test_impossible_slots(expected: Expected) -> None:
    """Slots that the board does not have, or named twice."""
    for slots, error in ((("A2", "C2"), UnknownNameError), (("A2", "A2"), RecordError)):
        with pytest.raises(error):
            checks(replace(expected, slots=slots), dumps.table())


def test_other_arrays_do_not_count(expected: Expected) -> None:
    """Devices of an array that is no system memory are no modules. Source: DSP0134, type 16, use."""
    other = dumps.structure(16, {"Use": 5}, handle=99)
    chip = dumps.module("FLASH", 32, MemoryArrayHandle=99)
    table = dumps.table()[: -len(dumps.END)] + other + chip + dumps.END
    assert {check.level for check in checks(expected, table).values()} == {OK}


def test_recognised(knowledge: Knowledge) -> None:
    """Records are found by the names that the machine tells; nothing is guessed."""
    machine = machine_of(read_dump(dumps.table()))
    board, cpu = recognise_board(knowledge, machine), recognise_cpu(knowledge, machine)
    assert board is knowledge.boards["tb-harbour-m2"]
    assert cpu is knowledge.cpus["kelp-450"]
    assert recognise_board(knowledge, Machine(board=("TB-Harbour M2W",))) is None
    assert recognise_cpu(knowledge, Machine(cpu="Unknown 450")) is None


def test_nothing_told() -> None:
    """Without records and without a word of the machine nothing is wrong and nothing is well."""
    found = verify(Expected(), Machine())
    assert {check.level for check in found} == {OPEN}
    assert all(check.do for check in found)
    told = verify(Expected(), Machine(board=("B",), firmware="1", cpu="C", modules=(MemoryModule("A1"),)))
    assert {check.level for check in told} == {OPEN}


def test_memory_type(expected: Expected) -> None:
    """Another type than the board's is wrong; without a type nothing is said."""
    modules = [dumps.module("DIMM_A2", MemoryType=0x22), dumps.module("DIMM_B2", MemoryType=0x22)]
    found = checks(expected, dumps.table(modules=modules))["memory-type"]
    assert (found.level, found.text) == (WRONG, "The board takes DDR4, but the table names A2: DDR5, B2: DDR5.")
    untold = [dumps.module("DIMM_A2", MemoryType=2), dumps.module("DIMM_B2", MemoryType=2)]
    assert "memory-type" not in checks(expected, dumps.table(modules=untold))


def test_mixed_modules(expected: Expected) -> None:
    """Sizes, ranks and rates that differ are a remark and no error."""
    modules = [
        dumps.module("DIMM_A2", 8192, 3200, 3200, Attributes=1),
        dumps.module("DIMM_B2", 16384, 3600, 3600, Attributes=2),
    ]
    found = checks(expected, dumps.table(modules=modules))
    assert found["memory-mixed"].level is Level.NOTE
    assert found["memory-mixed"].text == (
        "The modules are not alike: sizes 8 GiB and 16 GiB; ranks 1 and 2; rates on the label in MT/s 3200 and 3600."
    )
    assert {check.level for name, check in found.items() if name != "memory-mixed"} == {OK}
    alike = [dumps.module("DIMM_A2", Attributes=2), dumps.module("DIMM_B2", Attributes=0)]
    assert "memory-mixed" not in checks(expected, dumps.table(modules=alike))


def test_mixed_kits(expected: Expected) -> None:
    """Part numbers that differ are a remark: two kits; alike ones, blanks around them or none at all are not."""
    modules = [dumps.module("DIMM_A2", PartNumber="TB-M8-36"), dumps.module("DIMM_B2", PartNumber="TB-M8-40  ")]
    remark = checks(expected, dumps.table(modules=modules))["memory-mixed"]
    assert (remark.level, remark.text) == (Level.NOTE, "The modules are not alike: part numbers TB-M8-36 and TB-M8-40.")
    for one, other in (("TB-M8-36", "TB-M8-36   "), ("TB-M8-36", "Not Specified"), ("", "TB-M8-36")):
        alike = [dumps.module("DIMM_A2", PartNumber=one), dumps.module("DIMM_B2", PartNumber=other)]
        assert "memory-mixed" not in checks(expected, dumps.table(modules=alike))


def test_module_size(expected: Expected) -> None:
    """The size on the label against what is seen."""
    modules = [dumps.module("DIMM_A2", 16384), dumps.module("DIMM_B2", 8192)]
    found = checks(replace(expected, size=16 << 30), dumps.table(modules=modules))["memory-size"]
    assert (found.level, found.text) == (WRONG, "16 GiB each were put in; seen: B2: 8 GiB.")
    assert "memory-size" not in checks(replace(expected, size=8 << 30), dumps.table())


def test_one_module_unasked(expected: Expected) -> None:
    """Without a word on the slots a module may be missing all the same."""
    found = checks(replace(expected, slots=()), dumps.table(modules=[dumps.module("DIMM_A2"), dumps.module("DIMM_B2", 0)]))[
        "slots"
    ]
    assert found.level is OPEN
    assert "slot or its seating" in found.do


def test_sockets(expected: Expected) -> None:
    """Every socket is told for itself: name, state, cores; an empty one is a remark. Source: DSP0134, type 4, status."""
    both = dumps.cpu(Socket="CPU0") + dumps.cpu(Socket="CPU1", Status=0x43, EnabledCoreCount=6)
    found = checks(expected, dumps.table(processor=both))
    assert found["cpu CPU0"].text == "Socket CPU0: The CPU is recognised: Tidewater Kelp 450 with graphics."
    assert (found["cores CPU0"].level, found["cores CPU1"].level, found["cpu-state CPU1"].level) == (OK, WRONG, WRONG)
    assert "cpu-mixed" not in found
    one = dumps.cpu(Socket="CPU0", Status=0) + dumps.cpu(Socket="CPU1")
    found = checks(expected, dumps.table(processor=one))
    assert (found["cpu CPU0"].level, found["cpu CPU1"].level) == (Level.NOTE, OK)
    mixed = dumps.cpu(Socket="CPU0") + dumps.cpu(Socket="CPU1", ProcessorVersion="Kelp 240")
    found = checks(expected, dumps.table(processor=mixed))
    assert (found["cpu CPU1"].level, found["cpu-mixed"].level) == (WRONG, Level.NOTE)
    beside = dumps.cpu(Socket="CPU0") + dumps.cpu(Socket="AUX", ProcessorType=5)
    assert "cpu" in checks(expected, dumps.table(processor=beside))
