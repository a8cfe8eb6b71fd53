"""The shipped code tables against the published ones, and against themselves.

`facts/*.csv` keeps the columns that are checked here; each file names its source and licence at its top. Where the fuller facts
files lie beside the checkout, the kept ones are compared with them too. What holds for every table is checked for all that lie in
`kb/codes`, whichever they are; only a published table is named here, beside what was published.
"""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

from nopost.knowledge.model import Knowledge
from nopost.knowledge.reference_records import Code, CodeTable

KEPT = Path(__file__).parent / "facts"
SHARED = Path(__file__).resolve().parents[3] / "shared" / "facts"

Row = dict[str, str]
FILES = list((Path(__file__).resolve().parents[2] / "kb" / "codes").glob("*.yaml"))
STATES = "redfish-boot-progress"
ENDS = {
    "edk2": ["10AD", "10AE", "10AF", "10B0", "10B1"],
    "coreboot": ["7B", "F3", "F8", "FE"],
    "ipmi-firmware": ["02:13"],
}
"""Codes of a start that went well. The sources call them progress; here they are told apart."""
SOURCES = {
    "coreboot": "post_codes.h",
    "edk2": "PiStatusCode.h",
    "edk2-beeps": "BeepDebugFeaturePkg",
    "silicon-binary": "FspStatusCode.h",
    "ipmi-firmware": "Table 42-3",
    STATES: "DSP8010",
}
"""Tables that are held against a published one here, and what each must name."""
STAGELESS_ERRORS = {
    "edk2": {"PEI_RESET_NOT_AVAILABLE", "DXE_RESET_NOT_AVAILABLE", "DXE_FLASH_UPDATE_FAILED"},
    "edk2-beeps": {
        "PEI_RESET_NOT_AVAILABLE",
        "DXE_RESET_NOT_AVAILABLE",
        "DXE_FLASH_UPDATE_FAILED",
        "PEI_MEMORY_INSTALLED_TWICE",
    },
}
"""Errors that tell no stage: faults of the firmware's own image, whenever they are met."""
UNSOURCED = "common practice, no source"
PUBLISHED = re.compile(
    r"\b(coreboot|edk2|edk2-platforms) [\w/]*(\w+\.h|\w+Pkg)\b"  # a file or package of open firmware
    r"|\b(ACPI|IPMI|PI|SBMR|SMBIOS|UEFI) v?\d+\.\d+"  # a standard with its version
    r"|\bDSP\d{4}\b"  # a document of the DMTF
)
"""What a reader can look up: a file of open firmware, or a standard and its version."""


def csv_rows(path: Path) -> list[Row]:
    """Rows of a CSV file; lines that begin with # are left out."""
    lines = path.read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def kept(name: str) -> list[Row]:
    """Rows of a kept facts file."""
    return csv_rows(KEPT / f"{name}.csv")


def shared(name: str) -> list[Row]:
    """Rows of the fuller facts file."""
    path = SHARED / f"{name}.csv"
    if not path.is_file():
        pytest.skip(f"{name}.csv: the fuller facts files do not lie beside this checkout; the kept columns are tested instead")
    return csv_rows(path)


def published_kind(table: str, code: Code) -> str:
    """The kind as the source gives it, in which a normal end is progress too."""
    return "progress" if code.code in ENDS.get(table, ()) and code.kind == "end" else code.kind


def low(code: str) -> str:
    """What a two-digit display shows of a code."""
    return code[-2:]


@pytest.fixture
def edk2(knowledge: Knowledge) -> CodeTable:
    """The edk2 codes."""
    return knowledge.codes["edk2"]


@pytest.fixture
def coreboot(knowledge: Knowledge) -> dict[str, Code]:
    """The coreboot codes by code."""
    return {code.code: code for code in knowledge.codes["coreboot"].codes}


# Every published row is there, and no other.


@pytest.mark.parametrize(("table", "facts"), [("edk2", "edk2_post_codes"), ("edk2-beeps", "edk2_beeps")])
def test_edk2_rows(knowledge: Knowledge, table: str, facts: str) -> None:
    """Source: tianocore edk2-platforms, PostCodeDebugFeaturePkg and BeepDebugFeaturePkg; edk2 PiStatusCode.h."""
    codes = knowledge.codes[table].codes
    ours = [(published_kind(table, code), code.symbol, code.status, code.code) for code in codes]
    assert sorted(ours) == sorted((r["kind"], r["symbol"], r["status"], r["code"]) for r in kept(facts))


def test_coreboot_rows(knowledge: Knowledge) -> None:
    """Source: coreboot src/commonlib/include/commonlib/console/post_codes.h."""
    ours = [(published_kind("coreboot", code), code.symbol, code.code) for code in knowledge.codes["coreboot"].codes]
    assert sorted(ours) == sorted((r["kind"], r["symbol"], r["code"]) for r in kept("coreboot_post_codes"))


def test_ipmi_rows(knowledge: Knowledge) -> None:
    """Source: IPMI v2.0 revision 1.1, Table 42-3, through secondary copies. A hang is an error here."""
    kinds = {"error": "error", "hang": "error", "progress": "progress"}
    codes = knowledge.codes["ipmi-firmware"].codes
    rows = kept("ipmi_fw_progress")
    ours = [(published_kind("ipmi-firmware", code), code.code) for code in codes]
    assert sorted(ours) == sorted((kinds[r["kind"]], r["code"]) for r in rows)
    reserved = {r["code"] for r in rows if r["given_out"] == "no"}
    assert {code.code for code in codes if code.note.startswith("Reserved")} == reserved


def test_counts(knowledge: Knowledge) -> None:
    """Source: counted in the sources named above; 63 and 39 also by an independent resolver over the real headers."""
    counts = {name: len(table.codes) for name, table in knowledge.codes.items()}
    assert {name: counts[name] for name in ("edk2", "edk2-beeps", "coreboot", "ipmi-firmware", "silicon-binary", STATES)} == {
        "edk2": 102,
        "edk2-beeps": 14,
        "coreboot": 63,
        "ipmi-firmware": 69,
        "silicon-binary": 128,
        STATES: 11,
    }
    assert Counter(r["kind"] for r in kept("edk2_post_codes")) == {"progress": 63, "error": 39}


@pytest.mark.parametrize(("name", "number"), [("edk2_post_codes", "post_code_hex"), ("edk2_beeps", "beep_count")])
def test_kept_edk2_facts_are_the_full_ones(name: str, number: str) -> None:
    """Source: the fuller facts file, where it is at hand."""
    full = [(r["kind"], r["symbol"], r["status_code_hex"].removeprefix("0x"), r[number].removeprefix("0x")) for r in shared(name)]
    assert [(r["kind"], r["symbol"], r["status"], r["code"]) for r in kept(name)] == full


def test_kept_coreboot_facts_are_the_full_ones() -> None:
    """Source: the fuller facts file, where it is at hand."""
    full = [
        ("error" if r["stage"] == "error" else "progress", r["symbol"], r["code"].removeprefix("0x"))
        for r in shared("coreboot_post_codes")
    ]
    assert [(r["kind"], r["symbol"], r["code"]) for r in kept("coreboot_post_codes")] == full


def test_kept_ipmi_facts_are_the_full_ones() -> None:
    """Source: the fuller facts file, where it is at hand."""
    full = [
        (r["offset_name"], f"{r['offset']}:{r['ed2']}", "no" if r["meaning"] == "reserved" else "yes")
        for r in shared("ipmi_fw_progress")
    ]
    assert [(r["kind"], r["code"], r["given_out"]) for r in kept("ipmi_fw_progress")] == full


@pytest.mark.parametrize("path", sorted(KEPT.glob("*.csv")), ids=lambda p: p.stem)
def test_kept_facts_name_their_source(path: Path) -> None:
    """Origin and terms stand at the top of each file."""
    head = " ".join(line for line in path.read_text(encoding="utf-8").splitlines() if line.startswith("#"))
    assert "Source: " in head
    assert re.search(r"Licence: [-A-Za-z0-9.]+|Published specification", head)


# A status value says what the symbol says.

CLASSES = {0x00: "computing unit", 0x01: "peripheral", 0x02: "I/O bus", 0x03: "software"}
SUBJECTS: tuple[tuple[str, int, int], ...] = (
    (r"DXE_SB|PEI_MEM_SB|DXE_NB|PEI_MEM_NB", 0x00, 0x06),
    (r"PEI_MEMORY_INSTALLED|PEI_MEMORY_NOT_INSTALLED", 0x03, 0x0F),
    (r"PEI_MEMORY|DXE_FLASH", 0x00, 0x05),
    (r"(PEI|DXE)_CPU|PEI_CAR_CPU", 0x00, 0x01),
    (r"DXE_CON_IN|DXE_NO_CON_IN", 0x01, 0x01),
    (r"DXE_CON_OUT|DXE_NO_CON_OUT", 0x01, 0x03),
    (r"DXE_PCI", 0x02, 0x01),
    (r"DXE_USB", 0x02, 0x02),
    (r"DXE_SIO", 0x02, 0x06),
    (r"DXE_SCSI", 0x02, 0x07),
    (r"DXE_IDE", 0x02, 0x08),
    (r"PEI_RECOVERY_FAILED", 0x03, 0x02),
    (r"PEI_RECOVERY|PEI_S3", 0x03, 0x03),
    (r"PEI_CORE|PEI_DXE|PEI_RESET", 0x03, 0x02),
    (r"DXE_CORE|DXE_BDS|DXE_ARCH", 0x03, 0x04),
    (r"DXE_EXIT_BOOT_SERVICES", 0x03, 0x10),
    (r"DXE_RESET|RT_SET_VIRTUAL_ADDRESS_MAP_BEGIN", 0x03, 0x11),
    (r"DXE_|RT_", 0x03, 0x05),
)
"""Symbol -> class and subclass, first match. Source: PI 1.8 volume 3, status codes (edk2 PiStatusCode.h)."""

SHARED_OPERATIONS = {
    ("hardware", "progress"): {0: "BEGIN|INIT|CONNECT", 1: "RESET", 3: "DETECT", 4: "ENABLE|ASSIGN_RESOURCES", 6: "HOTPLUG"},
    ("hardware", "error"): {0: "_ERROR", 3: "NO_CON", 9: "OUT_OF_RESOURCES"},
    ("software", "progress"): {6: "INPUT_WAIT", 7: "SETUP_START"},
}
"""Operations below 1000, which all subclasses of a class share. Source: PI 1.8 volume 3, from memory."""


@pytest.mark.parametrize("table", ["edk2", "edk2-beeps"])
def test_status_values_decode(knowledge: Knowledge, table: str) -> None:
    """Source: PI 1.8 volume 3: class in bits 31 to 24, subclass in 23 to 16, operation below; 8000 and up is free for makers."""
    for code in knowledge.codes[table].codes:
        value = int(code.status, 16)
        kind, subclass, operation = value >> 24, value >> 16 & 0xFF, value & 0xFFFF
        expected = next(subject[1:] for subject in SUBJECTS if re.match(subject[0], code.symbol))
        assert (kind, subclass) == expected, code.symbol
        if operation < 0x1000:
            side = "software" if CLASSES[kind] == "software" else "hardware"
            assert re.search(SHARED_OPERATIONS[side, published_kind(table, code)][operation], code.symbol), code.symbol
        else:
            assert operation < 0x8000, code.symbol


@pytest.mark.parametrize(
    ("kind", "subclass", "operation", "symbol"),
    [
        (0x00, 0x05, 0x1009, "PEI_MEMORY_NOT_DETECTED"),
        (0x03, 0x0F, 0x100B, "PEI_MEMORY_INSTALLED"),
        (0x02, 0x01, 0x1000, "DXE_PCI_BUS_ENUM"),
        (0x01, 0x03, 0x0003, "DXE_NO_CON_OUT"),
    ],
)
def test_status_values_put_together_by_hand(edk2: CodeTable, kind: int, subclass: int, operation: int, symbol: str) -> None:
    """Source: edk2 PiStatusCode.h; class, subclass and operation read there one by one."""
    assert [code.status for code in edk2.codes if code.symbol == symbol] == [f"{kind:02X}{subclass:02X}{operation:04X}"]


@pytest.mark.parametrize(
    ("record", "symbol", "error"),
    [
        ("01 00 00 00 19 10 10 03 00", "DXE_EXIT_BOOT_SERVICES", False),
        ("02 00 00 80 02 10 05 03 00", "DXE_BOOT_OPTION_LOAD_ERROR", True),
    ],
)
def test_records_of_a_real_machine(edk2: CodeTable, record: str, symbol: str, error: bool) -> None:
    """Source: two nine-byte records seen in a public log of open management firmware; layout: SBMR 2.0, section F."""
    data = bytes.fromhex(record)
    status = f"{int.from_bytes(data[4:8], 'little'):08X}"
    found = [code for code in edk2.codes if code.status == status and (code.kind == "error") == error]
    assert [code.symbol for code in found] == [symbol]
    assert (data[0] == 2) == error


# First match: rows that can never show.


def hidden(table: CodeTable) -> Iterator[tuple[str, str]]:
    """Symbols of the rows that an earlier row of the same kind and status hides, each with the one that hides it."""
    first: dict[tuple[bool, str], Code] = {}
    for code in table.codes:
        winner = first.setdefault((code.kind == "error", code.status), code)
        if winner is not code:
            yield code.symbol, winner.symbol


def test_hidden_rows(knowledge: Knowledge) -> None:
    """Source: the edk2 look-up takes the first row of the type that fits; both hidden rows say so."""
    assert list(hidden(knowledge.codes["edk2"])) == [("DXE_CPU_SELF_TEST_FAILED", "PEI_CPU_SELF_TEST_FAILED")]
    assert list(hidden(knowledge.codes["edk2-beeps"])) == [("PEI_RESET_NOT_AVAILABLE", "PEI_DXE_CORE_NOT_FOUND")]
    for name in ("edk2", "edk2-beeps"):
        table = knowledge.codes[name]
        never = {code.symbol for code in table.codes if code.note.startswith("Never ")}
        assert never == {symbol for symbol, _ in hidden(table)}


@pytest.mark.parametrize(("table", "facts"), [("edk2", "edk2_post_codes"), ("edk2-beeps", "edk2_beeps")])
def test_rows_of_one_status_keep_their_order(knowledge: Knowledge, table: str, facts: str) -> None:
    """Source: order of the rows in the edk2 map libraries."""
    ours = [code.symbol for code in knowledge.codes[table].codes]
    for status in {r["status"] for r in kept(facts)}:
        for kind in ("progress", "error"):
            published = [r["symbol"] for r in kept(facts) if r["status"] == status and r["kind"] == kind]
            assert [symbol for symbol in ours if symbol in published] == published


# What a two-digit display shows.


def test_low_bytes(edk2: CodeTable) -> None:
    """Source: edk2 BasePostCodeLibPort80, which writes 8 bits unless built otherwise. Only 58 then has two codes behind it."""
    assert edk2.low_byte
    behind: dict[str, set[str]] = {}
    for code in edk2.codes:
        behind.setdefault(low(code.code), set()).add(code.code)
    assert {byte: codes for byte, codes in behind.items() if len(codes) > 1} == {"58": {"58", "1058"}}


def test_codes_with_two_meanings(edk2: CodeTable) -> None:
    """Source: edk2-platforms PostCodeDebugFeaturePkg. Each such row tells of the other meaning."""
    twice = {code for code, times in Counter(code.code for code in edk2.codes).items() if times > 1}
    assert twice == {"50", "52", "53", "56", "58", "59", "5A"}
    silent = [code.symbol for code in edk2.codes if code.code in {*twice, "5B"} and code.code not in code.note]
    assert silent == []


def test_codes_on_which_the_families_differ(edk2: CodeTable, coreboot: dict[str, Code]) -> None:
    """Source: computed from both sources; every coreboot row of the clash names it."""
    clash = {low(code.code) for code in edk2.codes} & set(coreboot)
    pieces = "10 11 21 34 36 60 70 71 72 90 92 93 94 95 96 97 98 99 9A 9B 9C A1 A2 A3 A4 A5 E1 E3 F3 F8"
    assert sorted(clash) == pieces.split()
    assert [code for code in sorted(clash) if "edk2" not in coreboot[code].note] == []


@pytest.mark.parametrize(
    ("code", "in_edk2", "in_coreboot"),
    [
        ("E3", ("resume", "progress"), ("memory", "error")),
        ("92", ("bds", "progress"), ("memory", "progress")),
        ("F8", ("recovery", "error"), ("hand-over", "end")),
    ],
)
def test_sharpest_differences(
    edk2: CodeTable, coreboot: dict[str, Code], code: str, in_edk2: tuple[str, str], in_coreboot: tuple[str, str]
) -> None:
    """Source: the two sources named above. Both rows warn of the other family."""
    (ours,) = [each for each in edk2.codes if low(each.code) == code]
    assert (ours.phase, ours.kind) == in_edk2
    assert "coreboot" in ours.note
    assert (coreboot[code].phase, coreboot[code].kind) == in_coreboot


def test_generic_ranges_cover_each_byte_once(knowledge: Knowledge) -> None:
    """By definition: a range table must have an answer for whatever the display shows."""
    table = knowledge.codes["generic-hex"]
    assert table.generic
    covered: list[int] = []
    for code in table.codes:
        first, _, last = code.code.partition("-")
        covered += range(int(first, 16), int(last or first, 16) + 1)
    assert covered == list(range(256))


def test_generic_ranges_agree_with_edk2(knowledge: Knowledge, edk2: CodeTable) -> None:
    """Source: the edk2 rows. Most of its codes get the same stage from the ranges; the rest are known."""
    by_range: dict[int, Code] = {}
    for code in knowledge.codes["generic-hex"].codes:
        first, _, last = code.code.partition("-")
        by_range |= dict.fromkeys(range(int(first, 16), int(last or first, 16) + 1), code)
    rows = [(code, by_range[int(low(code.code), 16)]) for code in edk2.codes]
    assert [code.code for code, guess in rows if (code.kind == "error") != (guess.kind == "error")] == []
    named = [(code, guess) for code, guess in rows if code.stage and guess.stage]
    agreed = sum(code.stage == guess.stage for code, guess in named)
    assert agreed / len(named) > 0.75


# The other tables.


CALLS = {
    "F": ("sec", "Temporary memory set up"),
    "D": ("memory", "Memory start-up"),
    "B": ("late-pei", "Temporary memory taken down"),
    "9": ("late-pei", "Silicon set-up"),
    "7": ("dxe", "Management mode"),
    "6": ("dxe", "After the PCI"),
    "4": ("bds", "Ready to start"),
    "2": ("hand-over", "End of the firmware"),
}
MODULES = {
    "7": "graphics part",
    "8": "common part",
    "9": "common silicon part",
    "A": "memory and graphics side",
    "B": "input and output side",
    "C": "CPU part",
    "D": "memory code",
    "E": "management engine part",
}


def test_silicon_words(knowledge: Knowledge) -> None:
    """Source: edk2 FspStatusCode.h: top nibble the call, next the module, low byte 00 entry or 7F exit."""
    codes = knowledge.codes["silicon-binary"].codes
    assert {code.code for code in codes} == {call + part + low for call in CALLS for part in MODULES for low in ("00", "7F")}
    for code in codes:
        phase, what = CALLS[code.code[0]]
        assert code.phase == phase
        assert code.meaning.startswith(what)
        assert code.meaning.endswith(MODULES[code.code[1]] + {"00": " begins", "7F": " has ended"}[code.code[2:]])


def test_redfish_states(knowledge: Knowledge) -> None:
    """Source: DMTF DSP8010, ComputerSystem v1_28_0, BootProgress.LastState, in its order."""
    assert [code.code for code in knowledge.codes[STATES].codes] == [
        "None",
        "PrimaryProcessorInitializationStarted",
        "BusInitializationStarted",
        "MemoryInitializationStarted",
        "SecondaryProcessorInitializationStarted",
        "PCIResourceConfigStarted",
        "SystemHardwareInitializationComplete",
        "SetupEntered",
        "OSBootStarted",
        "OSRunning",
        "OEM",
    ]
    assert [code.code for code in knowledge.codes[STATES].codes if code.kind == "end"] == ["OSRunning"]


@pytest.mark.parametrize(
    ("table", "code", "stage"),
    [
        ("generic-beeps", "short", "boot-device"),
        ("generic-beeps", "1", "boot-device"),
        ("generic-beeps", "long-repeated", "memory"),
        ("generic-beeps", "short-repeated", "memory"),
        ("generic-beeps", "1-3-1", "memory"),
        ("generic-beeps", "long-short-short", "graphics"),
        ("generic-beeps", "long-short-short-short", "graphics"),
        ("generic-lamps", "cpu", "cpu"),
        ("generic-lamps", "memory", "memory"),
        ("generic-lamps", "graphics", "graphics"),
        ("generic-lamps", "boot", "boot-device"),
        ("generic-lamps", "none", "no-code"),
        ("generic-hex", "00", "no-code"),
        ("generic-hex", "FF", "no-code"),
        ("generic-hex", "AA", "handed-over"),
    ],
)
def test_common_meanings(knowledge: Knowledge, table: str, code: str, stage: str) -> None:
    """Common practice, no source."""
    assert [each.stage for each in knowledge.codes[table].codes if each.code == code] == [stage]


# What holds for all tables.


def test_every_table_is_here(knowledge: Knowledge) -> None:
    """The files and the loaded tables are the same."""
    assert sorted(knowledge.codes) == sorted(path.stem for path in FILES)


def test_stages_and_suspects(knowledge: Knowledge) -> None:
    """Each stage is an answer of the finding, and no suspect is named twice. That each is a cause, the loader demands."""
    stages = {answer.id for answer in knowledge.findings["stage"].answers} | {""}
    rows = [(table.id, code) for table in knowledge.codes.values() for code in table.codes]
    assert [(table, code) for table, code in rows if code.stage not in stages] == []
    assert [(table, code) for table, code in rows if len(set(code.suspects)) < len(code.suspects)] == []


def test_only_where_no_stage_follows_is_none_named(knowledge: Knowledge) -> None:
    """Recovery, wake from sleep, errors of the firmware's own image, and what may come any time; else a stop tells the stage."""
    silent = [(table.id, code) for table in knowledge.codes.values() for code in table.codes if not code.stage]
    told = [row for row in silent if row[1].phase in ("any", "recovery", "resume") or row[1].about == "firmware-image"]
    assert [row for row in silent if row not in told] == []
    for name in SOURCES:
        errors = {code.symbol for table, code in told if table == name and code.phase not in ("any", "recovery", "resume")}
        assert errors == STAGELESS_ERRORS.get(name, set()), name


@pytest.mark.parametrize("name", ENDS)
def test_published_ends(knowledge: Knowledge, name: str) -> None:
    """Source: edk2, coreboot and IPMI as above."""
    assert sorted(code.code for code in knowledge.codes[name].codes if code.kind == "end") == ENDS[name]


def test_ends(knowledge: Knowledge) -> None:
    """Common practice, no source: a normal end has handed over, or beeped once that the choice of the boot device is next."""
    wrong = [
        (table.id, code)
        for table in knowledge.codes.values()
        for code in table.codes
        if code.kind == "end" and code.stage != ("boot-device" if table.form == "beeps" else "handed-over")
    ]
    assert wrong == []


@pytest.mark.parametrize(
    ("table", "codes"),
    [
        ("edk2", {"20", "21"}),
        ("coreboot", {"92", "A4", "A5"}),
        ("silicon-binary", {"DD00", "DD7F"}),
        ("ipmi-firmware", {"02:01"}),
    ],
)
def test_memory_training_may_take_long(knowledge: Knowledge, table: str, codes: set[str]) -> None:
    """Common practice, no source: training lasts minutes and comes again, without any fault."""
    repeating = [code for code in knowledge.codes[table].codes if code.phase == "memory" and code.repeats]
    assert {code.code for code in repeating} == codes


@pytest.mark.parametrize("name", ["edk2", "edk2-beeps", "coreboot", "ipmi-firmware"])
def test_errors_of_memory_suspect_memory(knowledge: Knowledge, name: str) -> None:
    """By definition."""
    for code in knowledge.codes[name].codes:
        if code.kind == "error" and code.stage == "memory":
            assert [cause for cause in code.suspects if cause.startswith("memory-")], code


def test_every_table_has_a_source(knowledge: Knowledge) -> None:
    """One that can be looked up, or the words that there is none; and that its weight was judged."""
    sources = {name: table.source for name, table in knowledge.codes.items()}
    assert [name for name, said in sources.items() if bool(PUBLISHED.search(said)) == (UNSOURCED in said)] == []
    assert [name for name, said in sources.items() if not re.search(r"\bweight: judgement\b", said)] == []


@pytest.mark.parametrize("table", SOURCES)
def test_source_is_the_one_compared_with(knowledge: Knowledge, table: str) -> None:
    """A table that is held against a published one here names that one."""
    assert SOURCES[table] in knowledge.codes[table].source


def test_boards_with_a_display_name_their_table(knowledge: Knowledge) -> None:
    """The invented boards: a display follows a table of digits, and no display follows none."""
    for board in knowledge.boards.values():
        assert bool(board.code_table) == board.indicators["code_display"], board.id
        if board.code_table:
            assert knowledge.codes[board.code_table].form == "hex"
