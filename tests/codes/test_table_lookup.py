"""Look-up of codes: exact rows, ranges, low bytes, status values, and places in the normal order."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nopost.codes.code_events import CodeForm
from nopost.codes.tables import IndexedTable, TableSet
from nopost.errors import UnknownNameError
from nopost.knowledge.model import Knowledge
from nopost.knowledge.reference_records import Code, CodeTable

SHARED = [
    "10",
    "11",
    "21",
    "34",
    "36",
    "60",
    "70",
    "71",
    "72",
    "90",
    "92",
    "93",
    "94",
    "95",
    "96",
    "97",
    "98",
    "99",
    "9A",
    "9B",
    "9C",
    "A1",
    "A2",
    "A3",
    "A4",
    "A5",
    "E1",
    "E3",
    "F3",
    "F8",
]
"""Byte values with different meanings in the two open two-digit maps (facts, section 1, computed from both sources)."""


def row(code: str, kind: str = "progress", phase: str = "pei", status: str = "") -> Code:
    return Code(code, phase, kind, f"meaning of {code}", status=status)


def table(*codes: Code, form: str = "hex", low_byte: bool = False) -> IndexedTable:
    return IndexedTable(CodeTable("small", "Small", "small", form, 1.0, codes, low_byte))


@pytest.fixture(scope="module")
def shipped(knowledge: Knowledge) -> TableSet:
    return TableSet(knowledge.codes, knowledge.base.roles)


def test_shared_values_disagree(shipped: TableSet) -> None:
    """All 30 published values are in both tables, with other words and other places or kinds."""
    edk2, coreboot = shipped.named("edk2"), shipped.named("coreboot")
    both = [f"{n:02X}" for n in range(256) if edk2.find(f"{n:02X}") and coreboot.find(f"{n:02X}")]
    assert both == SHARED
    for code in SHARED:
        assert {c.meaning for c in edk2.find(code)}.isdisjoint(c.meaning for c in coreboot.find(code))


def test_sharpest_clashes(shipped: TableSet) -> None:
    """Facts, section 1: E3 resume against memory failure, 92 PCI against memory, F8 failed recovery against a normal end."""
    edk2, coreboot = shipped.named("edk2"), shipped.named("coreboot")
    assert [(c.phase, c.kind) for c in edk2.find("E3")] == [("resume", "progress")]
    assert [(c.phase, c.kind) for c in coreboot.find("E3")] == [("memory", "error")]
    assert [c.phase for c in edk2.find("92")] == ["bds"]
    assert [c.phase for c in coreboot.find("92")] == ["memory"]
    assert [c.kind for c in edk2.find("F8")] == ["error"]
    assert [c.kind for c in coreboot.find("F8")] == ["end"]


def test_low_byte_58_is_shared_by_early_and_late_rows(shipped: TableSet) -> None:
    """Facts, section 1: the only low byte of a driver-phase code that another row has too."""
    assert {c.code for c in shipped.named("edk2").find("58")} == {"58", "1058"}
    assert {c.code for c in shipped.named("edk2").find("1058")} == {"1058"}


@pytest.mark.parametrize(
    ("status", "kind", "symbol"),
    [
        # Facts, sections 1 and 13.
        ("00051009", "error", "PEI_MEMORY_NOT_DETECTED"),
        ("030F100B", "progress", "PEI_MEMORY_INSTALLED"),
        ("02011000", "progress", "DXE_PCI_BUS_ENUM"),
        ("01030003", "error", "DXE_NO_CON_OUT"),
        ("03101019", "progress", "DXE_EXIT_BOOT_SERVICES"),
        ("03051002", "error", "DXE_BOOT_OPTION_LOAD_ERROR"),
        ("03051002", "progress", "DXE_LEGACY_BOOT"),
    ],
)
def test_status_values_find_their_rows(shipped: TableSet, status: str, kind: str, symbol: str) -> None:
    assert [c.symbol for c in shipped.named("edk2").find(status, kind)] == [symbol]


def test_low_byte_only_where_the_table_says_so() -> None:
    rows = (row("10"), row("1092"))
    plain, low = table(*rows), table(*rows, low_byte=True)
    assert [c.code for c in low.find("92")] == ["1092"]
    assert [c.code for c in low.find("A092")] == ["1092"]
    assert [c.code for c in low.find("B000A610")] == ["10"]
    assert low.look_up("A092").wide
    assert not low.look_up("92").wide
    assert not low.look_up("1092").wide
    assert plain.find("92") == plain.find("A092") == []
    assert [c.code for c in plain.find("1092")] == ["1092"]


@pytest.mark.parametrize("code", ["3f", "3F", "003F", "0000003F", " 3F "])
def test_padding_and_case(code: str) -> None:
    assert [c.code for c in table(row("3F")).find(code)] == ["3F"]


def test_exact_rows_come_before_ranges() -> None:
    ranged = table(row("10-1F"), row("15", "error"), row("1000-10FF"))
    assert [c.code for c in ranged.find("15")] == ["15", "10-1F"]
    assert [c.code for c in ranged.find("10")] == ["10-1F"]
    assert [c.code for c in ranged.find("1015")] == ["1000-10FF"]
    assert ranged.find("20") == []
    assert [c.kind for c in ranged.find("15", "error")] == ["error"]
    assert [c.code for c in ranged.find("15", "progress")] == ["10-1F"]
    assert [c.code for c in ranged.find("10", "error")] == ["10-1F"]


def test_groups_of_beeps_are_no_ranges() -> None:
    beeps = table(row("1-3"), row("3"), form="beeps")
    assert [c.code for c in beeps.find("1-3")] == ["1-3"]
    assert beeps.find("2") == []


def test_firmware_events_have_ranges_behind_the_colon() -> None:
    events = table(row("00:01"), row("02:C0-FF"), form="firmware-events")
    assert [c.code for c in events.find("02:C7")] == ["02:C0-FF"]
    assert events.find("00:C7") == []


def test_places_rise_in_the_normal_order() -> None:
    normal = table(row("10"), row("E0", "error"), row("F0", phase="recovery"), row("20"), row("30", "end"))
    assert [normal.place(code) for code in ("10", "20", "30")] == [0.0, 0.5, 1.0]
    assert normal.place("E0") is normal.place("F0") is normal.place("77") is None


def test_places_inside_a_range_rise_with_the_number(shipped: TableSet) -> None:
    generic = shipped.named("generic-hex")
    places = [place for n in range(256) if (place := generic.place(f"{n:02X}")) is not None]
    assert places == sorted(set(places))
    assert places[0] >= 0
    assert places[-1] <= 1


def test_every_place_is_in_bounds(shipped: TableSet) -> None:
    for one in shipped.tables.values():
        places = [one.place(code.code) for code in one.codes if "-" not in code.code or one.form is CodeForm.BEEPS]
        assert all(place is None or 0 <= place <= 1 for place in places)


def test_forms(shipped: TableSet) -> None:
    assert {t.id for t in shipped.of_form(CodeForm.BEEPS)} == {"edk2-beeps", "generic-beeps"}
    assert all(t.form is CodeForm.HEX for t in shipped.of_form(CodeForm.HEX))
    assert shipped.form_of(["10", "92"]) is CodeForm.HEX
    assert shipped.form_of(["OSRunning", "SetupEntered"]) is CodeForm.STATES
    assert shipped.form_of(["02:01"]) is CodeForm.FIRMWARE_EVENTS
    assert shipped.form_of([]) is CodeForm.HEX


def test_unknown_table_names_near_ones(shipped: TableSet) -> None:
    with pytest.raises(UnknownNameError, match="coreboot") as raised:
        shipped.named("corebot")
    assert "coreboot" in raised.value.nearest


@given(st.text(max_size=20))
def test_any_text_finds_rows_or_nothing(shipped: TableSet, code: str) -> None:
    for one in shipped.tables.values():
        assert isinstance(one.find(code), list)
        assert one.place(code) is None or one.find(code)
