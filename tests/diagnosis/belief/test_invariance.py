"""What must not change the belief, and what must change it by exactly so much."""

from __future__ import annotations

import dataclasses
import random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnosis.belief.random_base import random_evidence, random_knowledge
from nopost.diagnosis.belief.evidence import Evidence, Observations, Report
from nopost.diagnosis.belief.explanation import weights_of_evidence
from nopost.diagnosis.belief.posterior import BeliefModel
from nopost.knowledge.model import ABSENT, UNKNOWN, Answer, Cause, Finding, Knowledge

SEEDS = st.integers(0, 10**6)


def beliefs(knowledge: Knowledge, evidence: Evidence) -> dict[str, float]:
    """P(cause | evidence), and 'unlisted'."""
    model = BeliefModel(knowledge)
    posterior = model.posterior(evidence)
    return {
        **dict(zip(model.hypotheses.causes, map(float, model.hypotheses.marginals(posterior)), strict=True)),
        "unlisted": float(posterior[-1]),
    }


def drawn(seed: int, tried: int = 1, rules: int = 2) -> tuple[random.Random, Knowledge, Evidence]:
    """A random base and evidence for it."""
    rng = random.Random(seed)
    knowledge = random_knowledge(seed)
    return rng, knowledge, random_evidence(rng, knowledge, reports=5, tried=tried, rules=rules)


@pytest.mark.slow
@settings(max_examples=150)
@given(SEEDS)
def test_order_of_evidence(seed: int) -> None:
    """In whatever order answers and weights come in."""
    rng, knowledge, evidence = drawn(seed)
    reports = tuple(rng.sample(evidence.reports, len(evidence.reports)))
    decibans = tuple(rng.sample(evidence.rule_weights, len(evidence.rule_weights)))
    shuffled = dataclasses.replace(evidence, reports=reports, rule_weights=decibans)
    assert beliefs(knowledge, shuffled) == pytest.approx(beliefs(knowledge, evidence), abs=1e-12)


@pytest.mark.slow
@settings(max_examples=150)
@given(SEEDS)
def test_names_do_not_matter(seed: int) -> None:
    """Other ids, and with them another order of everything: the same belief under the new names."""
    rng, knowledge, evidence = drawn(seed)
    names = [*knowledge.findings, *knowledge.causes, *(a for f in knowledge.findings.values() for a in f.answer_ids)]
    new = dict(zip(dict.fromkeys(names), (f"n{k}" for k in rng.sample(range(1000), len(names))), strict=False))
    renamed = Evidence(
        tuple(Report(new[r.finding], new[r.answer], r.epoch) for r in evidence.reports),
        evidence.failed_repairs,
        tuple((new[c], d, r) for c, d, r in evidence.rule_weights),
        frozenset(new[c] for c in evidence.ruled_out),
    )
    expected = {new.get(name, name): p for name, p in beliefs(knowledge, evidence).items()}
    assert beliefs(rename(knowledge, new), renamed) == pytest.approx(expected, abs=1e-12)


def rename(knowledge: Knowledge, new: dict[str, str]) -> Knowledge:
    """The same knowledge under other ids, in order of these."""

    def row(table: dict[str, float]) -> dict[str, float]:
        return {new[a]: p for a, p in table.items()}

    def finding(f: Finding) -> Finding:
        reads = None
        if f.reads:
            reads = dataclasses.replace(
                f.reads, finding=new[f.reads.finding], table={new[a]: row(dict(r)) for a, r in f.reads.table.items()}
            )
        return dataclasses.replace(
            f,
            id=new[f.id],
            answers=tuple(Answer(new[a.id], a.text) for a in f.answers),
            baseline=row(dict(f.baseline)),
            unnamed=row(dict(f.unnamed)) if f.unnamed else None,
            reads=reads,
        )

    def cause(c: Cause) -> Cause:
        return dataclasses.replace(c, id=new[c.id], shows={new[f]: row(dict(t)) for f, t in c.shows.items()})

    findings = sorted((finding(f) for f in knowledge.findings.values()), key=lambda f: f.id)
    causes = sorted((cause(c) for c in knowledge.causes.values()), key=lambda c: c.id)
    return dataclasses.replace(knowledge, findings={f.id: f for f in findings}, causes={c.id: c for c in causes})


@pytest.mark.slow
@settings(max_examples=150)
@given(SEEDS)
def test_cannot_tell_says_nothing(seed: int) -> None:
    """'unknown' and 'absent', wherever they come in, and an answer given twice, add nothing."""
    rng, knowledge, evidence = drawn(seed, tried=0, rules=0)
    reports = list(evidence.reports)
    silent = [
        Report(name, rng.choice((UNKNOWN, ABSENT))) for name in knowledge.findings if name not in {r.finding for r in reports}
    ]
    mixed = [*silent, *reports, *rng.sample(reports, 2)]
    rng.shuffle(mixed)
    again = [dataclasses.replace(r, epoch=1) for r in rng.sample(reports, 2)]
    told = Observations((*mixed, *again)).telling()
    assert sorted(told, key=str) == sorted(reports, key=str)
    assert beliefs(knowledge, Evidence(told)) == pytest.approx(beliefs(knowledge, evidence), abs=1e-12)


def test_last_answer_counts() -> None:
    """Who answers again corrects himself, also to 'cannot tell'; a fix in between makes it a new answer."""
    first, second, silent = Report("f", "a"), Report("f", "b"), Report("f", UNKNOWN)
    assert Observations((first, second)).telling() == (second,)
    assert Observations((first, silent)).telling() == ()
    later = Report("f", "b", epoch=1)
    assert Observations((first, later)).telling() == (first, later)


@pytest.mark.slow
@settings(max_examples=150)
@given(SEEDS, st.integers(0, 2))
def test_probabilities(seed: int, tried: int) -> None:
    """They sum to 1, so do all rows of all tables, and every marginal lies between 0 and 1."""
    _, knowledge, evidence = drawn(seed, tried)
    model = BeliefModel(knowledge)
    posterior = model.posterior(evidence)
    assert posterior.sum() == pytest.approx(1, abs=1e-12)
    assert posterior.min() >= 0
    marginals = model.hypotheses.marginals(posterior)
    assert (marginals >= 0).all()
    assert (marginals <= 1 + 1e-12).all()
    for table in (*model.true_answer_tables.values(), *model.reported_answer_tables.values()):
        assert table.min() >= 0
        assert np.abs(table.sum(axis=1) - 1).max() < 1e-12


@settings(max_examples=100)
@given(SEEDS)
def test_exclusion(seed: int) -> None:
    """A cause that is ruled out has nothing left, the others keep their proportions; with all of them out it is unlisted."""
    rng, knowledge, evidence = drawn(seed, rules=0)
    model = BeliefModel(knowledge)
    out = rng.choice(model.hypotheses.causes)
    before, after = model.posterior(evidence), model.posterior(dataclasses.replace(evidence, ruled_out=frozenset({out})))
    gone = model.hypotheses.members[:, model.cause_index[out]] > 0
    assert after[gone].max() == 0
    assert after[~gone] == pytest.approx(before[~gone] / before[~gone].sum(), abs=1e-12)
    nothing = model.posterior(dataclasses.replace(evidence, ruled_out=frozenset(model.hypotheses.causes)))
    assert nothing[-1] == pytest.approx(1)


@pytest.mark.slow
@settings(max_examples=100)
@given(SEEDS, st.floats(-20, 20), st.floats(-20, 20))
def test_decibans_add(seed: int, one: float, other: float) -> None:
    """Two rules weigh as much as one with their sum, and that is what the cause's log odds move by."""
    rng, knowledge, evidence = drawn(seed, rules=0)
    name = rng.choice(list(knowledge.causes))
    both = dataclasses.replace(evidence, rule_weights=((name, one, "a"), (name, other, "b")))
    total = dataclasses.replace(evidence, rule_weights=((name, one + other, "c"),))
    assert beliefs(knowledge, both) == pytest.approx(beliefs(knowledge, total), abs=1e-12)
    moved = log_odds(knowledge, total, name) - log_odds(knowledge, evidence, name)
    assert moved == pytest.approx(one + other, abs=1e-6)


def log_odds(knowledge: Knowledge, evidence: Evidence, name: str) -> float:
    """Log odds of a cause in decibans, from the sums on both sides."""
    model = BeliefModel(knowledge)
    posterior = model.posterior(evidence)
    there = model.hypotheses.members[:, model.cause_index[name]] > 0
    return float(10 * np.log10(posterior[there].sum() / posterior[~there].sum()))


@pytest.mark.slow
@settings(max_examples=100)
@given(SEEDS, st.integers(0, 2), st.integers(0, 3))
def test_weights_of_evidence_add_up(seed: int, tried: int, rules: int) -> None:
    """Prior log odds plus all weights is the posterior log odds (Good), for every cause that is not excluded."""
    _, knowledge, evidence = drawn(seed, tried, rules)
    model = BeliefModel(knowledge)
    for name in set(knowledge.causes) - evidence.ruled_out:
        weights = weights_of_evidence(model, evidence, name)
        assert len(weights) == len(evidence.reports) + len(evidence.failed_repairs) + rules + bool(evidence.ruled_out)
        total = log_odds(knowledge, Evidence(), name) + sum(w.decibans for w in weights)
        assert total == pytest.approx(log_odds(knowledge, evidence, name), abs=1e-6)


@pytest.mark.slow
@settings(max_examples=150)
@given(SEEDS, st.integers(0, 2))
def test_asking_agrees_with_hearing(seed: int, tried: int) -> None:
    """What is predicted of an answer is what hearing it then does: prediction times posterior is the joint."""
    rng, knowledge, evidence = drawn(seed, tried)
    model = BeliefModel(knowledge)
    posterior = model.posterior(evidence)
    now = len(evidence.failed_repairs)
    free = sorted(set(knowledge.findings) - {r.finding for r in evidence.reports if r.epoch == now})
    for name in rng.sample(free, min(2, len(free))):
        predicted = model.predict_from_initial_faults(name, evidence)
        assert np.abs(predicted.sum(axis=1) - 1).max() < 1e-12
        answer = rng.randrange(predicted.shape[1])
        joint = posterior * predicted[:, answer]
        report = Report(name, knowledge.findings[name].answer_ids[answer], now)
        after = model.posterior(dataclasses.replace(evidence, reports=(*evidence.reports, report)))
        assert after == pytest.approx(joint / joint.sum(), abs=1e-12)
