"""Findings with parents: exact against pyAgrum and plain sums, on random forests and on published numbers."""

from __future__ import annotations

import dataclasses
import random
from collections.abc import Mapping

import numpy as np
import pytest

import small
from diagnosis.belief.random_base import random_evidence, random_forest
from diagnosis.belief.reference import enumerated, likelihood, root_of, sets
from nopost.diagnosis.belief.evidence import Evidence, Report
from nopost.diagnosis.belief.finding_forest import FindingForest
from nopost.diagnosis.belief.finding_node import HypothesisRows
from nopost.diagnosis.belief.hypotheses import Floats
from nopost.diagnosis.belief.posterior import BeliefModel, as_reports
from nopost.knowledge.model import Combine, Instrument, Knowledge

EXACT = 1e-9


def by_set(model: BeliefModel, posterior: Floats) -> dict[frozenset[str], float]:
    """The posterior by sets of causes; the empty one is the unlisted hypothesis."""
    names = np.array(model.hypotheses.causes)
    return {frozenset(names[row > 0]): float(p) for row, p in zip(model.hypotheses.members, posterior, strict=True)}


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(60))
def test_posterior_is_the_sum_over_everything_unseen(seed: int) -> None:
    """Singles, pairs and unlisted, with failed fixes in between: all true answers and all that may be left tried in turn."""
    knowledge, rng = random_forest(seed), random.Random(seed)
    for reports, tried in ((0, 0), (1, 0), (4, 0), (7, 0), (6, 2)):
        evidence = random_evidence(rng, knowledge, reports=reports, tried=tried)
        model = BeliefModel(knowledge)
        assert by_set(model, model.posterior(evidence)) == pytest.approx(enumerated(knowledge, evidence), abs=EXACT)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(40))
def test_posterior_is_that_of_pyagrum(seed: int) -> None:
    """Causes as yes/no nodes, each finding's table over causes and parent: another library's lazy propagation."""
    networks = pytest.importorskip("diagnosis.belief.networks", reason="pyAgrum (extra bench) is not installed")
    knowledge, rng = random_forest(seed, most_causes=4), random.Random(100 + seed)
    model = BeliefModel(knowledge)
    for reports in (1, 3, 6):
        evidence = random_evidence(rng, knowledge, reports=reports, rules=reports % 2)
        posterior = model.posterior(evidence)
        expected, unlisted = networks.network(knowledge, evidence)
        found = model.hypotheses.marginals(posterior) / posterior[:-1].sum()
        assert dict(zip(model.hypotheses.causes, found, strict=True)) == pytest.approx(expected, abs=EXACT)
        assert posterior[-1] == pytest.approx(unlisted, abs=EXACT)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(20))
def test_one_node_for_all_hypotheses(seed: int) -> None:
    """The form in which the whole shipped base is compared: the same on random forests."""
    networks = pytest.importorskip("diagnosis.belief.networks", reason="pyAgrum (extra bench) is not installed")
    knowledge, rng = random_forest(seed), random.Random(200 + seed)
    model, evidence = BeliefModel(knowledge), random_evidence(rng, knowledge, reports=6)
    found = by_set(model, model.posterior(evidence))
    unlisted = found.pop(frozenset())
    listed = {present: p / (1 - unlisted) for present, p in found.items()}
    assert listed == pytest.approx(networks.one_node(knowledge, evidence), abs=EXACT)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(40))
def test_predictions_are_what_the_report_then_weighs(seed: int) -> None:
    """P(report | hypothesis, reports so far) for every finding, one by one, many at once, and by classes of causes."""
    knowledge, rng = random_forest(seed), random.Random(300 + seed)
    model, evidence = BeliefModel(knowledge), random_evidence(rng, knowledge, reports=4)
    told = {report.finding for report in evidence.reports}
    names = [name for name in knowledge.findings if name not in told]
    chosen = np.array(rng.choices(range(len(model.hypotheses.first)), k=5))
    together = model.predict_many(names, evidence, chosen)
    for name, rows in zip(names, together, strict=True):
        table = model.predict_from_current_faults(name, evidence)
        assert rows == pytest.approx(table[chosen], abs=EXACT)
        assert model.predicted_likelihood(name, evidence).table(model.hypotheses) == pytest.approx(table, abs=EXACT)
        for place, present in ((0, frozenset({model.hypotheses.causes[0]})), (-1, None)):
            before = likelihood(knowledge, evidence.reports, present)
            after = [
                likelihood(knowledge, [*evidence.reports, Report(name, a)], present) / before
                for a in knowledge.findings[name].answer_ids
            ]
            assert table[place] == pytest.approx(after, abs=EXACT)


@pytest.mark.parametrize("seed", range(30))
def test_classes_of_causes_change_nothing(seed: int) -> None:
    """A base of many causes that are alike gives what it gives with each hypothesis by itself."""
    knowledge, rng = random_forest(seed), random.Random(400 + seed)
    copies = {f"{c.id}-{k}": dataclasses.replace(c, id=f"{c.id}-{k}") for c in knowledge.causes.values() for k in range(4)}
    model = BeliefModel(dataclasses.replace(knowledge, causes=copies))
    reports = random_evidence(rng, knowledge, reports=5).reports
    log_likelihood = model.log_report_likelihood(reports)
    weights = model._weights(reports)
    dense = sum(np.log(model.forest.likelihood(model._all, tree)) for tree in model.forest.trees(weights).values())
    assert log_likelihood == pytest.approx(dense, abs=EXACT)
    assert len({model.forest.root[name] for name in weights}) == len({root_of(knowledge, name) for name in weights})


def test_a_causes_shares_stay_true_and_the_odds_are_the_parents() -> None:
    """What a file says of a cause is what its machines show on the whole; between two answers of the parent the odds change as
    they do over all machines. Own example; a 2 x 2 table with given margins and odds ratio has one solution."""
    stage = small.finding("stage", {"late": 0.6, "early": 0.4})
    lamp = small.finding("lamp", {"lit": 0.7, "dark": 0.3}, Combine.EITHER, misreport=0.0)
    lamp = dataclasses.replace(
        lamp, parent="stage", given={"late": {"lit": 0.9, "dark": 0.1}, "early": {"lit": 0.2, "dark": 0.8}}
    )
    causes = [
        small.cause("bulb", 1, {"lamp": {"lit": 0.1, "dark": 0.9}}, {}),
        small.cause("other", 1, {"stage": {"late": 0.1, "early": 0.9}}, {}),
    ]
    model = BeliefModel(small.knowledge([stage, lamp], causes))
    rows = HypothesisRows.of(model.hypotheses)
    conditional, above = model.forest.conditional("lamp", rows), model.true_answer_tables["stage"]
    own = model.answer_likelihood("lamp").table(model.hypotheses)
    assert np.einsum("hp,hpa->ha", above, conditional) == pytest.approx(own, abs=1e-12)
    odds = conditional[:, :, 0] / conditional[:, :, 1]
    assert odds[:, 0] / odds[:, 1] == pytest.approx(np.full(len(odds), (0.9 / 0.1) / (0.2 / 0.8)))


@pytest.mark.parametrize("seed", range(25))
def test_fitting_keeps_what_the_causes_say(seed: int) -> None:
    """Singles, pairs and unlisted, nothing given as 0: no finding by itself says anything else than without parents."""
    knowledge = random_forest(seed, zero=0.0)
    model = BeliefModel(knowledge)
    for name, finding in knowledge.findings.items():
        path = [knowledge.findings[above] for above in model.forest.path(name)]
        outright = any(above.id in cause.shows_given for above in path for cause in knowledge.causes.values())
        if finding.combine is Combine.HISTORY or finding.reads or outright:
            continue
        own = model.answer_likelihood(name).table(model.hypotheses)
        assert model.true_answer_tables[name] == pytest.approx(own, abs=1e-6)


def test_ratios_of_a_history_finding_apply_to_the_parents_baseline() -> None:
    """A cause that says 4 times as likely makes 4:1 of the odds that the parent's answer gives, whatever they are."""
    knowledge = onset_of_a_build(ratio=4.0)
    new, old = BeliefModel(knowledge).forest.conditional_of_single_causes("onset")[0]
    assert new == pytest.approx([0.1 / (0.1 + 4 * 0.9), 4 * 0.9 / (0.1 + 4 * 0.9)])
    assert old == pytest.approx([0.8 / (0.8 + 4 * 0.2), 4 * 0.2 / (0.8 + 4 * 0.2)])


def onset_of_a_build(ratio: float) -> Knowledge:
    """Occasion and onset, one cause that changes the odds of the onset and one that does not."""
    occasion = small.finding("occasion", {"new": 0.3, "old": 0.7}, Combine.HISTORY, misreport=0.001)
    onset = small.finding("onset", {"sudden": 0.6, "never": 0.4}, Combine.HISTORY, misreport=0.001)
    given = {"new": {"sudden": 0.1, "never": 0.9}, "old": {"sudden": 0.8, "never": 0.2}}
    onset = dataclasses.replace(onset, parent="occasion", given=given)
    causes = [small.cause("it", 1, {"onset": {"never": ratio}}, {"mend": 0.9}), small.cause("other", 1, {}, {"mend": 0.5})]
    return small.knowledge([occasion, onset], causes, [small.fix("mend", 1.0)])


def test_what_the_parent_says_is_not_counted_again() -> None:
    """Source: `dup_finding`, own: prior .5 and one finding with likelihood ratio 9 told 1 to 4 times as if independent gives .9,
    .987805, .998630, .999848; as children that repeat the first it stays at .9."""
    independent = repeated(parent=False)
    assert [first_cause(independent, count) for count in (1, 2, 3, 4)] == pytest.approx(
        [0.9, 0.987805, 0.998630, 0.999848], abs=1e-6
    )
    dependent = repeated(parent=True)
    assert [first_cause(dependent, count) for count in (1, 2, 3, 4)] == pytest.approx([0.9] * 4, abs=1e-9)


def repeated(parent: bool) -> Knowledge:
    """Four findings that two causes show 9:1; with `parent` all but the first say what the first says."""
    same = {a: {b: float(a == b) for b in ("yes", "no")} for a in ("yes", "no")}
    findings = [small.finding(f"f{k}", {"yes": 0.5, "no": 0.5}, Combine.EITHER, misreport=0.0) for k in range(4)]
    if parent:
        findings[1:] = [dataclasses.replace(f, parent="f0", given=same) for f in findings[1:]]
    shown = [{f.id: {"yes": p, "no": 1 - p} for f in (findings[:1] if parent else findings)} for p in (0.9, 0.1)]
    causes = [small.cause(name, 1, shows, {}, alone=True) for name, shows in zip(("it", "other"), shown, strict=True)]
    return small.knowledge(findings, causes, base_=small.base(unlisted=1e-12))


def first_cause(knowledge: Knowledge, count: int) -> float:
    """P(the first cause | so many answers yes)."""
    return float(BeliefModel(knowledge).posterior(Evidence(as_reports({f"f{k}": "yes" for k in range(count)})))[0])


COUNTS = {"0": (20, 10, 2, 1, 3, 2, 8, 4), "1": (4, 6, 1, 1, 1, 2, 14, 21)}
"""Class -> counts of x1 x2 x3 = 000 001 010 011 100 101 110 111."""


@pytest.mark.parametrize(
    ("answers", "naive", "tree"),
    [("000", 0.084115, 0.181138), ("001", 0.203874, 0.361148), ("110", 0.760669, 0.643494), ("111", 0.898603, 0.822740)],
)
def test_tree_augmented_naive_bayes(answers: str, naive: float, tree: float) -> None:
    """Source: `tan_small_post`, own: P(class 1 | x) of a small table by code whose posteriors equal a published course's for both
    naive Bayes and tree-augmented naive Bayes; +1 everywhere; tree x1 -> x2, x1 -> x3."""
    for with_parents, expected in ((False, naive), (True, tree)):
        told = as_reports({f"x{k + 1}": value for k, value in enumerate(answers)})
        assert BeliefModel(small_tree(with_parents)).posterior(Evidence(told))[1] == pytest.approx(expected, abs=1e-6)


def small_tree(with_parents: bool) -> Knowledge:
    """The two classes as causes that come alone, with the smoothed shares as what they show, by x1 outright or overall."""
    half = {"0": 0.5, "1": 0.5}
    findings = [small.finding(f"x{k}", half, Combine.EITHER, misreport=0.0) for k in (1, 2, 3)]
    if with_parents:
        findings[1:] = [dataclasses.replace(f, parent="x1", given={"0": half, "1": half}) for f in findings[1:]]
    causes = []
    for name, counts in COUNTS.items():
        cells = {f"{k:03b}": count for k, count in enumerate(counts)}
        overall_ = {f"x{k + 1}": shares(cells, k) for k in range(3)}
        by_first = {f"x{k + 1}": {a: shares({c: n for c, n in cells.items() if c[0] == a}, k) for a in "01"} for k in (1, 2)}
        shows = {"x1": overall_["x1"]} if with_parents else overall_
        cause = small.cause(f"class-{name}", 1, shows, {}, alone=True)
        causes.append(dataclasses.replace(cause, shows_given=by_first if with_parents else {}))
    return small.knowledge(findings, causes, base_=small.base(unlisted=1e-12))


def shares(cells: Mapping[str, int], place: int) -> dict[str, float]:
    """The shares of 0 and 1 at this place, one added to each."""
    counts = {a: 1 + sum(n for cell, n in cells.items() if cell[place] == a) for a in "01"}
    return {a: n / sum(counts.values()) for a, n in counts.items()}


def test_instrument_of_an_instrument() -> None:
    """A lamp, a photograph of it, and what somebody reads off the photograph: by hand."""
    stage = small.finding("stage", {"late": 0.6, "early": 0.4}, Combine.EITHER)
    rows = {"late": {"lit": 0.9, "dark": 0.1}, "early": {"lit": 0.2, "dark": 0.8}}
    lamp = small.finding("lamp", {}, reads=Instrument("stage", rows))
    blurred = {"lit": {"bright": 0.7, "black": 0.3}, "dark": {"bright": 0.05, "black": 0.95}}
    photo = small.finding("photo", {}, misreport=0.0, reads=Instrument("lamp", blurred))
    model = BeliefModel(
        small.knowledge([stage, lamp, photo], [small.cause("it", 1, {"stage": {"late": 0.25, "early": 0.75}}, {})])
    )
    lit = 0.25 * 0.9 + 0.75 * 0.2
    assert model.single_cause_table("photo")[0, 0] == pytest.approx(lit * 0.7 + (1 - lit) * 0.05)


def test_the_past_stays_valid_after_a_fix() -> None:
    """Occasion told before a fix, onset after it: the same weight as both at once, for a fix does not change the past."""
    model = BeliefModel(onset_of_a_build(ratio=4.0))
    early, late = Report("occasion", "new"), Report("onset", "never", 1)
    alone = model.log_likelihood(Evidence((early,), ("mend",)))
    both = np.exp(model.log_likelihood(Evidence((early, late), ("mend",))) - alone)
    at_once = np.exp(model.log_report_likelihood((early, Report("onset", "never"))) - model.log_report_likelihood((early,)))
    assert both[:2] == pytest.approx(at_once[:2])


@pytest.mark.parametrize("seed", range(20))
def test_trees_are_those_of_the_parents(seed: int) -> None:
    """Roots and descendants, as found by following parents one by one."""
    knowledge = random_forest(seed)
    forest = FindingForest(knowledge, BeliefModel(knowledge).hypotheses)
    assert len(list(sets(knowledge))) + 1 == len(BeliefModel(knowledge).hypotheses.first)
    for name in knowledge.findings:
        assert forest.root[name] == root_of(knowledge, name)
        assert set(forest.descendants(name)) == {n for n in knowledge.findings if n != name and name in forest.path(n)}
