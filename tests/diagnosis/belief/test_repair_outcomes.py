"""What is seen after a fix in vain, and causes that one event brings together: exact against plain sums and pyAgrum."""

from __future__ import annotations

import dataclasses
import math
import random

import numpy as np
import pytest

import small
from diagnosis.belief.random_base import random_evidence, random_knowledge, with_couplings, with_outcomes, with_seen_outcomes
from diagnosis.belief.reference import enumerated, priors
from nopost.diagnosis.belief.evidence import Evidence, Report
from nopost.diagnosis.belief.explanation import weights_of_evidence
from nopost.diagnosis.belief.hypotheses import Floats
from nopost.diagnosis.belief.posterior import BeliefModel
from nopost.diagnosis.belief.repair_outcomes import REMOVAL_SHOWS
from nopost.knowledge.model import Coupling, Knowledge

EXACT = 1e-9


def by_set(model: BeliefModel, posterior: Floats) -> dict[frozenset[str], float]:
    """The posterior by sets of causes; the empty one is the unlisted hypothesis."""
    names = np.array(model.hypotheses.causes)
    return {frozenset(names[row > 0]): float(p) for row, p in zip(model.hypotheses.members, posterior, strict=True)}


@pytest.mark.parametrize("seed", range(40))
def test_posterior_is_the_sum_over_what_may_be_left(seed: int) -> None:
    """Up to three fixes in vain, with answers between them: every way in which the causes may have gone is tried."""
    rng = random.Random(seed)
    knowledge = with_outcomes(seed, random_knowledge(seed))
    if seed % 2:
        knowledge = with_couplings(seed, knowledge)
    model = BeliefModel(knowledge)
    for tried in range(4):
        evidence = with_seen_outcomes(rng, random_evidence(rng, knowledge, reports=3, tried=tried))
        assert by_set(model, model.posterior(evidence)) == pytest.approx(enumerated(knowledge, evidence), abs=EXACT)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(30))
def test_posterior_is_that_of_pyagrum(seed: int) -> None:
    """What is seen after a fix as another library's noisy-OR of what is left and what was removed."""
    networks = pytest.importorskip("diagnosis.belief.networks", reason="pyAgrum (extra bench) is not installed")
    rng = random.Random(300 + seed)
    knowledge = with_outcomes(seed, random_knowledge(seed, most_causes=4))
    model = BeliefModel(knowledge)
    evidence = with_seen_outcomes(rng, random_evidence(rng, knowledge, reports=3, tried=1 + seed % 2))
    posterior = model.posterior(evidence)
    expected, unlisted = networks.network(knowledge, evidence)
    found = model.hypotheses.marginals(posterior) / posterior[:-1].sum()
    assert dict(zip(model.hypotheses.causes, found, strict=True)) == pytest.approx(expected, abs=EXACT)
    assert posterior[-1] == pytest.approx(unlisted, abs=EXACT)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(12))
def test_couplings_are_those_of_pyagrum(seed: int) -> None:
    """All hypotheses in one node of another library's network, with the coupled priors in it."""
    networks = pytest.importorskip("diagnosis.belief.networks", reason="pyAgrum (extra bench) is not installed")
    knowledge = with_couplings(seed, random_knowledge(seed))
    evidence = random_evidence(random.Random(seed), knowledge, reports=4)
    model = BeliefModel(knowledge)
    found = by_set(model, model.posterior(evidence))
    unlisted = found.pop(frozenset())
    assert {present: p / (1 - unlisted) for present, p in found.items()} == pytest.approx(
        networks.one_node(knowledge, evidence), abs=EXACT
    )


def surge() -> Knowledge:
    """Three causes; after the supply was replaced, mostly something else is seen unless the fault is the short."""
    fixes = [dataclasses.replace(small.fix("swap", 5), changes=0.2), small.fix("other", 5)]
    causes = [
        dataclasses.replace(small.cause("short", 10, {}, {"lift": 0.9}), changes={"swap": 0.6}),
        small.cause("supply", 30, {}, {"swap": 0.9, "other": 0.1}),
        small.cause("board", 60, {}, {"lift": 0.1}),
    ]
    return small.knowledge([], causes, fixes, base_=small.base(two_faults=0.1, unlisted=0.05))


def test_in_numbers() -> None:
    """A change is three times as probable with the short as with a dead board, no change half as probable: 4.77 and -3.01 dB."""
    model = BeliefModel(surge())
    short, board = model.cause_index["short"], model.cause_index["board"]
    blind = model.posterior(Evidence((), ("swap",)))
    for outcome, decibans in (("changed", 10 * math.log10(3)), ("same", 10 * math.log10(0.5))):
        seen = model.posterior(Evidence((), ("swap",), outcomes=(outcome,)))
        ratio = seen[short] / seen[board] / (blind[short] / blind[board])
        assert 10 * math.log10(ratio) == pytest.approx(decibans)


def test_a_removed_cause_is_seen() -> None:
    """Something else after a new supply speaks for two faults, of which one is gone; the same speaks against it."""
    model = BeliefModel(surge())
    pair = next(k for k, row in enumerate(model.hypotheses.members) if set(np.flatnonzero(row)) == {1, 2})
    changed, same = (model.posterior(Evidence((), ("swap",), outcomes=(o,))) for o in ("changed", "same"))
    assert changed[pair] / changed[2] > 3 * same[pair] / same[2]
    history = model.repair_history(Evidence((), ("swap",), outcomes=("changed",)))
    left = history.remaining_of_pairs()[:, pair - model.hypotheses.pairs.start]
    gone, both = 0.9 * (1 - (1 - REMOVAL_SHOWS) * 0.8), 0.1 * (1 - 0.8 * 0.8)
    assert left == pytest.approx([both / (both + gone), 0.0, gone / (both + gone)])


def test_a_fix_that_says_nothing_tells_nothing() -> None:
    """Without `changes`, and without knowing what was seen, only the failure counts."""
    model = BeliefModel(surge())
    for action in ("other", "swap"):
        blind = model.posterior(Evidence((), (action,)))
        assert model.posterior(Evidence((), (action,), outcomes=("",))) == pytest.approx(blind, abs=1e-15)
    for outcome in ("same", "changed"):
        told = model.posterior(Evidence((), ("other",), outcomes=(outcome,)))
        assert told == pytest.approx(model.posterior(Evidence((), ("other",))), abs=1e-15)


def test_weights_tell_it_apart_from_the_failure() -> None:
    """A piece of evidence of its own, and all pieces together are the posterior log odds."""
    model = BeliefModel(surge())
    evidence = Evidence((), ("swap", "other"), outcomes=("changed", "same"))
    weights = weights_of_evidence(model, evidence, "short")
    assert [(w.kind, w.name, w.answer) for w in weights] == [
        ("tried", "swap", ""),
        ("outcome", "swap", "changed"),
        ("tried", "other", ""),
    ]
    p, q = (model.hypotheses.marginals(model.posterior(e))[0] for e in (evidence, Evidence()))
    assert sum(w.decibans for w in weights) == pytest.approx(10 * math.log10(p / (1 - p) / (q / (1 - q))))


def test_a_coupling_moves_its_share_to_the_pair() -> None:
    """Of the machines with a dead supply one in five has a dead board too: the supply is there as often, all sums to 1."""
    plain = surge()
    base = dataclasses.replace(plain.base, coupled=(Coupling("supply", "board", 0.2),))
    before, after = BeliefModel(plain).hypotheses, BeliefModel(dataclasses.replace(plain, base=base)).hypotheses
    was, now = np.exp(before.log_prior), np.exp(after.log_prior)
    pair = next(k for k, row in enumerate(before.members) if set(np.flatnonzero(row)) == {1, 2})
    assert now.sum() == pytest.approx(1)
    assert now[1] == pytest.approx(0.8 * was[1])
    assert now[pair] == pytest.approx(was[pair] + 0.2 * was[1])
    assert np.delete(now, [1, pair]) == pytest.approx(np.delete(was, [1, pair]))
    assert after.marginals(now)[1] == pytest.approx(before.marginals(was)[1])
    for seed in range(20):
        knowledge = with_couplings(seed, random_knowledge(seed))
        model = BeliefModel(knowledge)
        share = 1 - knowledge.base.unlisted_share
        expected = {present: share * p for present, p in priors(knowledge).items()}
        assert by_set(model, np.append(np.exp(model.hypotheses.log_prior)[:-1], 0.0)) == pytest.approx(
            {**expected, frozenset(): 0.0}
        )


def test_a_cause_that_is_alone_cannot_be_coupled() -> None:
    """There is no such pair."""
    causes = [small.cause("wait", 1, {}, {}, alone=True), small.cause("board", 1, {}, {})]
    base = dataclasses.replace(small.base(), coupled=(Coupling("wait", "board", 0.2),))
    with pytest.raises(ValueError, match="wait and board form no pair"):
        BeliefModel(small.knowledge([], causes, base_=base))


def test_answers_and_outcomes_together() -> None:
    """An answer after the fix and what was seen after it both count, one after the other."""
    plain = surge()
    finding = small.finding("lamp", {"dark": 0.8, "lit": 0.2})
    causes = [
        dataclasses.replace(c, shows={"lamp": {"dark": 0.1, "lit": 0.9}} if c.id == "board" else {})
        for c in plain.causes.values()
    ]
    knowledge = small.knowledge([finding], causes, plain.actions.values(), base_=plain.base)
    model = BeliefModel(knowledge)
    evidence = Evidence((Report("lamp", "dark"), Report("lamp", "lit", 1)), ("swap",), outcomes=("changed",))
    assert by_set(model, model.posterior(evidence)) == pytest.approx(enumerated(knowledge, evidence), abs=EXACT)
