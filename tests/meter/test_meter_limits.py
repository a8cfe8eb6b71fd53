"""The shipped limits are the published ones, number by number; the sources stand in the first lines of each table."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from nopost.knowledge.model import Knowledge

TABLES = Path(__file__).parent / "published"
RAILS = {"+12V1DC": "+12V", "+12V2DC": "+12V2", "+5VDC": "+5V", "+3.3VDC": "+3.3V", "-12VDC": "-12V", "+5VSB": "+5VSB"}
CARRIES = {"COM": "ground", "reserved": "none", "+12V1": "+12V"}


def rows(name: str) -> list[dict[str, str]]:
    """The rows of a published table."""
    lines = (TABLES / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def bounds(text: str) -> tuple[float | None, float | None]:
    """`<500`, `>16`, `100-500` or nothing, as least and most."""
    if not text:
        return None, None
    if text[0] in "<>":
        return (None, float(text[1:])) if text[0] == "<" else (float(text[1:]), None)
    least, most = text.split("-")
    return float(least), float(most)


@pytest.mark.parametrize("row", rows("rails.csv"), ids=lambda row: f"{row['guide']} {row['rail']}")
def test_rail(knowledge: Knowledge, row: dict[str, str]) -> None:
    """Nominal, least and most volts, and ripple."""
    (rail,) = (rail for rail in knowledge.limits[row["guide"]].rails if rail.name == RAILS[row["rail"]])
    least, most = sorted((float(row["min_v"]), float(row["max_v"])))
    assert (rail.nominal, rail.low, rail.high) == (float(row["nominal_v"]), least, most)
    assert rail.ripple == float(row["ripple_mv"])
    assert rail.standby == (rail.name == "+5VSB")


@pytest.mark.parametrize(("guide", "column"), [("atx-2-0", "before_2020"), ("atx-3-0", "required")])
def test_times(knowledge: Knowledge, guide: str, column: str) -> None:
    """Every time with its bounds, and none is left out."""
    kept = {time.name: (time.low, time.high) for time in knowledge.limits[guide].times}
    assert kept == {row["symbol"]: bounds(row[column]) for row in rows("times.csv")}


def test_contacts(knowledge: Knowledge) -> None:
    """Every contact of the plugs, with what it carries and the colour of its wire."""
    kept = {(pin.plug, pin.pin): (pin.carries, pin.wire) for pin in knowledge.limits["main-plug"].pins}
    published = {
        (row["connector"].replace("_", "-"), int(row["pin"])): (
            CARRIES.get(row["signal"], row["signal"]),
            {"gray": "grey", "-": ""}.get(row["wire_colour"], row["wire_colour"]),
        )
        for row in rows("contacts.csv")
    }
    assert kept == published


@pytest.mark.parametrize("guide", ["atx-2-0", "atx-3-0"])
def test_signals(knowledge: Knowledge, guide: str) -> None:
    """Levels of guide 336521 rev 2.0: PWR_OK in Table 4-10, PS_ON# in Table 4-11."""
    kept = {s.name: (s.low, s.high, s.idle, s.running) for s in knowledge.limits[guide].signals}
    assert kept == {
        "PWR_OK": ((0.0, 0.4), (2.4, 5.0), "low", "high"),
        "PS_ON#": ((0.0, 0.8), (2.0, 5.25), "high", "low"),
    }


def test_cell(knowledge: Knowledge) -> None:
    """End point 2.0 V of a 3 V lithium cell: published cell data sheets; the other bands: common practice, no source."""
    cell = knowledge.limits["coin-cell"].cell
    assert cell is not None
    assert (cell.nominal, [(band.low, band.answer) for band in cell.bands]) == (
        3.0,
        [(2.9, "good"), (2.5, "ageing"), (2.0, "low"), (0.0, "dead")],
    )


def test_words_of_the_findings_agree(knowledge: Knowledge) -> None:
    """The findings that are answered by meter tell the same limits as the limits themselves."""
    today = {rail.name: rail for rail in knowledge.limits["atx-3-0"].rails}
    look = knowledge.findings["main-rails"].look
    for name in ("+5V", "+3.3V"):
        assert f"{today[name].low:.2f} to {today[name].high:.2f}" in look
    assert f"{today['+12V'].low:.1f} to {today['+12V'].high:.1f}" in look
    assert "4.75 and 5.25" in knowledge.findings["standby-voltage"].answer_text("in-range")
    assert knowledge.findings["cell-voltage"].answer_text("ageing") == "2.5 to 2.9 V"
