"""What people type for shares: percentages, counts, pairs; made to add up to 1, refused with the reason."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nopost.knowledge.distributions import order_fault
from nopost.knowledge.edit.item_files import id_fault, proposed_id
from nopost.knowledge.edit.shares import ShareError, read_ratios, read_shares, share_fault
from nopost.knowledge.model import Answer, Combine, Finding

ANSWERS = ("good", "fair", "bad")


def graded(**baseline: float) -> Finding:
    """A finding with three answers in order."""
    answers = tuple(Answer(name, f"it is {name}") for name in ANSWERS)
    return Finding(id="state", title="State", part="whole", answers=answers, combine=Combine.GRADED, baseline=baseline)


@pytest.mark.parametrize(
    ("typed", "shares"),
    [
        ("80 15 5", {"good": 0.8, "fair": 0.15, "bad": 0.05}),
        ("80%, 15%, 5%", {"good": 0.8, "fair": 0.15, "bad": 0.05}),
        ("16 3 1", {"good": 0.8, "fair": 0.15, "bad": 0.05}),
        ("0.8 0.15 0.05", {"good": 0.8, "fair": 0.15, "bad": 0.05}),
        ("1 1 1", {"good": 0.334, "fair": 0.333, "bad": 0.333}),
        ("0 0 7", {"bad": 1.0}),
        ("bad", {"bad": 1.0}),
        ("bad=1 good=3", {"good": 0.75, "bad": 0.25}),
        ("999999 1 0", {"good": 0.999, "fair": 0.001}),
    ],
)
def test_shares(typed: str, shares: dict[str, float]) -> None:
    """Rounded to thousandths, in the order of the answers; what is seen at all keeps a share."""
    found = read_shares(typed, ANSWERS)
    assert found == shares
    assert list(found) == [name for name in ANSWERS if name in found]


@pytest.mark.parametrize(
    ("typed", "why"),
    [
        ("", "type the numbers"),
        ("80 20", "3 answers but 2 numbers"),
        ("80 15 x", "'x' is no number"),
        ("80 15 -5", "out of range"),
        ("80 15 nan", "out of range"),
        ("80 15 1e400", "out of range"),
        ("0 0 0", "above 0"),
        ("good=1 ugly=2", "'ugly' is none of the answers: good, fair, bad"),
        ("good=1 2", "no blanks around ="),
    ],
)
def test_refused(typed: str, why: str) -> None:
    """With what to type instead."""
    with pytest.raises(ShareError, match=why):
        read_shares(typed, ANSWERS)


@pytest.mark.slow
@given(st.lists(st.floats(0, 1e6), min_size=1, max_size=14).filter(any))
def test_always_adds_up(numbers: list[float]) -> None:
    """To one thousand thousandths, each within one thousandth of what was typed unless it was nearly nothing."""
    names = [f"a{k}" for k in range(len(numbers))]
    if sum(numbers) <= 0:
        return
    found = read_shares(" ".join(map(repr, numbers)), names)
    assert sum(round(share * 1000) for share in found.values()) == 1000
    for name, number in zip(names, numbers, strict=True):
        assert abs(found.get(name, 0.0) - number / sum(numbers)) < 0.015


def test_ratios() -> None:
    """Those that are as usual are left out."""
    assert read_ratios("1 4 0.2", ANSWERS) == {"fair": 4, "bad": 0.2}
    assert read_ratios("bad=0", ANSWERS) == {"bad": 0}
    with pytest.raises(ShareError, match="need not name"):
        read_ratios("1 1 1", ANSWERS)
    with pytest.raises(ShareError, match="1000"):
        read_ratios("bad=1001", ANSWERS)


@given(
    st.lists(st.integers(0, 20), min_size=3, max_size=3).filter(any),
    st.lists(st.integers(0, 20), min_size=3, max_size=3).filter(any),
)
def test_order_is_the_loader_s(usual: list[int], shown: list[int]) -> None:
    """Refused exactly when the loader would refuse the file, and always with a reason."""
    finding = graded(**read_shares(" ".join(map(str, usual)), ANSWERS))
    typed = read_shares(" ".join(map(str, shown)), ANSWERS)
    assert bool(share_fault(finding, typed)) == (order_fault(finding, typed) is not None)


def test_order_says_the_bound() -> None:
    """Which answers are too frequent, and how frequent they may be."""
    assert 'up to "it is good" a sound machine shows at most 90 of 100' in share_fault(
        graded(good=0.9, fair=0.08, bad=0.02), {"good": 0.95, "bad": 0.05}
    )
    assert "at least" in share_fault(graded(good=0.5, fair=0.3, bad=0.2), {"good": 0.5, "bad": 0.5})


@pytest.mark.parametrize(
    ("title", "name"),
    [
        ("The tank is empty or not pushed home", "tank-empty-not-pushed"),
        ("It's the pump!", "pump"),
        ("Ein Gerät, das überläuft", "ein-gerat-das-uberlauft"),
        ("The", "the"),
        ("咖啡", ""),
        ("x" * 100, "x" * 56),
    ],
)
def test_proposed_ids(title: str, name: str) -> None:
    """The first words that mean something."""
    assert proposed_id(title) == name


@pytest.mark.slow
@given(st.text(max_size=120), st.sets(st.text("ab-2", max_size=6), max_size=8))
def test_proposed_ids_are_good(title: str, taken: set[str]) -> None:
    """Or empty, and never taken."""
    name = proposed_id(title, taken)
    assert name not in taken
    assert not name.strip("-0123456789") or id_fault(name) == ""
