"""What holds for every repair problem and every question."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnosis.advice.plain import best_plan, exact_cost, greedy_cost, repair_problem, sequence_cost
from nopost.diagnosis.advice.value_of_information import Question, RepairProblem, cost_of_repair_first, value_of_information
from nopost.diagnosis.belief.hypotheses import Floats

EXAMPLES = settings(max_examples=150)
TIE = 1e-6
"""Plans this close are one to the engine."""


@st.composite
def problems(draw: st.DrawFn, most_fixes: int = 5) -> RepairProblem:
    """1-5 faults, the last removed by nothing; up to 5 overlapping fixes with probabilities below 1."""
    seed, faults, fixes = draw(st.integers(0, 2**32 - 1)), draw(st.integers(1, 5)), draw(st.integers(0, most_fixes))
    rng = np.random.default_rng(seed)
    chance = rng.random((faults, fixes)) * (rng.random((faults, fixes)) < 0.5)
    chance[-1] = 0.0
    mass = rng.dirichlet(np.ones(faults))
    return repair_problem(mass, np.eye(faults), chance, rng.uniform(0.5, 40, fixes), float(rng.uniform(1, 200)))


def questions(problem: RepairProblem, cost: float, seed: int) -> Question:
    """A random question about a problem."""
    rng = np.random.default_rng(seed)
    return Question("q", cost, rng.dirichlet(np.full(3, 0.5), size=len(problem.belief)))


def all_orders(problem: RepairProblem) -> list[float]:
    """Cost of every order of every set of fixes."""
    fixes = range(len(problem.costs.fixes))
    orders = itertools.chain.from_iterable(itertools.permutations(fixes, n) for n in range(len(fixes) + 1))
    return [
        sequence_cost(order, problem.fault_mass, problem.repair_probability, problem.costs.fixes, problem.last_resort_cost())
        for order in orders
    ]


@pytest.mark.slow
@EXAMPLES
@given(problems())
def test_the_best_plan_is_the_best_of_all_orders(problem: RepairProblem) -> None:
    """And costs what its own sequence costs."""
    plan = problem.best_plan()
    assert plan.expected_cost_of_repair == pytest.approx(min(all_orders(problem)), abs=TIE)
    assert plan.expected_cost_of_repair == pytest.approx(
        sequence_cost(
            plan.fixes, problem.fault_mass, problem.repair_probability, problem.costs.fixes, problem.last_resort_cost()
        ),
        abs=TIE,
    )


@EXAMPLES
@given(problems(most_fixes=14))
def test_the_best_plan_never_costs_more_than_greed_or_the_shop(problem: RepairProblem) -> None:
    """Also with more fixes than are compared exactly."""
    greedy = greedy_cost(
        problem.fault_mass[None, :], problem.repair_probability, problem.costs.fixes, problem.last_resort_cost()
    )[0]
    assert problem.best_plan().expected_cost_of_repair <= min(greedy, problem.last_resort_cost()) + TIE


@EXAMPLES
@given(problems(most_fixes=9), st.integers(1, 4))
def test_rows_are_solved_as_if_alone(problem: RepairProblem, rows: int) -> None:
    """Whatever else is in the batch, and whatever they sum to."""
    masses = np.random.default_rng(rows).random((rows, len(problem.belief)))
    costs = exact_cost(masses, problem.repair_probability, problem.costs.fixes, problem.last_resort_cost())
    alone = [
        best_plan(mass, problem.repair_probability, problem.costs.fixes, problem.last_resort_cost()).expected_cost_of_repair
        for mass in masses
    ]
    assert costs == pytest.approx(alone, abs=TIE)


@EXAMPLES
@given(problems(), st.floats(0.1, 100))
def test_dearer_money_changes_nothing_but_the_figures(problem: RepairProblem, factor: float) -> None:
    """All costs times a factor: the expectation times the factor."""
    dearer = repair_problem(
        problem.belief,
        problem.fault_shares,
        problem.repair_probability,
        problem.costs.fixes * factor,
        problem.last_resort_cost() * factor,
    )
    question = questions(problem, 3.0, 1)
    assert dearer.best_plan().expected_cost_of_repair == pytest.approx(
        problem.best_plan().expected_cost_of_repair * factor, abs=TIE * factor + TIE
    )
    now, then = (
        value_of_information(problem, [question]),
        value_of_information(dearer, [Question("q", 3.0 * factor, question.table)]),
    )
    assert then[0].expected_total_cost == pytest.approx(now[0].expected_total_cost * factor, abs=TIE * factor + TIE)


@EXAMPLES
@given(problems())
def test_the_chance_that_a_fix_is_needed_only_falls(problem: RepairProblem) -> None:
    """The first is needed for certain, no later one more than the one before."""
    needed = problem.best_plan().need_probabilities
    assert all(0 < later <= earlier <= 1 for earlier, later in itertools.pairwise((1.0, *needed)))
    assert needed[:1] in ((), (1.0,))


@EXAMPLES
@given(problems(), st.floats(0.01, 50), st.integers(1, 4))
def test_a_question_that_tells_nothing_costs_itself(problem: RepairProblem, cost: float, answers: int) -> None:
    """Its value is its cost and then the plan as before."""
    table: Floats = np.full((len(problem.belief), answers), 1 / answers)
    assert value_of_information(problem, [Question("q", cost, table)])[0].expected_total_cost == pytest.approx(
        cost + problem.best_plan().expected_cost_of_repair, abs=TIE
    )


@EXAMPLES
@given(problems())
def test_a_free_question_that_tells_all_gives_the_plan_of_each_cause(problem: RepairProblem) -> None:
    """Sum over causes of the probability times the best plan when it is known."""
    sure = [
        best_plan(row, problem.repair_probability, problem.costs.fixes, problem.last_resort_cost()).expected_cost_of_repair
        for row in np.eye(len(problem.belief))
    ]
    told = value_of_information(problem, [Question("q", 0.0, np.eye(len(problem.belief)))])[0].expected_total_cost
    assert told == pytest.approx(float(problem.belief @ sure), abs=TIE)


@EXAMPLES
@given(problems(), st.integers(0, 1000))
def test_no_answer_is_worth_more_than_certainty_or_less_than_nothing(problem: RepairProblem, seed: int) -> None:
    """A free question lies between knowing all and knowing nothing more."""
    told = value_of_information(problem, [Question("all", 0.0, np.eye(len(problem.belief)))])[0].expected_total_cost
    value = value_of_information(problem, [questions(problem, 0.0, seed)])[0].expected_total_cost
    assert told - TIE <= value <= problem.best_plan().expected_cost_of_repair + TIE


@EXAMPLES
@given(problems(), st.integers(0, 1000))
def test_two_questions_are_never_worth_less_than_the_better_one(problem: RepairProblem, seed: int) -> None:
    """Looking two steps ahead can only help; few branches here, so it is done."""
    pair = [questions(problem, 1.0, seed), Question("other", 2.0, questions(problem, 2.0, seed + 1).table)]
    single = {q.name: value_of_information(problem, [q])[0].expected_total_cost for q in pair}
    assert all(v.expected_total_cost <= single[v.name] + TIE for v in value_of_information(problem, pair))


@EXAMPLES
@given(problems(), st.integers(0, 1000))
def test_repair_first_with_a_question_is_never_worse_than_the_plan(problem: RepairProblem, seed: int) -> None:
    """The plan's first fix, then the best of going on and asking."""
    plan = problem.best_plan()
    for fix in plan.fixes[:1]:
        assert cost_of_repair_first(problem, [fix], [questions(problem, 1.0, seed)]) <= plan.expected_cost_of_repair + TIE
        assert cost_of_repair_first(problem, [fix], []) == pytest.approx(plan.expected_cost_of_repair, abs=TIE)


@EXAMPLES
@given(problems(), st.integers(0, 1000))
def test_repair_first_is_the_fix_and_then_the_remaining_problem(problem: RepairProblem, seed: int) -> None:
    """Normalised by hand: the fix's cost, and by the chance that it fails the best of what the new belief offers."""
    question = questions(problem, 1.0, seed)
    for fix in problem.best_plan().fixes[:1]:
        left = problem.fault_mass * (1 - problem.repair_probability[:, fix])
        rest = [k for k in range(len(problem.costs.fixes)) if k != fix]
        then = repair_problem(
            left / left.sum(),
            problem.fault_shares,
            problem.repair_probability[:, rest],
            problem.costs.fixes[rest],
            problem.last_resort_cost(),
        )
        best = min(then.best_plan().expected_cost_of_repair, value_of_information(then, [question])[0].expected_total_cost)
        assert cost_of_repair_first(problem, [fix], [question]) == pytest.approx(
            problem.costs.fixes[fix] + left.sum() * best, abs=TIE
        )


@EXAMPLES
@given(problems(), st.integers(0, 1000), st.floats(0.01, 10))
def test_a_question_dearer_than_its_whole_gain_is_not_worth_asking(problem: RepairProblem, seed: int, more: float) -> None:
    """The gain is what the same question saves when it is free."""
    plan = problem.best_plan().expected_cost_of_repair
    gain = plan - value_of_information(problem, [questions(problem, 0.0, seed)])[0].expected_total_cost
    assert value_of_information(problem, [questions(problem, gain + more, seed)])[0].expected_total_cost > plan


def test_no_fixes_and_no_questions_leave_the_shop() -> None:
    """The smallest problem there is."""
    problem = repair_problem(np.ones(1), np.eye(1), np.zeros((1, 0)), np.zeros(0), 70.0)
    assert problem.best_plan().expected_cost_of_repair == pytest.approx(70.0)
    assert problem.best_plan().fixes == ()
    assert value_of_information(problem, []) == []
