"""Records of open standards: IPMI, Arm SBMR, Redfish."""

from __future__ import annotations

import json
import random
from typing import Any

import pytest

from nopost.codes.code_events import CodeEvent, CodeForm, CodeReading, EventOrder
from nopost.codes.readers.format_detection import read_text

SEL = "34 12 02 80 51 01 67 33 00 04 0F 06 6F C0 01 FF"


def one(text: str | bytes, order: EventOrder | None = None) -> CodeReading:
    """The only reading of a text."""
    readings = read_text(text, order=order)
    assert len(readings) == 1, readings
    return readings[0]


def signs(reading: CodeReading) -> list[tuple[str, str]]:
    """Code and kind of each event."""
    return [(e.code, e.kind) for e in reading.events]


def record(number: int, seconds: int, sensor: int = 0x0F, way: int = 0x6F, data: str = "C2 01 FF") -> str:
    """A 16-byte record in hexadecimal, by the layout of IPMI v2.0 table 32-1."""
    head = number.to_bytes(2, "little") + b"\x02" + seconds.to_bytes(4, "little") + bytes.fromhex("3300 04")
    return (head + bytes((sensor, 6, way)) + bytes.fromhex(data)).hex(" ")


@pytest.mark.parametrize(
    "text",
    [
        SEL,
        SEL.replace(" ", ""),
        "0x" + SEL.replace(" ", " 0x"),
        SEL.replace(" ", ", "),
        f"0000: {SEL}",
        f"00000000  {SEL[:23]}  {SEL[24:]}  |4...Q.g3...o....|",
        "00000000: 3412 0280 5101 6733 0004 0f06 6fc0 01ff  4...Q.g3....o...",
        SEL[:23] + "\n" + SEL[24:],
        bytes.fromhex(SEL),
    ],
)
def test_ipmi_example(text: str | bytes) -> None:
    """Source: the invented record of the facts, section 3, by IPMI v2.0 tables 32-1, 29-6, 42-3: POST error, no memory fitted."""
    reading = one(text)
    assert reading.form is CodeForm.FIRMWARE_EVENTS
    assert signs(reading) == [("00:01", "error")]


def test_ipmi_only_firmware_codes() -> None:
    """Source: IPMI v2.0 table 29-6: a code only for sensor 0Fh, event type 6Fh, bits 7:6 = 11b. Others are counted."""
    base = 0x67015180
    rows = [
        record(1, base),
        record(2, base + 1, data="C2 09 FF"),
        record(3, base + 2, sensor=0x01),
        record(4, base + 3, way=0x01),
        record(5, base + 4, data="82 01 FF"),
        record(6, base + 5, data="02 FF FF"),
        record(7, base + 6, way=0xEF),
        record(8, base + 7, data="C1 07 FF"),
        record(9, base + 8, data="C7 07 FF"),
    ]
    reading = one("\n".join(rows))
    assert signs(reading) == [("02:01", "progress"), ("02:09", "progress"), ("01:07", "error")]
    assert [e.at for e in reading.events] == [0.0, 1.0, 7.0]
    assert reading.order_given
    said = " ".join(reading.notes)
    for expected in ("other sensors left out: 2", "no code: 2", "end of an event left out: 1", "reserved offset left out: 1"):
        assert expected in said


def test_ipmi_newest_first() -> None:
    """Falling record ids turn the order, also where the clock was not set (FFFFFFFFh)."""
    rows = [record(n, 0xFFFFFFFF, data=f"C2 {n:02X} FF") for n in (3, 2, 1)]
    reading = one("\n".join(rows))
    assert [e.code for e in reading.events] == ["02:01", "02:02", "02:03"]
    assert [e.at for e in reading.events] == [None] * 3
    assert reading.order is EventOrder.NEWEST_FIRST


def test_ipmi_clock_not_yet_set() -> None:
    """Source: IPMI v2.0, SEL time: up to 20000000h seconds since the log began; such stamps do not mix with dates."""
    reading = one("\n".join((record(1, 5), record(2, 0x67015180, data="C2 09 FF"), record(3, 0x67015184, data="C2 13 FF"))))
    assert [e.at for e in reading.events] == [None, 0.0, 4.0]


LISTING = """\
   1 | 02/03/2031 | 04:05:06 | System Firmware Progress #0x06 | Memory initialization | Asserted
   2 | 02/03/2031 | 04:05:08 | System Firmware Progress #0x06 | Video initialization | Asserted
   3 | 02/03/2031 | 04:05:09 | Temperature #0x30 | Upper Critical going high | Asserted
   4 | 02/03/2031 | 04:05:10 | System Firmware Progress #0x06 | Video initialization | Deasserted
   5 | 02/03/2031 | 04:05:11 | System Firmware Hang #0x06 | PCI resource configuration | Asserted
   6 | 02/03/2031 | 04:05:12 | System Firmware Error #0x06 | No video device detected | Asserted
   a | 02/03/2031 | 04:05:13 | System Firmware #0x06 | event data c0 01 ff | Asserted
"""


def test_ipmi_listing() -> None:
    """The listing with bars: general form, common practice; codes by IPMI v2.0 table 42-3."""
    reading = one(LISTING)
    assert signs(reading) == [
        ("02:01", "progress"),
        ("02:09", "progress"),
        ("01:07", "error"),
        ("00:0A", "error"),
        ("00:01", "error"),
    ]
    assert [e.at for e in reading.events] == [0.0, 2.0, 5.0, 6.0, 7.0]
    assert [e.line for e in reading.events] == [1, 2, 5, 6, 7]
    backwards = one("\n".join(reversed(LISTING.splitlines())))
    assert (backwards.order, signs(backwards)) == (EventOrder.NEWEST_FIRST, signs(reading))


SBMR = ("01000000 19101003 00", "02000080 02100503 00")


@pytest.mark.parametrize(
    "text",
    [
        "\n".join(SBMR),
        "\n".join(SBMR).replace(" ", ""),
        "".join(SBMR).replace(" ", ""),
        "\n".join(bytes.fromhex(row).hex(" ") for row in SBMR),
        "\n".join(f"0x{bytes.fromhex(row).hex()}" for row in SBMR),
        bytes.fromhex("".join(SBMR)),
    ],
)
def test_sbmr_records(text: str | bytes) -> None:
    """Source: OpenBIC, pull request 1704, by Arm SBMR 2.0 section F: exit boot services; boot option load error, major."""
    reading = one(text)
    assert [(e.code, e.status, e.kind) for e in reading.events] == [
        ("03101019", "03101019", "progress"),
        ("03051002", "03051002", "error"),
    ]
    assert not reading.order_given
    assert any("major" in note for note in reading.notes)


def test_sbmr_with_stamps_newest_first() -> None:
    """Falling stamps in front of the records turn the order."""
    reading = one(f"[9.5] {SBMR[1]}\n[1.5] {SBMR[0]}")
    assert [(e.code, e.at) for e in reading.events] == [("03101019", 1.5), ("03051002", 9.5)]
    assert reading.order is EventOrder.NEWEST_FIRST


# Redfish. Property rules: DMTF LogEntry v1_21_0 and LogEntryCollection JSON schemas, as in the facts, section 4.
REQUIRED = ("@odata.id", "@odata.type", "Id", "Name", "EntryType")
ENTRY_TYPES = ("Event", "SEL", "Oem", "CXL")
SEVERITIES = ("OK", "Warning", "Critical")


def entry(boot: int, number: int, seconds: float, code: str, created: str | None = None) -> dict[str, Any]:
    """One invented POST-code entry in the form that the open BMC firmware's message registry lays down."""
    item: dict[str, Any] = {
        "@odata.type": "#LogEntry.v1_9_0.LogEntry",
        "@odata.id": f"/redfish/v1/Systems/system/LogServices/PostCodes/Entries/B{boot}-{number}",
        "Id": f"B{boot}-{number}",
        "Name": "POST Code Log Entry",
        "EntryType": "Event",
        "Severity": "OK",
        "MessageId": "OpenBMC.0.2.BIOSPOSTCode",
        "MessageArgs": [str(boot), f"{seconds:.4f}", code],
        "Message": "(boot 99, 77.7 s, code 0x99)",
    }
    return item | ({"Created": created} if created else {})


def page(entries: list[dict[str, Any]], **more: Any) -> dict[str, Any]:
    """One page of a collection."""
    return {
        "@odata.type": "#LogEntryCollection.LogEntryCollection",
        "@odata.id": "/redfish/v1/Systems/system/LogServices/PostCodes/Entries",
        "Name": "POST code log",
        "Members": entries,
        "Members@odata.count": len(entries),
        **more,
    }


def check_collection(value: dict[str, Any]) -> None:
    """Assert what the DMTF schemas ask of a collection and its entries."""
    for name in ("@odata.id", "@odata.type", "Name", "Members"):
        assert name in value
    assert value["Members@odata.count"] >= len(value["Members"])
    for item in value["Members"]:
        assert all(isinstance(item[name], str) and item[name] for name in REQUIRED)
        assert item["EntryType"] in ENTRY_TYPES
        assert item.get("Severity", "OK") in SEVERITIES
        assert all(isinstance(arg, str) for arg in item.get("MessageArgs", []))


EXAMPLE = entry(1, 3, 0.8421, "0x53", "2031-02-03T04:05:06.842100+00:00")
OLD = [entry(2, 1, 0.0, "0x10"), entry(2, 2, 1.5, "0x11"), entry(2, 3, 4.25, "0x53")]
NEW = [entry(1, 1, 0.0, "0x10"), entry(1, 2, 0.5, "0x11"), entry(1, 3, 9.75, "0xFEE0")]
EXPECTED = [("10", 1, 0.0), ("11", 1, 1.5), ("53", 1, 4.25), ("10", 2, 4.25), ("11", 2, 4.75), ("E0FE", 2, 14.0)]


def boots(reading: CodeReading) -> list[tuple[str, int | None, float | None]]:
    """Code, start and time of each event."""
    return [(e.code, e.boot, e.at) for e in reading.events]


def test_redfish_example() -> None:
    """Source: the invented entry of the facts, section 4, in the form of bmcweb's POST-code log."""
    check_collection(page([EXAMPLE]))
    (event,) = one(json.dumps(page([EXAMPLE]))).events
    assert (event.code, event.boot) == ("53", 1)


def test_redfish_collection_in_many_wrappings() -> None:
    """One page, pages, lines, a list, shuffled, doubled: the same events. Start 1 is the newest (phosphor-dbus-interfaces)."""
    whole = page(NEW + OLD)
    check_collection(whole)
    shuffled = NEW + OLD
    random.Random(3).shuffle(shuffled)
    first, second = page(NEW, **{"Members@odata.nextLink": "?$skip=3"}), page(OLD)
    texts = [
        json.dumps(whole),
        json.dumps(whole, indent=2),
        json.dumps(page(shuffled)),
        json.dumps(first) + json.dumps(second),
        json.dumps(second) + "\n\n" + json.dumps(first, indent=1),
        json.dumps([first, second]),
        "\n".join(json.dumps(item) for item in NEW + OLD),
        json.dumps(NEW + OLD),
        json.dumps(first) + json.dumps(whole),
    ]
    for text in texts:
        reading = one(text)
        assert boots(reading) == EXPECTED
        assert reading.order_given


def test_redfish_cut_short() -> None:
    """A page that was cut at either end still gives the entries that stand whole in it."""
    text = json.dumps(page(OLD + NEW))
    assert boots(one(text[:-30])) == EXPECTED
    assert boots(one(text[20:])) == EXPECTED
    assert any("not whole" in note for note in one(text[:-30]).notes)


def test_redfish_created_gives_the_time_between_starts() -> None:
    """`Created` is kept to the microsecond and counts over all starts."""
    entries = [
        entry(1, 1, 0.0, "0x10", "2031-02-03T04:10:00.000000+00:00"),
        entry(1, 2, 0.25, "0x11", "2031-02-03T04:10:00.250001+00:00"),
        entry(2, 1, 0.0, "0x10", "2031-02-03T04:05:00.000000+00:00"),
    ]
    assert boots(one(json.dumps(page(entries)))) == [("10", 1, 0.0), ("10", 2, 300.0), ("11", 2, 300.250001)]


@pytest.mark.parametrize(
    ("stored", "expected"),
    [
        ("0x53", CodeEvent("53", 0.0, 1)),
        ("0xFEE0", CodeEvent("E0FE", 0.0, 1)),
        ("0x93E000EA", CodeEvent("EA00E093", 0.0, 1)),
        ("0x09100500", CodeEvent("00051009", 0.0, 1)),
        ("0x53000000", CodeEvent("53", 0.0, 1)),
        ("0x93E000EA00000000", CodeEvent("EA00E093", 0.0, 1)),
        ("0x010000001910100300", CodeEvent("03101019", 0.0, 1, "progress", "03101019")),
        ("0x020000800210050300", CodeEvent("03051002", 0.0, 1, "error", "03051002")),
    ],
)
def test_redfish_code_sizes(stored: str, expected: CodeEvent) -> None:
    """1, 2, 4, 8 or 9 bytes in stored order, low byte first. Sources of the values: the facts, sections 1, 4 and 13."""
    assert one(json.dumps(page([entry(1, 1, 0.0, stored)]))).events == (expected,)


def test_redfish_other_entries_are_counted() -> None:
    """Entries of other kinds and odd codes are left out and said."""
    other = {**entry(1, 2, 0.0, "0x10"), "MessageId": "OpenBMC.0.2.PowerButtonPressed", "MessageArgs": []}
    reading = one(json.dumps(page([entry(1, 1, 0.0, "0x10"), other, entry(1, 3, 1.0, "0x101010"), entry(1, 4, 1.0, "zz")])))
    assert [e.code for e in reading.events] == ["10"]
    assert any("without a POST code left out: 1" in note for note in reading.notes)
    assert any("unknown form left out: 2" in note for note in reading.notes)


def test_boot_progress() -> None:
    """Source: DMTF ComputerSystem v1_28_0, BootProgress.LastState and LastStateTime."""
    system = {
        "@odata.type": "#ComputerSystem.v1_20_0.ComputerSystem",
        "@odata.id": "/redfish/v1/Systems/system",
        "BootProgress": {"LastState": "MemoryInitializationStarted", "LastStateTime": "2031-02-03T04:05:06Z"},
    }
    reading = one(json.dumps(system, indent=2))
    assert (reading.form, [e.code for e in reading.events]) == (CodeForm.STATES, ["MemoryInitializationStarted"])
    later = {"LastState": "OSRunning", "LastStateTime": "2031-02-03T04:06:06Z"}
    series = one(json.dumps(later) + "\n" + json.dumps(system["BootProgress"]))
    assert [(e.code, e.at) for e in series.events] == [("MemoryInitializationStarted", 0.0), ("OSRunning", 60.0)]
    maker = one(json.dumps({"LastState": "OEM", "OemLastState": "Warming up"}))
    assert [e.code for e in maker.events] == ["OEM"]
    assert "Warming up" in maker.notes[0]
    assert read_text(json.dumps({"BootProgress": {"LastState": "Invented"}})) == []


def test_state_names_in_lines() -> None:
    """State names in plain lines with stamps, as a script writes that asks again and again."""
    reading = one("[1.0] PrimaryProcessorInitializationStarted\n[2.5] MemoryInitializationStarted\n[9.0] LastState=OEM")
    assert [(e.code, e.at) for e in reading.events] == [
        ("PrimaryProcessorInitializationStarted", 1.0),
        ("MemoryInitializationStarted", 2.5),
        ("OEM", 9.0),
    ]
