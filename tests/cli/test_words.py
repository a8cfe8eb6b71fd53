"""Numbers in words."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nopost import text
from nopost.knowledge.model import Effort
from nopost_cli.shared.terminal import clean


@pytest.mark.parametrize(
    ("amount", "currency", "said"),
    [(0, "", "0 units"), (1, "", "1 unit"), (1.5, "", "1.5 units"), (9.96, "EUR", "10.0 EUR"), (70, "EUR", "70 EUR")],
)
def test_money(amount: float, currency: str, said: str) -> None:
    """With the person's currency, or in units; cents only where they matter."""
    assert text.money(amount, currency) == said


@pytest.mark.parametrize(
    ("count", "said"), [(0.5, "30 s"), (0, "0 s"), (1, "1 min"), (90, "90 min"), (119, "119 min"), (120, "2.0 h"), (150, "2.5 h")]
)
def test_minutes(count: float, said: str) -> None:
    """Seconds below a minute, hours from two on."""
    assert text.minutes(count) == said


def test_effort() -> None:
    """Money and risk are told only when there are some."""
    assert text.effort(Effort(2), "EUR") == "2 min"
    assert text.effort(Effort(2, 10, 0.5), "EUR") == "2 min, 10 EUR"
    assert text.effort(Effort(2, 10, 5), "EUR") == "2 min, 10 EUR, risk worth 5 EUR"


@given(st.floats(0, 1))
def test_percent_is_never_certain(probability: float) -> None:
    """100 % is never said, and 0 % only of what is ruled out."""
    said = text.percent(probability)
    assert said != "100 %"
    assert (said == "0 %") == (probability == 0)


@given(st.floats(-200, 200))
def test_decibans_have_a_sign(value: float) -> None:
    """Whole numbers with their sign; what rounds to nothing has none."""
    said = text.decibans(value)
    assert said == "0" or (said[0] in "+-" and abs(float(said) - value) <= 0.5)
    assert said not in ("+0", "-0")


@given(st.text())
def test_clean_text_cannot_control(text: str) -> None:
    """No escape, no bell, no half of a character is left; line breaks and tabs stay."""
    cleaned = clean(text)
    cleaned.encode("utf-8")
    assert not [c for c in cleaned if (c < " " and c not in "\n\t") or "\x7f" <= c <= "\x9f"]
    assert len(cleaned) == len(text)
