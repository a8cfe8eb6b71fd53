"""Published numbers, through the project's own code where a model of one or two causes can say them.

A network in which nothing may be wrong is said with one more cause, 'nothing', that comes alone and changes nothing; the
prior of two causes that are not independent is said by the two weights and the share of pairs. So the burglar alarm and the
sprinkler go through the project whole. Of the chest clinic ("Asia") only the part above the X-ray does: its three diseases can
come together and its dyspnoea table is no noisy-OR. All three networks are also put to pyAgrum, to prove the yardstick of the
other tests.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pytest

import small
from diagnosis.belief.networks import gum
from nopost.diagnosis.belief.evidence import Evidence, Report
from nopost.diagnosis.belief.explanation import weights_of_evidence
from nopost.diagnosis.belief.likelihood import noisy_max
from nopost.diagnosis.belief.posterior import BeliefModel, as_reports
from nopost.knowledge.model import Finding, Instrument, Knowledge

TINY = 1e-12
"""Share of the unlisted hypothesis in models that have no such thing."""
NO_YES = ("no", "yes")


def either(rows: Sequence[Sequence[float]], baseline: Sequence[float]) -> list[float]:
    """The distribution with all of these causes there, two at a time."""
    total = np.array([rows[0]], dtype=float)
    for row in rows[1:]:
        total = noisy_max(total, np.array([row], dtype=float), np.array(baseline, dtype=float))
    return [float(p) for p in total[0]]


@pytest.mark.parametrize(
    ("present", "expected"),
    [("C", 0.4), ("F", 0.8), ("M", 0.9), ("CF", 0.88), ("CM", 0.94), ("FM", 0.98), ("CFM", 0.988)],
)
def test_fever(present: str, expected: float) -> None:
    """Source: Russell & Norvig, Artificial Intelligence, the fever table of the noisy-OR (inhibitors .6, .2, .1)."""
    inhibitors = {"C": 0.6, "F": 0.2, "M": 0.1}
    rows = [(inhibitors[name], 1 - inhibitors[name]) for name in present]
    assert either(rows, (1, 0))[1] == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize(("present", "expected"), [((0.8,), 0.82), ((0.6,), 0.64), ((0.8, 0.6), 0.928)])
def test_noisy_or_with_leak(present: tuple[float, ...], expected: float) -> None:
    """Source: table in the manual of a Bayesian-network library: leak .1, causes .8 and .6. The leak multiplies."""
    rows = [(0.9 * (1 - p), 1 - 0.9 * (1 - p)) for p in present]
    assert either(rows, (0.9, 0.1))[1] == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize(("b", "expected"), [((1, 0, 0), (0.1, 0.8, 0.1)), ((0.5, 0.5, 0), (0.05, 0.85, 0.1))])
def test_noisy_max(b: tuple[float, ...], expected: tuple[float, ...]) -> None:
    """Source: worked answer in the public forum of a Bayesian-network library; formula Díez 1993: cumulative numbers multiply."""
    assert either([b, (0.1, 0.8, 0.1)], (1, 0, 0)) == pytest.approx(expected, abs=1e-12)


def test_weight_of_evidence() -> None:
    """Own example on Good's definition: prior .2 and a factor .9/.15 = 6 are 7.78 decibans and a posterior of .6."""
    seen = small.finding("seen", {"no": 0.85, "yes": 0.15}, misreport=0.0)
    causes = [
        small.cause("it", 1, {"seen": {"no": 0.1, "yes": 0.9}}, {}, alone=True),
        small.cause("other", 4, {}, {}, alone=True),
    ]
    model = BeliefModel(small.knowledge([seen], causes, base_=small.base(unlisted=TINY)))
    evidence = Evidence(as_reports({"seen": "yes"}))
    assert model.hypotheses.marginals(model.posterior(Evidence()))[0] == pytest.approx(0.2)
    assert model.hypotheses.marginals(model.posterior(evidence))[0] == pytest.approx(0.6)
    assert weights_of_evidence(model, evidence, "it")[0].decibans == pytest.approx(7.78, abs=0.002)


def burglary() -> Knowledge:
    """Burglary .001 and earthquake .002 ring the alarm; John and Mary are instruments that read it."""
    alarm = small.finding("alarm", {"no": 0.999, "yes": 0.001})
    calls = {"john": ((0.95, 0.05), (0.1, 0.9)), "mary": ((0.99, 0.01), (0.3, 0.7))}
    weights = {"nothing": 1.0, "burglary": 0.001 / 0.999, "earthquake": 0.002 / 0.998}
    rings = {"burglary": 0.94, "earthquake": 0.29}
    return clinic(alarm, calls, weights, weights["burglary"] * weights["earthquake"], rings)


def clinic(
    cause_of: Finding,
    readings: Mapping[str, Sequence[Sequence[float]]],
    weights: Mapping[str, float],
    pair: float,
    rings: Mapping[str, float],
) -> Knowledge:
    """Two causes with these weights, `pair` for both and 'nothing' for neither; instruments read the one finding."""
    findings = [cause_of]
    for name, rows in readings.items():
        table = {a: dict(zip(NO_YES, row, strict=True)) for a, row in zip(NO_YES, rows, strict=True)}
        findings.append(small.finding(name, {}, reads=Instrument(cause_of.id, table), misreport=0.0))
    causes = [
        small.cause(
            name, w, {cause_of.id: {"no": 1 - rings[name], "yes": rings[name]}} if name in rings else {}, {}, name not in rings
        )
        for name, w in weights.items()
    ]
    return small.knowledge(findings, causes, base_=small.base(pair / sum(weights.values()), TINY))


def marginals(knowledge: Knowledge, answers: Mapping[str, str]) -> dict[str, float]:
    """P(cause | answers) by the project."""
    model = BeliefModel(knowledge)
    found = model.hypotheses.marginals(model.posterior(Evidence(as_reports(answers))))
    return dict(zip(model.hypotheses.causes, map(float, found), strict=True))


def test_burglary() -> None:
    """Source: Pearl's burglary network with the numbers of Russell & Norvig; P(B | both call) = .284 (from memory).

    The book's table has .95 where noisy-OR makes .957 of both causes; at their prior of 2e-6 that does not show.
    """
    assert marginals(burglary(), {})["burglary"] == pytest.approx(0.001)
    assert marginals(burglary(), {"john": "yes", "mary": "yes"})["burglary"] == pytest.approx(0.284, abs=0.0005)


def test_sprinkler() -> None:
    """Source: Murphy's sprinkler network; P(S|W) = .430, P(R|W) = .708, P(S|W,R) = .1945 (from memory).

    Cloudy is summed out by hand: P(S, R) = .21, .41, .09 and .29 for neither. Wet grass is a noisy-OR without a leak.
    """
    wet = small.finding("wet", {"no": 1.0, "yes": 0.0}, misreport=0.0)
    weights = {"nothing": 0.29, "sprinkler": 0.21, "rain": 0.41}
    model = BeliefModel(clinic(wet, {}, weights, 0.09, {"sprinkler": 0.9, "rain": 0.9}))
    with np.errstate(divide="ignore"):  # without rain and sprinkler the grass is dry for certain
        posterior = model.posterior(Evidence((Report("wet", "yes"),)))
    found = dict(zip(model.hypotheses.causes, model.hypotheses.marginals(posterior), strict=True))
    assert found["sprinkler"] == pytest.approx(0.430, abs=0.0005)
    assert found["rain"] == pytest.approx(0.708, abs=0.0005)
    assert posterior[model.hypotheses.pairs].sum() / found["rain"] == pytest.approx(0.1945, abs=0.0005)


def test_clinic_above_the_xray() -> None:
    """Source: Lauritzen & Spiegelhalter 1988, JRSS B 50; priors of either .0648 and X-ray .1103 (from memory)."""
    sick = small.finding("sick", {"no": 1.0, "yes": 0.0})
    weights = {"nothing": 1.0, "tub": 0.0104 / 0.9896, "lung": 0.055 / 0.945}
    readings = {"xray": ((0.95, 0.05), (0.02, 0.98))}
    knowledge = clinic(sick, readings, weights, weights["tub"] * weights["lung"], {"tub": 1.0, "lung": 1.0})
    model = BeliefModel(knowledge)
    prior = np.exp(model.hypotheses.log_prior)
    assert marginals(knowledge, {}) == pytest.approx({"nothing": 0.935172, "tub": 0.0104, "lung": 0.055}, abs=1e-9)
    assert prior @ model.true_answer_tables["sick"] == pytest.approx((0.935172, 0.064828), abs=1e-9)
    assert prior @ model.reported_answer_tables["xray"] == pytest.approx((0.88971, 0.11029), abs=5e-6)


def network(tables: Mapping[str, tuple[str, Mapping[str, float]]]) -> Any:
    """A yes/no network: node -> (parents, their answers as y/n letters -> P(yes))."""
    net = gum.BayesNet("published")
    for name, (parents, rows) in tables.items():
        net.add(gum.LabelizedVariable(name, "", list(NO_YES)))
        for parent in parents.split():
            net.addArc(parent, name)
        for states, p in rows.items():
            given = dict(zip(parents.split(), ("ny".index(s) for s in states), strict=True))
            if given:
                net.cpt(name)[given] = [1 - p, p]
            else:
                net.cpt(name)[:] = [1 - p, p]
    return net


def posterior(net: Any, given: Mapping[str, str], name: str) -> float:
    """P(yes)."""
    inference = gum.LazyPropagation(net)
    inference.setEvidence(dict(given))
    inference.makeInference()
    return float(inference.posterior(name)[1])


ASIA = network(
    {
        "asia": ("", {"": 0.01}),
        "smoke": ("", {"": 0.5}),
        "tub": ("asia", {"y": 0.05, "n": 0.01}),
        "lung": ("smoke", {"y": 0.1, "n": 0.01}),
        "bronc": ("smoke", {"y": 0.6, "n": 0.3}),
        "either": ("tub lung", {"yy": 1, "yn": 1, "ny": 1, "nn": 0}),
        "xray": ("either", {"y": 0.98, "n": 0.05}),
        "dysp": ("bronc either", {"yy": 0.9, "yn": 0.8, "ny": 0.7, "nn": 0.1}),
    }
)
ALARM = network(
    {
        "b": ("", {"": 0.001}),
        "e": ("", {"": 0.002}),
        "a": ("b e", {"yy": 0.95, "yn": 0.94, "ny": 0.29, "nn": 0.001}),
        "j": ("a", {"y": 0.9, "n": 0.05}),
        "m": ("a", {"y": 0.7, "n": 0.01}),
    }
)
GRASS = network(
    {
        "c": ("", {"": 0.5}),
        "s": ("c", {"y": 0.1, "n": 0.5}),
        "r": ("c", {"y": 0.8, "n": 0.2}),
        "w": ("s r", {"yy": 0.99, "yn": 0.9, "ny": 0.9, "nn": 0}),
    }
)


@pytest.mark.parametrize(
    ("given", "expected"),
    [
        ("", {"tub": 0.0104, "lung": 0.055, "bronc": 0.45, "either": 0.064828, "xray": 0.11029, "dysp": 0.435971}),
        ("asia dysp", {"tub": 0.087751, "lung": 0.099525, "bronc": 0.811402}),
        ("asia dysp xray", {"tub": 0.391712, "lung": 0.444271, "bronc": 0.628822, "either": 0.813769, "smoke": 0.702025}),
    ],
)
def test_yardstick_on_the_clinic(given: str, expected: Mapping[str, float]) -> None:
    """Source: Lauritzen & Spiegelhalter 1988 (from memory: .0878 .0995 .8114); the third row is an own exhaustive sum."""
    found = {name: posterior(ASIA, dict.fromkeys(given.split(), "yes"), name) for name in expected}
    assert found == pytest.approx(expected, abs=1e-6)


def test_yardstick_on_alarm_and_sprinkler() -> None:
    """Sources as above: Pearl's alarm .2842; Murphy's sprinkler .4298, .7079 and .1945 (from memory)."""
    assert posterior(ALARM, {"j": "yes", "m": "yes"}, "b") == pytest.approx(0.2841718, abs=1e-6)
    assert posterior(GRASS, {"w": "yes"}, "s") == pytest.approx(0.4298, abs=5e-5)
    assert posterior(GRASS, {"w": "yes"}, "r") == pytest.approx(0.7079, abs=5e-5)
    assert posterior(GRASS, {"w": "yes", "r": "yes"}, "s") == pytest.approx(0.1945, abs=5e-5)
