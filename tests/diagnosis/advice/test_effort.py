"""What a step costs a person."""

from __future__ import annotations

from dataclasses import replace

import pytest

import small
from nopost.diagnosis.history import LEAST_COST, Person, action_effort, effort_cost, finding_effort
from nopost.knowledge.model import Effort, Knowledge, Tool


def workshop() -> Knowledge:
    """A fix that needs a meter, and a finding that is seen by doing a test with it; a minute is worth 0.5."""
    tools = {"meter": Tool("Meter", Effort(20.0, money=8.0)), "light": Tool("Light", Effort(1.0))}
    mend = replace(small.fix("mend", 0.0), effort=Effort(10.0, money=3.0, risk=2.0), needs=("meter", "light"))
    seen = replace(small.finding("volts", {"good": 0.5, "bad": 0.5}, cost=2.0), action="mend")
    base = replace(small.base(), tools=tools, minute_rate=0.5)
    return small.knowledge([seen], [small.cause("lead", 1.0, {}, {"mend": 0.9})], [mend], base_=base)


@pytest.mark.parametrize(
    ("at_hand", "minutes", "money"), [((), 31.0, 11.0), (("meter",), 11.0, 3.0), (("light", "meter"), 10.0, 3.0)]
)
def test_what_is_not_at_hand_must_be_got(at_hand: tuple[str, ...], minutes: float, money: float) -> None:
    """Its minutes and money come on top; the risk stays."""
    knowledge = workshop()
    effort = action_effort(knowledge, knowledge.actions["mend"], Person(at_hand=frozenset(at_hand)))
    assert effort == Effort(minutes, money, 2.0)


def test_a_finding_costs_its_test_too() -> None:
    """2 minutes to look, 10 to do, with everything at hand."""
    knowledge = workshop()
    effort = finding_effort(knowledge, knowledge.findings["volts"], Person(at_hand=frozenset({"meter", "light"})))
    assert effort == Effort(12.0, 3.0, 2.0)


@pytest.mark.parametrize(("rate", "total"), [(None, 10.0), (0.0, 5.0), (2.0, 25.0)])
def test_effort_is_minutes_times_rate_plus_money_plus_risk(rate: float | None, total: float) -> None:
    """10 minutes, 3 of money, 2 of risk (design, section 5); without a rate of their own the knowledge base's."""
    assert effort_cost(workshop(), Effort(10.0, 3.0, 2.0), Person(minute_rate=rate)) == pytest.approx(total)


def test_nothing_is_free() -> None:
    """The ratio rule divides by it."""
    assert effort_cost(workshop(), Effort(0.0), Person()) == LEAST_COST
