"""A second look: an independent report of the same true answer, worth what it may change."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest

import small
from diagnosis.belief.random_base import random_evidence, random_forest, random_knowledge
from diagnosis.belief.reference import enumerated
from nopost.diagnosis.advice.adviser import StepKind
from nopost.diagnosis.belief.evidence import Evidence, Observations, Report
from nopost.diagnosis.belief.explanation import weights_of_evidence
from nopost.diagnosis.belief.posterior import BeliefModel
from nopost.diagnosis.diagnose import Diagnostician
from nopost.diagnosis.history import Event, EventKind, History, Person
from nopost.diagnosis.history_words import event_words, evidence_words, seen_lines
from nopost.diagnosis.replay import replay
from nopost.diagnosis.step_view import spent_effort, step_view
from nopost.knowledge import model as m


def supply_or_board(misreport: float = 0.2) -> m.Knowledge:
    """A lamp that tells a cheap cause from a dear one, read wrongly by many, and a past that cannot be looked at again."""
    findings = [
        small.finding("lamp", {"lit": 0.95, "dark": 0.05}, misreport=misreport, cost=0.5),
        small.finding("past", {"no": 0.5, "yes": 0.5}, m.Combine.HISTORY, misreport=misreport, cost=0.5),
    ]
    causes = [
        small.cause("plug", 50, {"past": {"yes": 1.5}}, {"push": 0.95}, alone=True),
        small.cause("supply", 50, {"lamp": {"lit": 0.02, "dark": 0.98}, "past": {"yes": 3.0}}, {"buy": 0.95}, alone=True),
    ]
    buy = m.Action("buy", "Buy one", "fix", "part", ("Do it.",), m.Effort(10, 80))
    return small.knowledge(findings, causes, [small.fix("push", 40), buy], base_=small.base(unlisted=0.01, shop=400))


def looked(*events: tuple[EventKind, str, str]) -> History:
    """A history of these events."""
    return History(events=tuple(Event(*event) for event in events))


ANSWER, AGAIN, TRIED = EventKind.ANSWER, EventKind.LOOKED_AGAIN, EventKind.TRIED


@pytest.mark.parametrize("seed", range(30))
def test_two_reports_of_one_true_answer(seed: int) -> None:
    """Posterior and prediction equal the sum over all true answers, with both reports slipping by themselves."""
    rng = random.Random(seed)
    knowledge = random_forest(seed) if seed % 2 else random_knowledge(seed)
    evidence = random_evidence(rng, knowledge, reports=4, tried=seed % 3)
    now = [r for r in evidence.reports if r.epoch == seed % 3][:2]
    again = tuple(Report(r.finding, rng.choice(knowledge.findings[r.finding].answer_ids), r.epoch, again=True) for r in now)
    both = Evidence((*evidence.reports, *again), evidence.failed_repairs)
    model = BeliefModel(knowledge)
    names = np.array(model.hypotheses.causes)
    found = {frozenset(names[row > 0]): p for row, p in zip(model.hypotheses.members, model.posterior(both), strict=True)}
    assert found == pytest.approx(enumerated(knowledge, both), abs=1e-9)
    for report in again:
        before = Evidence(tuple(r for r in both.reports if r != report), evidence.failed_repairs)
        table = model.predict_from_initial_faults(report.finding, before)
        share = float(model.posterior(before) @ table[:, model.answer_index[report.finding][report.answer]])
        whole, part = (np.exp(model.log_joint(e)).sum() for e in (both, before))
        assert share == pytest.approx(whole / part, abs=1e-9)


@pytest.mark.parametrize("seed", range(20))
def test_after_a_fix_that_changed_nothing_the_first_answer_still_holds(seed: int) -> None:
    """With one fault, a second look after such a fix says what it would have said before it; and so it is predicted."""
    rng = random.Random(seed)
    forest = random_forest(seed)
    knowledge = m.Knowledge(
        base=forest.base,
        findings=forest.findings,
        causes={c.id: replace(c, alone=True) for c in forest.causes.values()},
        actions=forest.actions,
        rules={},
        hazards={},
    )
    first = random_evidence(rng, knowledge, reports=4, tried=1)
    before = tuple(replace(r, epoch=0) for r in first.reports if r.epoch == 0)
    model = BeliefModel(knowledge)
    for report in before:
        answer = rng.choice(knowledge.findings[report.finding].answer_ids)
        late, early = (Report(report.finding, answer, epoch, again=True) for epoch in (1, 0))
        after = Evidence((*before, late), first.failed_repairs, unchanged=frozenset({1}))
        expected = model.posterior(Evidence((*before, early), first.failed_repairs, unchanged=frozenset({1})))
        assert model.posterior(after) == pytest.approx(expected, abs=1e-12)
        known = Evidence(before, first.failed_repairs, unchanged=frozenset({1}))
        table = model.predict_from_initial_faults(report.finding, known, again=True)
        share = float(model.posterior(known) @ table[:, model.answer_index[report.finding][answer]])
        whole, part = (np.exp(model.log_joint(e)).sum() for e in (after, known))
        assert share == pytest.approx(whole / part, abs=1e-9)


def test_in_numbers() -> None:
    """A report that is wrong in one of five: the same again squares what the slips leave, the other one cancels it."""
    model = BeliefModel(supply_or_board())
    odds = {}
    for name, answers in {"none": (), "one": ("dark",), "same": ("dark", "dark"), "other": ("dark", "lit")}.items():
        reports = tuple(Report("lamp", answer, again=k > 0) for k, answer in enumerate(answers))
        p = model.posterior(Evidence(reports))
        odds[name] = p[1] / p[0]
    dark, other = (0.98, 0.02), (0.05, 0.95)
    for name, slips in {"one": (0.8, 0.2), "same": (0.8**2, 0.2**2), "other": (0.8 * 0.2, 0.2 * 0.8)}.items():
        expected = np.dot(dark, slips) / np.dot(other, slips)
        assert odds[name] / odds["none"] == pytest.approx(expected)


def test_only_a_second_look_counts_twice() -> None:
    """Answering again corrects; looking again counts beside the first, once, until the answer is given anew."""
    first, other = Report("lamp", "dark"), Report("lamp", "lit")
    same, differs = Report("lamp", "dark", again=True), Report("lamp", "lit", again=True)
    assert Observations((first, first)).telling() == (first,)
    assert Observations((first, other)).telling() == (other,)
    assert Observations((first, same)).telling() == (first, same)
    assert Observations((first, differs)).telling() == (first, differs)
    assert Observations((first, same, differs)).telling() == (first, differs)
    assert Observations((first, differs, other)).telling() == (other,)
    assert Observations((first, Report("lamp", "unknown", again=True))).telling() == (first,)


def test_replay_of_a_second_look() -> None:
    """Rules see the latest; what cannot be told any more leaves the first answer; it is not asked a third time."""
    knowledge = supply_or_board()
    told = looked((ANSWER, "lamp", "dark"))
    assert replay(told, knowledge).seen_once() == (Report("lamp", "dark"),)
    for second, stands in (("dark", "dark"), ("lit", "lit"), ("unknown", "dark")):
        seen = replay(told.add(AGAIN, "lamp", second), knowledge)
        assert seen.current() == {"lamp": stands}
        assert seen.seen_once() == ()
        assert seen.was_confirmed("lamp")
        assert replay(told.add(AGAIN, "lamp", second).undo(), knowledge) == replay(told, knowledge)
    assert replay(told.add(TRIED, "push", "same"), knowledge).is_second_look("lamp")
    assert not replay(told.add(TRIED, "push", "changed"), knowledge).is_second_look("lamp")


def test_a_second_look_pays_before_a_purchase() -> None:
    """The dark lamp says: buy. Looked at once more for next to nothing, it is bought on better grounds; then it is bought."""
    diagnostician = Diagnostician(supply_or_board())
    history = looked((ANSWER, "past", "yes"), (ANSWER, "lamp", "dark"))
    found = diagnostician.diagnose(history)
    step = found.advice.step
    assert (step.kind, step.id, step.again, step.look) == (StepKind.ASK, "lamp", True, AGAIN)
    best_without = min(s.expected_total_cost for s in found.advice.others)
    assert step.expected_total_cost < best_without
    view = step_view(diagnostician, history, found)
    assert view.title == "Look again: lamp?"
    assert view.why.startswith("You said “dark”. The next step is dear or cannot be undone")
    assert sum(p.probability for p in view.predicted) == pytest.approx(1)
    bought = diagnostician.diagnose(history.add(AGAIN, "lamp", "dark")).advice.step
    assert (bought.kind, bought.id) == (StepKind.DO, "buy")
    spared = diagnostician.diagnose(history.add(AGAIN, "lamp", "lit")).advice.step
    assert (spared.kind, spared.id) == (StepKind.DO, "push")


@pytest.mark.parametrize("misreport", [0.2, 0.001])
def test_its_value_is_that_of_the_branches(misreport: float) -> None:
    """The cost that is told is that of looking plus the mean over what is then seen of the best that is left; and what is hardly
    ever read wrongly is not worth a second look."""
    diagnostician = Diagnostician(supply_or_board(misreport))
    history = looked((ANSWER, "past", "yes"), (ANSWER, "lamp", "dark"))
    found = diagnostician.diagnose(history)
    assert found.advice.step.again is (misreport > 0.1)
    if not found.advice.step.again:
        return
    table = diagnostician.model.predict_from_initial_faults("lamp", found.evidence)
    total = found.advice.step.cost
    for k, answer in enumerate(("lit", "dark")):
        then = diagnostician.diagnose(history.add(AGAIN, "lamp", answer))
        total += float(found.posterior @ table[:, k]) * then.advice.expected_cost_of_repair_now
    assert found.advice.step.expected_total_cost == pytest.approx(total, rel=1e-3)


def test_what_is_past_is_not_looked_at_again() -> None:
    """Nor what was seen before a fix that changed something."""
    knowledge = supply_or_board(0.3)
    diagnostician = Diagnostician(knowledge)
    found = diagnostician.diagnose(looked((ANSWER, "past", "yes")))
    assert all(not step.again for step in (found.advice.step, *found.advice.others))
    before = diagnostician.diagnose(looked((ANSWER, "lamp", "dark"), (TRIED, "push", "changed")))
    assert not before.advice.step.again


def test_words() -> None:
    """In the list of events and of evidence it is told as a second look; its effort is that of looking alone."""
    knowledge = supply_or_board()
    history = looked((ANSWER, "lamp", "dark"), (AGAIN, "lamp", "lit"))
    assert event_words(knowledge, history.events[1]) == "Looked again: lamp: lit"
    assert list(seen_lines(knowledge, history)) == ["lamp: lit"]
    model = BeliefModel(knowledge)
    weights = weights_of_evidence(model, Evidence(replay(history, knowledge).telling()), "supply")
    assert [evidence_words(knowledge, w) for w in weights] == ["lamp: dark", "Looked again: lamp: lit"]
    assert spent_effort(knowledge, history, Person()) == m.Effort(1.0)
