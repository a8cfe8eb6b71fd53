"""The advice, played to the end, against the exact optimum of small problems (design, section 5)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from statistics import mean

import pytest

from diagnosis.advice.optimum import LAST_RESORT, TroubleshootingProblem, World, cost_of_policy, optimal_cost, start
from diagnosis.advice.policies import adviser_policy, as_problem, diagnosis_policy
from diagnosis.advice.random_problems import informative_knowledge, informative_problem, random_knowledge, random_problem
from nopost.diagnosis.advice import value_of_information
from nopost.diagnosis.diagnose import Diagnostician

Record = Callable[[str, object], None]
BLOCK = 40
FEW_PERCENT = 0.03
ONE, NONE = frozenset({0}), frozenset[int]()


def single_fault(seeds: range) -> list[float]:
    """Relative excess over the optimum of the advice for random problems with one fault."""
    problems = [random_problem(seed) for seed in seeds]
    return [cost_of_policy(problem, adviser_policy(problem)) / optimal_cost(problem) - 1 for problem in problems]


def with_pairs(seeds: range, two_faults: float) -> list[float]:
    """The same for whole assessments of random knowledge bases with pairs of faults."""
    assessors = [Diagnostician(random_knowledge(seed, two_faults)) for seed in seeds]
    return [cost_of_policy(t := as_problem(a), diagnosis_policy(a)) / optimal_cost(t) - 1 for a in assessors]


def check(excess: list[float], record: Record) -> None:
    """Record mean and worst; nothing beats the optimum, and the mean stays within a few percent of it."""
    record("mean_excess", mean(excess))
    record("worst_excess", max(excess))
    assert min(excess) >= -1e-9
    assert mean(excess) <= FEW_PERCENT


@pytest.mark.slow
@pytest.mark.parametrize("block", range(6))
def test_single_faults_are_solved_nearly_as_well_as_can_be(block: int, record_property: Record) -> None:
    """240 random problems in all."""
    check(single_fault(range(block * BLOCK, (block + 1) * BLOCK)), record_property)


@pytest.mark.slow
@pytest.mark.parametrize("two_faults", [0.07, 0.3, 1.0])
def test_pairs_of_faults_too(two_faults: float, record_property: Record) -> None:
    """Rules, belief and advice together, up to as many pairs as single faults."""
    check(with_pairs(range(BLOCK), two_faults), record_property)


@pytest.mark.slow
@pytest.mark.parametrize("wrong", [0.05, 0.15])
def test_informative_questions_are_asked_as_well_as_can_be(
    wrong: float, monkeypatch: pytest.MonkeyPatch, record_property: Record
) -> None:
    """Where going without questions costs a tenth more at least, the advice stays near the optimum, one question ahead too."""
    problems = [informative_problem(seed, wrong) for seed in range(15)]
    least = [optimal_cost(t) for t in problems]
    for branches in (value_of_information.TWO_STEP_BRANCHES, 0):
        monkeypatch.setattr(value_of_information, "TWO_STEP_BRANCHES", branches)
        check([cost_of_policy(t, adviser_policy(t)) / o - 1 for t, o in zip(problems, least, strict=True)], record_property)
    unasked = [replace(t, answer_tables=[], question_costs=[]) for t in problems]
    silent = [cost_of_policy(t, adviser_policy(t)) for t in unasked]
    assert mean(s / o for s, o in zip(silent, least, strict=True)) > 1.1


@pytest.mark.slow
def test_informative_questions_of_whole_bases() -> None:
    """Rules, belief and advice together, with pairs."""
    assessors = [Diagnostician(informative_knowledge(seed, 0.3)) for seed in range(10)]
    assert mean(cost_of_policy(t := as_problem(a), diagnosis_policy(a)) / optimal_cost(t) for a in assessors) < 1 + FEW_PERCENT


def coin(ask: float) -> TroubleshootingProblem:
    """One of two equal faults; a sure test of which; fixes of 10 each that mend one; a shop for 100."""
    other: World = frozenset({1})
    table = {ONE: (1.0, 0.0), other: (0.0, 1.0)}
    return TroubleshootingProblem({ONE: 0.5, other: 0.5}, [table], [ask], [{0: 1.0}, {1: 1.0}], [10.0, 10.0], 100.0)


@pytest.mark.parametrize(("ask", "least"), [(1.0, 11.0), (4.9, 14.9), (5.0, 15.0), (9.0, 15.0)])
def test_the_optimum_of_a_coin_is_as_computed_by_hand(ask: float, least: float) -> None:
    """Ask, then 10; or 10, and in half of the cases 10 more."""
    assert optimal_cost(coin(ask)) == pytest.approx(least)
    assert cost_of_policy(coin(ask), adviser_policy(coin(ask))) == pytest.approx(least)


def test_the_optimum_goes_to_the_shop_when_nothing_else_pays() -> None:
    """A fix of 10 that works one time in twenty saves 5 of the shop's 100."""
    problem = TroubleshootingProblem({ONE: 1.0}, [], [], [{0: 0.05}], [10.0], 100.0)
    assert optimal_cost(problem) == pytest.approx(100.0)
    assert adviser_policy(problem)(start(problem)) == LAST_RESORT


def test_a_pair_needs_both_of_its_fixes() -> None:
    """Two faults at once: both fixes, whatever comes first."""
    problem = TroubleshootingProblem({frozenset({0, 1}): 0.5, NONE: 0.5}, [], [], [{0: 1.0}, {1: 1.0}], [10.0, 20.0], 100.0)
    assert optimal_cost(problem) == pytest.approx(min(100.0, 30 + 0.5 * 100))
