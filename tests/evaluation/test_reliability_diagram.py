"""The reliability diagram: dots where they belong, whiskers by the beta distribution, and nothing else than three series."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree

import pytest

from nopost.evaluation.calibration import ReliabilityBin
from nopost.evaluation.reliability_diagram import LARGEST, LEFT, SIDE, TOP, reliability_diagram

SVG = "{http://www.w3.org/2000/svg}"
TEN, FORTY = ReliabilityBin(0.2, 0.4, 10, 0.3, 0.5), ReliabilityBin(0.8, 1.0, 40, 0.9, 0.75)


def drawn(*series: tuple[ReliabilityBin, ...]) -> ElementTree.Element:
    """The diagram of these series, read back."""
    return ElementTree.fromstring(reliability_diagram("Bench <1>", {f"edition {k}": rows for k, rows in enumerate(series)}))


def test_dots() -> None:
    """One for each bin, at what was said and what was right; the area follows the cases."""
    first, second = [dot for dot in drawn((TEN, FORTY)).iter(f"{SVG}circle") if float(dot.attrib["cx"]) > LEFT + 15]
    assert float(first.attrib["cx"]) == pytest.approx(LEFT + 0.3 * SIDE)
    assert float(first.attrib["cy"]) == pytest.approx(TOP + 0.5 * SIDE)
    assert (float(second.attrib["r"]), float(first.attrib["r"])) == pytest.approx((LARGEST, LARGEST / 2))


def test_whiskers() -> None:
    """scipy 1.17: beta.ppf([0.05, 0.95], 6, 6) is 0.2712 and 0.7288."""
    whisker = list(drawn((TEN,)).iter(f"{SVG}polyline"))[-1]
    low, high = (float(point.split(",")[1]) for point in whisker.attrib["points"].split())
    assert [1 - (y - TOP) / SIDE for y in (low, high)] == pytest.approx([0.2712, 0.7288], abs=1e-3)


def test_words() -> None:
    """Title, series and numbers can be read without the picture."""
    tree = drawn((TEN,), (FORTY,))
    assert tree.findtext(f"{SVG}title") == "Bench <1>"
    assert tree.findtext(f"{SVG}desc") == "edition 0: said 30 %, right 50 % of 10; edition 1: said 90 %, right 75 % of 40"


@pytest.mark.parametrize("series", [((),), ((TEN,),) * 4], ids=["empty", "four"])
def test_refused(series: tuple[tuple[ReliabilityBin, ...], ...]) -> None:
    """Nothing to draw, or more than can be told apart."""
    with pytest.raises(ValueError, match="one to three series"):
        drawn(*series)
