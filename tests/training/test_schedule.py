"""When to practise again, against the published rule SM-2 (Wozniak 1990, "Optimization of learning")."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nopost.training.progress import FIRST_EASE, LEAST_EASE, PracticeCard, cards_from_attempts, due_causes

DAY = date(2031, 5, 17)


def card(*qualities: int) -> PracticeCard:
    """A card after attempts, each on the day it was due."""
    found, day = PracticeCard(), DAY
    for quality in qualities:
        found = found.after(quality, day)
        day = found.due
    return found


@pytest.mark.parametrize(
    ("qualities", "days"),
    [
        ((4,), 1),
        ((4, 4), 6),
        ((4, 4, 4), 15),
        ((5, 5, 5), 17),
        ((3, 3, 3), 13),
        ((4, 4, 4, 4), 38),
        ((4, 4, 2), 1),
        ((2, 4, 4), 6),
    ],
)
def test_intervals(qualities: tuple[int, ...], days: int) -> None:
    """I(1) = 1, I(2) = 6, I(n) = I(n-1) * EF, rounded up; below 3 it begins anew: 6 * 2.5, 6 * 2.8, 6 * 2.08."""
    assert card(*qualities).days == days


@pytest.mark.parametrize(("quality", "ease"), [(5, 2.6), (4, 2.5), (3, 2.36)])
def test_ease(quality: int, ease: float) -> None:
    """EF' = EF + 0.1 - (5 - q)(0.08 + (5 - q) 0.02)."""
    assert card(quality).ease == pytest.approx(ease)


def test_failing_leaves_the_ease() -> None:
    """Below 3 it starts from the beginning without a change of the ease."""
    assert card(2, 1, 0).ease == FIRST_EASE


@pytest.mark.slow
@given(st.lists(st.integers(0, 5), max_size=40))
def test_bounds(qualities: list[int]) -> None:
    """The ease never falls below its least, a card is always due later, and every attempt counts."""
    found = card(*qualities)
    assert found.ease >= LEAST_EASE
    assert found.attempts == len(qualities)
    assert not qualities or found.days >= 1


def test_due_first_what_is_late() -> None:
    """The most overdue first; what is not due is left out."""
    day = timedelta(days=1)
    found = cards_from_attempts([(DAY, "late", 2), (DAY + 3 * day, "later", 2), (DAY, "well", 5), (DAY + day, "well", 5)])
    assert due_causes(found, DAY + timedelta(days=4)) == ["late", "later"]
    assert due_causes(found, DAY) == []
