"""How well two causes are told apart, against sums written out here."""

from __future__ import annotations

import math

import pytest

import small
from nopost.diagnosis.belief.expected_weight import pairwise_weights_when_asked
from nopost.diagnosis.belief.posterior import BeliefModel
from nopost.knowledge import model as m
from nopost.linting.check_causes import one_fix_serves

MISREPORT = 0.1


def decibans(p: list[float], q: list[float]) -> float:
    """Mean of both expected weights of evidence (Good 1950): sum of p log p/q, in tenths of a factor of ten."""
    one = sum(a * 10 * math.log10(a / b) for a, b in zip(p, q, strict=True))
    other = sum(b * 10 * math.log10(b / a) for a, b in zip(p, q, strict=True))
    return (one + other) / 2


def reported(p: list[float]) -> list[float]:
    """Two answers, of which MISREPORT go to the other."""
    return [p[0] * (1 - MISREPORT) + p[1] * MISREPORT, p[1] * (1 - MISREPORT) + p[0] * MISREPORT]


ALWAYS = m.Conditions()


def knowledge(when: m.Conditions = ALWAYS) -> m.Knowledge:
    """Two causes, two looks, an instrument for the second, and conditions on the first."""
    light = small.finding("light", {"on": 0.9, "off": 0.1}, misreport=MISREPORT)
    noise = small.finding("noise", {"none": 0.8, "loud": 0.2}, misreport=MISREPORT)
    reads = m.Instrument("noise", {"none": {"low": 0.9, "high": 0.1}, "loud": {"low": 0.2, "high": 0.8}})
    meter = small.finding("meter", {}, reads=reads, misreport=MISREPORT)
    light = m.Finding(**{name: getattr(light, name) for name in m.Finding.__slots__} | {"when": when})
    causes = [
        small.cause("one", 5, {"light": {"on": 0.2, "off": 0.8}, "noise": {"none": 0.5, "loud": 0.5}}, {"mend-one": 0.9}),
        small.cause("two", 5, {"light": {"on": 0.8, "off": 0.2}}, {"mend-two": 0.9}),
    ]
    return small.knowledge([light, noise, meter], causes, [small.fix("mend-one", 1), small.fix("mend-two", 1)])


def test_expected_weights() -> None:
    """The best look, and all together with the instrument not counted beside what it reads."""
    weights = pairwise_weights_when_asked(BeliefModel(knowledge()), ["light", "noise", "meter"])
    light = decibans(reported([0.2, 0.8]), reported([0.8, 0.2]))
    noise = decibans(reported([0.5, 0.5]), reported([0.8, 0.2]))
    assert weights.best_discriminator("one", "two") == weights.best_discriminator("two", "one") == "light"
    assert weights.best_decibans[0, 1] == weights.best_decibans[1, 0] == pytest.approx(light)
    assert weights.total_decibans[0, 1] == pytest.approx(light + noise)


def test_an_instrument_alone() -> None:
    """What cannot be asked does not count; the instrument that reads it does, through its table."""
    weights = pairwise_weights_when_asked(BeliefModel(knowledge()), ["meter"])
    shown = [reported([0.5 * 0.9 + 0.5 * 0.2, 0.5 * 0.1 + 0.5 * 0.8]), reported([0.8 * 0.9 + 0.2 * 0.2, 0.8 * 0.1 + 0.2 * 0.8])]
    assert weights.best_discriminator("one", "two") == "meter"
    assert weights.best_decibans[0, 1] == pytest.approx(decibans(*shown))


def test_a_question_that_seldom_comes_up_tells_less() -> None:
    """Each direction counts by the chance that the question's `when` holds under that cause."""
    loud = m.Conditions((m.Condition(False, "noise", ("loud",)),))
    weights = pairwise_weights_when_asked(BeliefModel(knowledge(loud)), ["light"])
    p, q = reported([0.2, 0.8]), reported([0.8, 0.2])
    one_way = sum(a * 10 * math.log10(a / b) for a, b in zip(p, q, strict=True))
    chances = reported([0.5, 0.5])[1], reported([0.8, 0.2])[1]
    assert weights.best_decibans[0, 1] == pytest.approx(one_way * (chances[0] + chances[1]) / 2)


def test_nothing_to_ask() -> None:
    """Without questions nothing is told, and no finding is named."""
    weights = pairwise_weights_when_asked(BeliefModel(knowledge()), [])
    assert (weights.best_decibans[0, 1], weights.total_decibans[0, 1], weights.best_discriminator("one", "two")) == (0, 0, "")


@pytest.mark.parametrize(
    ("one", "other", "serves"),
    [
        ({"swap": 0.9}, {"swap": 0.8}, True),
        ({"swap": 0.9}, {"push": 0.9}, False),
        ({"swap": 0.9, "push": 0.5}, {"push": 0.6}, True),
        ({"swap": 0.9, "push": 0.4}, {"push": 0.6}, False),
    ],
)
def test_one_fix_serves(one: dict[str, float], other: dict[str, float], serves: bool) -> None:
    """A fix serves both when for each it has half of the chance of that cause's best."""
    assert one_fix_serves(small.cause("a", 1, {}, one), small.cause("b", 1, {}, other)) is serves
