"""Published numbers of decision-theoretic troubleshooting."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from diagnosis.advice import published_examples as w
from diagnosis.advice.plain import best_plan, greedy_cost, repair_problem, sequence_cost
from nopost.diagnosis.advice.value_of_information import Question, cost_of_repair_first, value_of_information
from nopost.diagnosis.belief.hypotheses import Floats


@pytest.mark.parametrize(
    ("mass", "order", "observed", "published"),
    [
        pytest.param(w.FIG1_TRUE, [0, 1], True, 17.0, id="o true, c1 first"),
        pytest.param(w.FIG1_TRUE, [1, 0], True, 34.9, id="o true, c2 first"),
        pytest.param(w.FIG1_FALSE, [0, 1], True, 30.0, id="o false, c1 first"),
        pytest.param(w.FIG1_FALSE, [1, 0], True, 28.0, id="o false, c2 first"),
        pytest.param(w.FIG1_PLAIN, [0, 1], False, 20.0, id="c1 first"),
        pytest.param(w.FIG1_PLAIN, [1, 0], False, 29.5, id="c2 first"),
    ],
)
def test_leaves_of_the_published_tree(mass: Floats, order: list[int], observed: bool, published: float) -> None:
    """Source: Heckerman, Breese & Rommelse 1995, CACM 38(3), p. 50, Fig. 1."""
    paid = w.FIG1_OBSERVE if observed else 0.0
    assert paid + sequence_cost(order, mass, w.FIG1_CHANCE, w.FIG1_COST) == pytest.approx(published)


def test_observing_first_is_the_best_root_of_the_published_tree() -> None:
    """Source: the same figure: 0.8 * 17 + 0.2 * 28 = 19.2 beats 20 and 29.5. The end is free there, so the shop is taken off."""
    problem, question = w.fig1_observation()
    unmended = w.DEAR * problem.belief[2]
    observe = value_of_information(problem, [question])[0].expected_total_cost - unmended
    at_once = best_plan(w.FIG1_PLAIN, w.FIG1_CHANCE, w.FIG1_COST, w.DEAR).expected_cost_of_repair - w.DEAR * w.FIG1_PLAIN[2]
    assert observe == pytest.approx(19.2)
    assert at_once == pytest.approx(20.0)
    assert min(observe, at_once) == observe


@pytest.mark.parametrize(("mass", "fixes"), [(w.FIG1_TRUE, (0, 1)), (w.FIG1_FALSE, (1, 0)), (w.FIG1_PLAIN, (0, 1))])
def test_best_order_in_each_branch_of_the_published_tree(mass: Floats, fixes: tuple[int, ...]) -> None:
    """Source: the same figure: the lesser leaf of each branch."""
    assert best_plan(mass, w.FIG1_CHANCE, w.FIG1_COST, w.DEAR).fixes == fixes


@pytest.mark.parametrize("seed", range(20))
def test_independent_fixes_go_by_falling_ratio(seed: int) -> None:
    """Source: the same article: with one fault and one sure fix for each cause, falling p/C is the best order."""
    mass, cost = independent(seed)
    plan = best_plan(mass, np.eye(len(mass)), cost, w.DEAR)
    assert greedy_cost(mass[None, :], np.eye(len(mass)), cost, w.DEAR)[0] == pytest.approx(plan.expected_cost_of_repair)
    assert list(plan.fixes) == list(np.argsort(-mass / cost))
    assert plan.expected_cost_of_repair == pytest.approx(
        sum(cost[k] * (1 - sum(mass[list(plan.fixes[:i])])) for i, k in enumerate(plan.fixes))
    )


@pytest.mark.parametrize("seed", range(20))
@pytest.mark.parametrize("shop", [5.0, 30.0, 90.0])
def test_when_to_call_the_shop_by_linear_search(seed: int, shop: float) -> None:
    """Source: the same article: after k items in ratio order the shop costs Cs times the sum of the p left; the best k."""
    mass, cost = independent(seed)
    order = [int(k) for k in np.argsort(-mass / cost)]
    searched = [sequence_cost(order[:k], mass, np.eye(len(mass)), cost, shop) for k in range(len(order) + 1)]
    plan = best_plan(mass, np.eye(len(mass)), cost, shop)
    assert plan.expected_cost_of_repair == pytest.approx(min(searched))
    assert len(plan.fixes) == int(np.argmin(searched))


def independent(seed: int) -> tuple[Floats, Floats]:
    """2-7 causes with a sure fix each."""
    rng = np.random.default_rng(seed)
    count = int(rng.integers(2, 8))
    return np.asarray(rng.dirichlet(np.ones(count))), np.asarray(rng.uniform(1, 40, count))


def test_dependent_fixes_break_the_ratio_rule() -> None:
    """Source: Jensen et al. 2001, AI EDAM 15, p. 323, Fig. 1: greedy A2 A1 A3 costs 1.50, the best order A3 A1 costs 1.45."""
    greedy = greedy_cost(w.DEPENDENT_MASS[None, :], w.DEPENDENT_CHANCE, w.DEPENDENT_COST, w.DEAR)
    plan = best_plan(w.DEPENDENT_MASS, w.DEPENDENT_CHANCE, w.DEPENDENT_COST, w.DEAR)
    assert greedy[0] == pytest.approx(1.50)
    assert sequence_cost([w.A2, w.A1, w.A3], w.DEPENDENT_MASS, w.DEPENDENT_CHANCE, w.DEPENDENT_COST) == pytest.approx(1.50)
    assert plan.expected_cost_of_repair == pytest.approx(1.45)
    assert plan.fixes == (w.A3, w.A1)
    assert plan.need_probabilities == pytest.approx((1.0, 0.45))


def test_the_published_best_is_the_best_of_all_complete_orders() -> None:
    """Source: the same example, by enumeration."""
    orders = [order for n in (1, 2, 3) for order in itertools.permutations(range(3), n)]
    complete = [order for order in orders if (w.DEPENDENT_CHANCE[:, list(order)].max(axis=1) == 1).all()]
    costs = [sequence_cost(order, w.DEPENDENT_MASS, w.DEPENDENT_CHANCE, w.DEPENDENT_COST) for order in complete]
    assert min(costs) == pytest.approx(1.45)


@pytest.mark.parametrize("shop", [2.0, 5.0, 20.0, 1e6])
def test_an_order_that_leaves_a_cause_uncovered_only_looks_cheaper(shop: float) -> None:
    """Source: the same article: A2 A1 costs 1.35 but leaves 0.15, which is not free: the shop mends it."""
    uncovered = [w.A2, w.A1]
    looks = sequence_cost(uncovered, w.DEPENDENT_MASS, w.DEPENDENT_CHANCE, w.DEPENDENT_COST)
    counted = sequence_cost(uncovered, w.DEPENDENT_MASS, w.DEPENDENT_CHANCE, w.DEPENDENT_COST, shop)
    plan = best_plan(w.DEPENDENT_MASS, w.DEPENDENT_CHANCE, w.DEPENDENT_COST, shop)
    assert looks == pytest.approx(1.35)
    assert counted == pytest.approx(1.35 + 0.15 * shop)
    assert plan.expected_cost_of_repair < counted
    assert plan.fixes == (w.A3, w.A1)


def test_the_question_of_the_published_tree_is_not_asked() -> None:
    """Source: Lin 2014, IJAR 55, p. 979, Fig. 2: A1, question, right fix costs 2; own computation: without the question 7/4."""
    problem = repair_problem(w.LIN_MASS, np.eye(3), np.eye(3), w.LIN_COST, w.DEAR)
    question = Question("Q", 1.0, w.LIN_QUESTION)
    later = problem.after_failed([0])
    asked = problem.costs.fixes[0] + value_of_information(later, [question])[0].expected_total_cost
    assert asked == pytest.approx(2.0)
    assert problem.best_plan().expected_cost_of_repair == pytest.approx(7 / 4)
    assert value_of_information(problem, [question])[0].expected_total_cost > problem.best_plan().expected_cost_of_repair
    assert cost_of_repair_first(problem, [0], [question]) == pytest.approx(7 / 4)


def test_tests_that_stop_at_the_first_failure() -> None:
    """Textbook exercise, no answer printed; reference by enumeration: Y Z X costs 91.6371, the worst order X Z Y 99.105.

    One way to be broken with independent chances to find it; nothing ends it but the tests, so the shop is taken off.
    """
    chance, cost, mass = np.array([[0.125, 0.075, 0.140]]), w.vector(51.75, 2.00, 52.40), w.vector(1)
    costs = {order: sequence_cost(order, mass, chance, cost) for order in itertools.permutations(range(3))}
    assert costs[1, 2, 0] == pytest.approx(min(costs.values())) == pytest.approx(91.6371, abs=5e-5)
    assert costs[0, 2, 1] == pytest.approx(max(costs.values())) == pytest.approx(99.105, abs=5e-4)
    assert best_plan(mass, chance, cost, w.DEAR).fixes == (1, 2, 0)
