"""A simulated machine answers and is mended as the belief model says: frequencies against likelihoods, and calibration."""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

import small
from nopost.diagnosis.belief.evidence import Evidence, Observations, RepairHistory, Report
from nopost.diagnosis.belief.posterior import BeliefModel
from nopost.diagnosis.diagnose import Diagnostician
from nopost.errors import NopostError, UnknownNameError
from nopost.evaluation.simulated_machine import (
    SimulatedMachine,
    causes_of_hypothesis,
    hypothesis_of,
    sample_causes,
    sample_index,
    uniform_by_name,
)
from nopost.knowledge.model import ABSENT, UNKNOWN, Combine, Condition, Conditions, Coupling, Instrument, Knowledge

DRAWS = 1500
UNLIKELY = 1e-4
"""A chi-square test fails below this; seeds are fixed, so it fails always or never."""


def world() -> Knowledge:
    """Findings of every kind, each shown by some causes."""
    findings = [
        small.finding("graded", {"ok": 0.7, "odd": 0.2, "bad": 0.1}),
        small.finding("history", {"no": 0.8, "yes": 0.2}, Combine.HISTORY, misreport=0.05),
        small.finding("either", {"a": 0.5, "b": 0.3, "c": 0.2}, Combine.EITHER, unnamed={"a": 0.9, "b": 0.05, "c": 0.05}),
        small.finding("lamp", {}, reads=Instrument("graded", {a: row for a, row in LAMP.items()}), misreport=0.1),
    ]
    causes = [
        small.cause(
            "one", 5, {"graded": {"ok": 0.1, "odd": 0.3, "bad": 0.6}, "history": {"yes": 3.0}}, {"mend": 0.7, "all": 0.9}
        ),
        small.cause(
            "two", 3, {"graded": {"ok": 0.3, "odd": 0.6, "bad": 0.1}, "either": {"a": 0.1, "b": 0.8, "c": 0.1}}, {"all": 0.5}
        ),
        small.cause("three", 2, {"either": {"a": 0.0, "b": 0.2, "c": 0.8}, "history": {"no": 0.5}}, {"other": 1.0}),
    ]
    actions = [small.fix("mend", 10), small.fix("all", 30), small.fix("other", 5)]
    return small.knowledge(findings, causes, actions, base_=small.base(two_faults=0.3, unlisted=0.1))


LAMP = {"ok": {"dark": 0.9, "lit": 0.1}, "odd": {"dark": 0.5, "lit": 0.5}, "bad": {"dark": 0.05, "lit": 0.95}}


@pytest.fixture(scope="module")
def model() -> BeliefModel:
    """The small world, compiled."""
    return BeliefModel(world())


def agrees(seen: Counter[str], expected: dict[str, float]) -> None:
    """Chi-square of counts against probabilities; an answer of probability 0 was never seen."""
    names = [name for name, p in expected.items() if p > 0]
    assert seen.keys() <= {*names}
    if len(names) == 1:
        return
    total = sum(seen.values())
    found = stats.chisquare([seen[n] for n in names], [expected[n] * total for n in names])
    assert found.pvalue > UNLIKELY, (seen, expected)


@pytest.mark.slow
@pytest.mark.parametrize("finding", ["graded", "history", "either", "lamp"])
@pytest.mark.parametrize("causes", [("one",), ("three",), ("one", "two"), ("three", "two"), ()], ids=" ".join)
def test_answers_come_as_often_as_the_model_says(model: BeliefModel, causes: tuple[str, ...], finding: str) -> None:
    """P(reported answer | hypothesis), slips and instruments included."""
    seen = Counter(SimulatedMachine(model, causes, seed).look(finding) for seed in range(DRAWS))
    row = model.reported_answer_tables[finding][hypothesis_of(model, causes)]
    agrees(seen, dict(zip(model.knowledge.findings[finding].answer_ids, row.tolist(), strict=True)))


def test_an_instrument_goes_with_what_it_reads(model: BeliefModel) -> None:
    """Together they come as often as the model says: P(report of the target) P(lamp | both reports so far, hypothesis)."""
    seen: Counter[str] = Counter()
    for seed in range(DRAWS):
        machine = SimulatedMachine(model, ("one",), seed)
        seen[f"{machine.look('graded')} {machine.look('lamp')}"] += 1
    k = hypothesis_of(model, ("one",))
    true, own, lamp = (
        model.true_answer_tables["graded"][k],
        model.misreports("graded"),
        model.forest.conditional_of_single_causes("lamp")[0] @ model.misreports("lamp"),
    )
    joint = np.einsum("t,ta,tb->ab", true, own, lamp)
    names = model.knowledge.findings["graded"].answer_ids, model.knowledge.findings["lamp"].answer_ids
    agrees(seen, {f"{a} {b}": float(joint[i, j]) for i, a in enumerate(names[0]) for j, b in enumerate(names[1])})


@pytest.mark.slow
@pytest.mark.parametrize("causes", [("one",), ("one", "two"), ()], ids=" ".join)
def test_a_child_goes_with_its_parent(causes: tuple[str, ...]) -> None:
    """Together they come as often as the model says, slips included: P(report of the parent) P(report of the child | it)."""
    model = BeliefModel(world_with_parents())
    seen: Counter[str] = Counter()
    for seed in range(DRAWS):
        machine = SimulatedMachine(model, causes, seed)
        seen[f"{machine.look('either')} {machine.look('graded')}"] += 1
    k = hypothesis_of(model, causes)
    expected: dict[str, float] = {}
    for answer, p in zip("abc", model.reported_answer_tables["either"][k], strict=True):
        row = model.predict_from_current_faults("graded", Evidence((Report("either", answer),)))[k]
        expected |= {f"{answer} {own}": float(p * q) for own, q in zip(("ok", "odd", "bad"), row, strict=True)}
    agrees(seen, expected)


def world_with_parents() -> Knowledge:
    """The small world, in which what is graded depends on the code, and the code on the history."""
    kb = world()
    rows = {"a": (0.9, 0.05, 0.05), "b": (0.3, 0.5, 0.2), "c": (0.2, 0.2, 0.6)}
    given = {answer: dict(zip(("ok", "odd", "bad"), row, strict=True)) for answer, row in rows.items()}
    codes = {"no": {"a": 0.6, "b": 0.3, "c": 0.1}, "yes": {"a": 0.1, "b": 0.4, "c": 0.5}}
    changed = {
        "graded": replace(kb.findings["graded"], parent="either", given=given),
        "either": replace(kb.findings["either"], parent="history", given=codes),
    }
    return replace(kb, findings={**kb.findings, **changed})


def test_a_change_forgets_what_depends_on_it_but_not_the_past() -> None:
    """After a fix that names the lamp: what it reads, the code above that and all below may look otherwise."""
    kb = world_with_parents()
    model = BeliefModel(replace(kb, actions={**kb.actions, "mend": replace(kb.actions["mend"], after=("lamp",))}))
    renewed: Counter[str] = Counter()
    for seed in range(200):
        machine = SimulatedMachine(model, ("one", "two"), seed)
        before = {name: machine.true_answer(name) for name in kb.findings}
        if machine.do("mend") == "changed":
            renewed.update(name for name in kb.findings if machine.true_answer(name) != before[name])
    assert set(renewed) == {"graded", "either", "lamp"}


@pytest.mark.parametrize("unlisted", [False, True])
def test_causes_come_by_their_prior(model: BeliefModel, unlisted: bool) -> None:
    """Singles, pairs, and on demand none of them."""
    rng = random.Random(3)
    seen = Counter(" ".join(sample_causes(model, rng, unlisted=unlisted)) for _ in range(DRAWS))
    prior = np.exp(model.hypotheses.log_prior)
    prior[-1] *= unlisted
    expected = {" ".join(causes_of_hypothesis(model, k)): float(p / prior.sum()) for k, p in enumerate(prior)}
    agrees(seen, expected)


def test_one_cause_on_demand(model: BeliefModel) -> None:
    """Only sets with it; and without pairs only itself."""
    rng = random.Random(3)
    assert all("three" in sample_causes(model, rng, cause="three") for _ in range(100))
    assert {sample_causes(model, rng, cause="three", two_faults=False) for _ in range(20)} == {("three",)}
    with pytest.raises(UnknownNameError, match="did you mean three"):
        sample_causes(model, rng, cause="thre")


@pytest.mark.parametrize(
    ("action", "expected"),
    [
        ("mend", {"one two": 0.3, "two": 0.7}),
        ("all", {"one two": 0.1 * 0.5, "one": 0.1 * 0.5, "two": 0.9 * 0.5, "": 0.9 * 0.5}),
        ("other", {"one two": 1.0}),
    ],
)
def test_fixes_help_as_often_as_the_causes_say(model: BeliefModel, action: str, expected: dict[str, float]) -> None:
    """Each cause by itself."""
    seen: Counter[str] = Counter()
    for seed in range(DRAWS):
        machine = SimulatedMachine(model, ("one", "two"), seed)
        outcome = machine.do(action)
        seen[" ".join(machine.remaining)] += 1
        assert outcome == ("starts" if not machine.remaining else "same" if len(machine.remaining) == 2 else "changed")
    agrees(seen, expected)


@pytest.mark.parametrize("causes", [("one",), ("three",), ("one", "two"), ()], ids=" ".join)
def test_what_is_seen_after_a_fix_comes_as_often_as_the_model_says(causes: tuple[str, ...]) -> None:
    """What remains and what is seen, together: P(outcome, what remains | hypothesis), and that the machine starts."""
    kb = world()
    actions = {**kb.actions, "mend": replace(kb.actions["mend"], changes=0.3)}
    told = {
        **kb.causes,
        "three": replace(kb.causes["three"], changes={"mend": 0.8}),
        "two": replace(kb.causes["two"], changes={"mend": 0.1}),
    }
    model = BeliefModel(replace(kb, actions=actions, causes=told))
    seen: Counter[str] = Counter()
    for seed in range(DRAWS):
        machine = SimulatedMachine(model, causes, seed)
        outcome = machine.do("mend")
        seen[f"{outcome} {' '.join(machine.remaining)}"] += 1
    expected: dict[str, float] = {}
    for outcome in ("same", "changed"):
        history = model.after_failed_fix(RepairHistory.start(model.hypotheses), "mend", outcome)
        k = hypothesis_of(model, causes)
        if len(causes) == 2:
            parts = np.exp(history.log_remaining[:, k - model.hypotheses.pairs.start])
            names = [
                " ".join(causes),
                model.hypotheses.causes[model.hypotheses.first[k]],
                model.hypotheses.causes[model.hypotheses.second[k]],
            ]
            expected |= {f"{outcome} {name}": float(p) for name, p in zip(names, parts, strict=True)}
        else:
            expected[f"{outcome} {' '.join(causes)}"] = float(np.exp(history.total_log_likelihood()[k]))
    expected["starts "] = 1 - sum(expected.values())
    agrees(seen, {name: p for name, p in expected.items() if p > 1e-12})


def test_coupled_causes_come_together() -> None:
    """One event that breaks two parts is drawn as often as the prior says."""
    kb = world()
    model = BeliefModel(replace(kb, base=replace(kb.base, coupled=(Coupling("one", "two", 0.3),))))
    rng = random.Random(3)
    seen = Counter(" ".join(sample_causes(model, rng)) for _ in range(DRAWS))
    prior = np.exp(model.hypotheses.log_prior[:-1])
    agrees(seen, {" ".join(causes_of_hypothesis(model, k)): float(p / prior.sum()) for k, p in enumerate(prior)})


def test_nothing_mends_what_nobody_wrote_down(model: BeliefModel) -> None:
    """The unlisted cause stays."""
    machine = SimulatedMachine(model, (), 1)
    assert {machine.do(action) for action in ("mend", "all", "other")} == {"same"}
    assert not machine.starts


def test_what_is_seen_stays(model: BeliefModel) -> None:
    """Looking again and fixes that change nothing leave the true answers; a report may slip."""
    for seed in range(60):
        machine = SimulatedMachine(model, ("one",), seed)
        before = [machine.true_answer(name) for name in model.knowledge.findings]
        reports = {machine.look("graded") for _ in range(30)}
        machine.do("other")
        assert [machine.true_answer(name) for name in model.knowledge.findings] == before
        assert before[0] in reports


def test_order_of_looks_does_not_matter(model: BeliefModel) -> None:
    """Nor whether something else was looked at: the same seed is the same machine."""
    names = list(model.knowledge.findings)
    for seed in range(40):
        one, other = (SimulatedMachine(model, ("one", "three"), seed) for _ in range(2))
        assert {n: one.look(n) for n in names} == {n: other.look(n) for n in reversed(names)}


@pytest.mark.slow
def test_after_a_change_it_is_drawn_anew() -> None:
    """What the action names is drawn from the cause that is left, with all that reads it; the rest stays."""
    kb = world()
    kb.actions["mend"] = replace(kb.actions["mend"], after=("lamp",))  # type: ignore[index]
    model = BeliefModel(kb)
    seen: Counter[str] = Counter()
    for seed in range(3 * DRAWS):
        machine = SimulatedMachine(model, ("one", "two"), seed)
        kept = [machine.true_answer(name) for name in ("history", "either")]
        machine.look("lamp")
        if machine.do("mend") == "changed":
            seen[machine.look("lamp")] += 1
            assert kept == [machine.true_answer(name) for name in ("history", "either")]
    row = model.reported_answer_tables["lamp"][hypothesis_of(model, ("two",))]
    agrees(seen, dict(zip(("dark", "lit"), row.tolist(), strict=True)))


def test_what_cannot_be_seen() -> None:
    """Where the conditions of a finding do not hold in truth there is nothing to see; what a fact says is not there is absent."""
    when = Conditions(all=(Condition(False, "graded", ("bad",)),))
    kb = world()
    kb.findings["history"] = replace(kb.findings["history"], when=when)  # type: ignore[index]
    kb.findings["either"] = replace(kb.findings["either"], when=when, absent="None fitted")  # type: ignore[index]
    no_sail = Conditions(none=(Condition(True, "sail", ("no",)),))
    kb.findings["lamp"] = replace(kb.findings["lamp"], when=no_sail, absent="None fitted")  # type: ignore[index]
    model = BeliefModel(kb)
    for seed in range(50):
        machine = SimulatedMachine(model, ("two",), seed)
        assert machine.look("lamp") in ("dark", "lit")
        answers = machine.look("history"), machine.look("either")
        if machine.true_answer("graded") == "bad":
            assert not {UNKNOWN, ABSENT} & {*answers}
        else:
            assert answers == (UNKNOWN, UNKNOWN)
        machine.facts = {"sail": "no"}
        assert machine.look("lamp") == ABSENT


def test_wrong_names(model: BeliefModel) -> None:
    """They are said, with the nearest."""
    machine = SimulatedMachine(model, ("one",), 1)
    with pytest.raises(UnknownNameError, match="did you mean lamp"):
        machine.look("lam")
    with pytest.raises(UnknownNameError, match="did you mean mend"):
        machine.do("mendd")
    with pytest.raises(UnknownNameError, match="no cause is called 'four'"):
        SimulatedMachine(model, ("four",), 1)
    with pytest.raises(NopostError, match="do not go together"):
        SimulatedMachine(model, ("one", "two", "three"), 1)


@pytest.mark.slow
def test_calibrated() -> None:
    """Of the causes that the belief gives the probability p, a share p is there: by bins, within what chance explains."""
    diagnostician = Diagnostician(world())
    rng = random.Random(11)
    said: list[float] = []
    true: list[bool] = []
    for seed in range(DRAWS):
        causes = sample_causes(diagnostician.model, rng, unlisted=True)
        machine = SimulatedMachine(diagnostician.model, causes, seed)
        reports = tuple(Report(name, machine.look(name)) for name in ("graded", "history", "either", "lamp"))
        for cause, p in diagnostician.ranker.rank(Observations(reports)).ranking:
            said.append(p)
            true.append(cause in causes)
    calibrated(np.array(said), np.array(true))


def calibrated(said: np.ndarray, true: np.ndarray) -> None:
    """In each tenth of probability, what is said and what is true differ by less than 4 standard errors."""
    for low in np.arange(0, 1, 0.1):
        here = (said >= low) & (said < low + 0.1)
        if here.sum() >= 30:
            error = np.sqrt((said[here] * (1 - said[here])).sum()) / here.sum()
            assert abs(said[here].mean() - true[here].mean()) < 4 * error, low


@pytest.mark.slow
def test_calibrated_on_the_shipped_knowledge(diagnostician: Diagnostician) -> None:
    """What a session begins with: findings without conditions, and an instrument."""
    names = ("danger-signs", "occasion", "handled", "response", "clock-kept", "memory-seated", "main-plug", "graphics-source")
    rng = random.Random(5)
    said: list[float] = []
    true: list[bool] = []
    for seed in range(300):
        causes = sample_causes(diagnostician.model, rng, unlisted=True)
        machine = SimulatedMachine(diagnostician.model, causes, seed)
        evidence = diagnostician.ranker.evidence(
            Observations(tuple(Report(n, machine.look(n)) for n in names)), diagnostician.ranker.rules.run({}, {})
        )
        found = diagnostician.model.hypotheses.marginals(diagnostician.model.posterior(evidence))
        said += found.tolist()
        true += [cause in causes for cause in diagnostician.model.hypotheses.causes]
    calibrated(np.array(said), np.array(true))


@pytest.mark.slow
@given(weights=st.lists(st.floats(0, 5), min_size=1, max_size=8).filter(any), u=st.floats(0, 1, exclude_max=True))
def test_pick_never_takes_what_has_no_weight(weights: list[float], u: float) -> None:
    """And the first of equal parts for the smallest numbers."""
    assert weights[sample_index(weights, u)] > 0
    assert sample_index(weights, 0.0) == next(k for k, w in enumerate(weights) if w > 0)


def test_uniform_numbers() -> None:
    """Spread evenly (Kolmogorov-Smirnov), and the same wherever they are drawn: the first is fixed here."""
    numbers = [uniform_by_name(1, "x", k) for k in range(2000)]
    assert stats.kstest(numbers, "uniform").pvalue > UNLIKELY
    assert uniform_by_name(1, "x", 0) == pytest.approx(numbers[0])
    assert (
        len({uniform_by_name(1, "a", "b"), uniform_by_name(1, "ab"), uniform_by_name(2, "a", "b"), uniform_by_name(1, "b", "a")})
        == 4
    )
