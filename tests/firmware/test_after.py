"""What a machine has become against what was planned. Boards, CPUs and tables are invented.

Source of each rule, unless one stands beside the check: common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from firmware import dumps
from nopost.errors import RecordError, UnknownNameError
from nopost.firmware.after import recognise_board, recognise_cpu, verify
from nopost.firmware.after_check import Check, Expected, Verdict
from nopost.firmware.after_memory import STANDARD_RATES, size_text
from nopost.firmware.machine import Machine, Module, machine_of
from nopost.firmware.smbios.dump import read_dump
from nopost.knowledge.model import Knowledge

OK, WRONG, OPEN = Verdict.OK, Verdict.WRONG, Verdict.OPEN


@pytest.fixture
def expected(knowledge: Knowledge) -> Expected:
    """The plan: the invented board with its newest release, CPU and two modules."""
    return Expected(knowledge.boards["tb-harbour-m2"], knowledge.cpus["kelp-450"], "0.110", ("A2", "B2"))


def checks(expected: Expected, table: bytes) -> dict[str, Check]:
    """The checks of a table by their id."""
    machine = machine_of(read_dump(table), expected.board.slots if expected.board else expected.slots)
    return {check.id: check for check in verify(expected, machine)}


def test_all_well(expected: Expected) -> None:
    """A machine that is as planned."""
    found = checks(expected, dumps.table())
    assert {check.verdict for check in found.values()} == {OK}
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
    assert "3600" in found["module A2"].line


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
def test_board(expected: Expected, product: str, revision: str, verdict: Verdict, told: str) -> None:
    """One suffix more is another board; a name without its revision leaves it open."""
    found = checks(expected, dumps.table(product=product, revision=revision))["board"]
    assert found.verdict is verdict
    assert told in found.line
    assert bool(found.do) == (verdict is not OK)


def test_firmware(expected: Expected) -> None:
    """Versions are compared as texts, and their order is the record's."""
    older = checks(expected, dumps.table(version="0.98"))
    assert older["firmware"].verdict is WRONG
    assert "0.98 of 06/03/2031, an older release; 0.110 was planned" in older["firmware"].line
    assert older["support"].verdict is WRONG
    newer = checks(replace(expected, firmware="0.98"), dumps.table(version="0.110"))["firmware"]
    assert newer.verdict is WRONG
    assert "a newer release" in newer.line
    assert "refused" in newer.do
    assert checks(expected, dumps.table(version="TBH-M2 0.110"))["firmware"].verdict is OK
    strange = checks(expected, dumps.table(version="0.1100"))
    assert strange["firmware"].verdict is WRONG
    assert "release" not in strange["firmware"].line
    assert "support" not in strange
    assert checks(replace(expected, firmware=""), dumps.table())["firmware"].verdict is OK
    assert checks(replace(expected, firmware=""), dumps.table(version="7"))["firmware"].verdict is OPEN
    assert checks(expected, dumps.table(version="unknown"))["firmware"].verdict is OPEN
    with pytest.raises(UnknownNameError):
        checks(replace(expected, firmware="0.111"), dumps.table())


def test_dropped_family(expected: Expected, knowledge: Knowledge) -> None:
    """The newest release no longer knows the first family."""
    old = replace(expected, cpu=knowledge.cpus["kelp-120"])
    assert checks(old, dumps.table())["support"].verdict is WRONG
    assert checks(replace(old, firmware="0.102"), dumps.table(version="0.102"))["support"].verdict is OK


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
def test_cpu(expected: Expected, values: dict[str, int | str], name: str, verdict: Verdict) -> None:
    """Name, state, cores and threads. Source of the status bits: DSP0134, type 4."""
    found = checks(expected, dumps.table(processor=dumps.cpu(**values)))[name]
    assert found.verdict is verdict
    assert bool(found.do) == (verdict is not OK)


def test_missing_module(expected: Expected) -> None:
    """One of two is seen: slot or seating, and the slot is named."""
    modules = [dumps.module("DIMM_A1", 0), dumps.module("DIMM_A2"), dumps.module("DIMM_B1", 0), dumps.module("DIMM_B2", 0)]
    found = checks(expected, dumps.table(modules=modules))
    assert found["slots"].verdict is WRONG
    assert found["slots"].line == "1 module of 2 seen, none in B2."
    assert "stays with the slot" in found["slots"].do
    assert found["slot-order"].verdict is OK
    unsaid = checks(replace(expected, slots=()), dumps.table(modules=modules))
    assert unsaid["slots"].verdict is OPEN


def test_slots(expected: Expected) -> None:
    """The board's names for slots are found in the machine's, where they can be told."""
    channels = [dumps.module(f"DIMM {k}", size, BankLocator=f"P0 CHANNEL {c}") for c in "AB" for k, size in ((0, 0), (1, 8192))]
    assert checks(expected, dumps.table(modules=channels))["slots"].verdict is OK
    from_one = [dumps.module(f"ChannelA-DIMM{k}", 8192 * (k == 1)) for k in (1, 2)]
    from_one += [dumps.module(f"ChannelB-DIMM{k}", 8192 * (k == 1)) for k in (1, 2)]
    moved = checks(expected, dumps.table(modules=from_one))["slots"]
    assert (moved.verdict, moved.line) == (WRONG, "Modules are seen in A1, B1; said was A2, B2.")
    short = [dumps.module("ChannelA-DIMM1"), dumps.module("ChannelB-DIMM1")]
    assert checks(expected, dumps.table(modules=short))["slots"].verdict is OPEN
    other = [dumps.module("upper"), dumps.module("lower")]
    assert checks(expected, dumps.table(modules=other))["slots"].verdict is OPEN
    one = checks(expected, dumps.table(modules=other[:1]))["slots"]
    assert (one.verdict, one.line) == (WRONG, "1 module of 2 seen (upper).")
    nothing = checks(expected, dumps.table(modules=[dumps.module("DIMM_A1", 0)]))["slots"]
    assert nothing.verdict is OPEN


def test_slot_order(expected: Expected) -> None:
    """The manual's first choice, from the record."""
    modules = [dumps.module("A1"), dumps.module("A2", 0), dumps.module("B1"), dumps.module("B2", 0)]
    found = checks(replace(expected, slots=("A1", "B1")), dumps.table(modules=modules))
    assert found["slots"].verdict is OK
    assert found["slot-order"].verdict is WRONG
    assert "A2, B2" in found["slot-order"].do
    three = checks(replace(expected, slots=("A1", "A2", "B1")), dumps.table(modules=modules))
    assert three["slot-order"].verdict is OPEN
    assert three["slots"].verdict is WRONG


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
def test_rates(expected: Expected, rated: int, configured: int, label: int | None, verdict: Verdict, told: str) -> None:
    """Configured below rated: the rated profile is not selected. Source of base rates: JEDEC JESD79-4C."""
    modules = [dumps.module("DIMM_A2", 16384, rated, configured), dumps.module("DIMM_B2", 16384, rated, configured)]
    found = checks(replace(expected, rated=label), dumps.table(modules=modules))["module A2"]
    assert found.verdict is verdict
    assert found.line.startswith("A2: 16 GiB, DDR4, ")
    assert told in found.line
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
    assert {check.verdict for check in checks(expected, table).values()} == {OK}


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
    assert {check.verdict for check in found} == {OPEN}
    assert all(check.do for check in found)
    told = verify(Expected(), Machine(board=("B",), firmware="1", cpu="C", modules=(Module("A1"),)))
    assert {check.verdict for check in told} == {OPEN}
