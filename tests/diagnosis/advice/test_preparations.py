"""Cost clusters and postponed tests: reference values of small instances, by the engine's own code.

No numeric example was found in print (Langseth & Jensen 2001; Ottosen & Jensen 2010, UAI and TR 10-001). The values are those of
../shared/facts/troubleshooting_examples.csv (ids in the tests), found there by exhaustive search over the model of these papers.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from nopost.diagnosis.advice.preparations import Preparations, RepairCosts
from nopost.diagnosis.advice.promising_fixes import greedy_cost
from nopost.diagnosis.advice.repair import best_plan, exact_cost, sequence_cost

NEVER = 1e6
"""Cost of a last resort that nothing is left for."""


def clusters(
    own: Sequence[float],
    places: Sequence[Sequence[int]],
    opening: Sequence[float],
    *,
    stays: bool = True,
    trial: float = 0.0,
) -> RepairCosts:
    """`own`: of each action; `places`: the clusters that each needs; `opening`: of each cluster."""
    place = np.zeros((len(own), len(opening)))
    for action, needed in enumerate(places):
        place[action, list(needed)] = 1.0
    preparations = Preparations(np.array(opening, dtype=float), np.full(len(opening), stays))
    return RepairCosts(np.array(own, dtype=float), np.full(len(own), NEVER), place, preparations, trial)


FLAT_P = np.array([0.25, 0.30, 0.35, 0.10])
A1, A2, A3, A4 = range(4)


def flat(opening: float, *, stays: bool = True) -> RepairCosts:
    """cl_flat: A2 and A3 in cluster K."""
    return clusters([5, 4, 5, 10], [[], [0], [0], []], [opening], stays=stays)


@pytest.mark.parametrize(
    ("order", "cost"),
    [([A1, A2, A3, A4], 15.75), ([A2, A3, A1, A4], 16.25), ([A1, A4, A2, A3], 20.75), ([A1, A3, A2, A4], 15.85)],
)
def test_orders_of_a_flat_cluster(order: list[int], cost: float) -> None:
    """cl_flat_order1 to cl_flat_order4."""
    assert sequence_cost([[a] for a in order], FLAT_P, np.eye(4), flat(6)) == pytest.approx(cost)


@pytest.mark.parametrize(("opening", "least"), [(0, 10.25), (1, 11.25), (3, 13.25), (6, 15.75), (10, 18.75), (20, 26.25)])
def test_the_best_order_of_a_flat_cluster(opening: float, least: float) -> None:
    """cl_flat_sweep; from an opening of 6 on A1 comes before the cluster."""
    plan = best_plan(FLAT_P, np.eye(4), flat(opening), np.zeros(1))
    assert plan.expected_cost_of_repair == pytest.approx(least)
    assert plan.fixes == ((A1, A2, A3, A4) if opening >= 6 else (A2, A3, A1, A4)) or opening in {0, 3}


def test_an_open_cluster_is_not_paid_again() -> None:
    """With K open already its best order is that of an opening of 0: cl_flat_sweep."""
    assert best_plan(FLAT_P, np.eye(4), flat(6), np.ones(1)).expected_cost_of_repair == pytest.approx(10.25)


def test_two_clusters() -> None:
    """cl_two_opt 12.00, cl_two_plain 13.90, cl_two_other 14.00 and 13.30. Order of the actions: A B C D E."""
    mass = np.array([0.10, 0.40, 0.05, 0.25, 0.20])
    costs = clusters([1, 2, 1, 3, 3], [[], [0], [0], [1], [1]], [8, 2])
    plan = best_plan(mass, np.eye(5), costs, np.zeros(2))
    assert plan.expected_cost_of_repair == pytest.approx(12.00)
    assert plan.fixes == (0, 3, 4, 1, 2)
    for order, cost in (([1, 0, 3, 4, 2], 13.90), ([1, 2, 0, 3, 4], 14.00), ([0, 1, 3, 4, 2], 13.30)):
        assert sequence_cost([[a] for a in order], mass, np.eye(5), costs) == pytest.approx(cost)


def test_a_tree_of_clusters() -> None:
    """cl_tree_opt 15.41, cl_tree_plain 16.05, cl_tree_other 16.51 and 20.75. Order of the actions: A B C D E F G."""
    mass = np.array([0.20, 0.05, 0.15, 0.10, 0.30, 0.08, 0.12])
    costs = clusters([2, 4, 2, 5, 3, 1, 2], [[], [], [0], [0], [0, 1], [0, 1], [2]], [5, 4, 6])
    plan = best_plan(mass, np.eye(7), costs, np.zeros(3))
    assert plan.expected_cost_of_repair == pytest.approx(15.41)
    assert plan.fixes == (0, 2, 4, 5, 3, 6, 1)
    for order, cost in (([0, 4, 5, 2, 6, 3, 1], 16.05), ([0, 2, 3, 4, 5, 6, 1], 16.51), ([0, 1, 6, 2, 3, 4, 5], 20.75)):
        assert sequence_cost([[a] for a in order], mass, np.eye(7), costs) == pytest.approx(cost)


@pytest.mark.parametrize(("setup", "least"), [(0, 10.25), (1, 11.95), (2, 13.65), (3, 14.75), (6, 17.25), (10, 20.25)])
def test_closing_before_each_test(setup: float, least: float) -> None:
    """cl_noinside_sweep: what does not stay is paid at each visit, so from 3 on both actions of the cluster go into one visit."""
    plan = best_plan(FLAT_P, np.eye(4), flat(setup, stays=False), np.zeros(1))
    assert plan.expected_cost_of_repair == pytest.approx(least)
    assert ({A2, A3} in [set(block) for block in plan.blocks]) == (setup >= 3)


@pytest.mark.parametrize(("test", "least"), [(0, 4.10), (1, 6.25), (3, 9.30), (6, 13.20), (20, 28.00)])
def test_postponed_tests(test: float, least: float) -> None:
    """post_t0 to post_t20: the dearer the test, the more actions before it."""
    mass, costs = np.array([0.40, 0.25, 0.20, 0.10, 0.05]), clusters([2, 2, 2, 1, 1], [[]] * 5, [], trial=test)
    plan = best_plan(mass, np.eye(5), costs, np.zeros(0), most=5)
    assert plan.expected_cost_of_repair == pytest.approx(least)
    assert len(plan.blocks) == {0: 5, 1: 5, 3: 3, 6: 2, 20: 1}[int(test)]


def test_cutting_the_order_by_efficiency_is_not_always_best() -> None:
    """post_ce_best 14.75 (A1 + A3, then A2), post_ce_dp 15.80, post_ce_each 19.10."""
    mass, costs = np.array([0.10, 0.25, 0.65]), clusters([1, 3, 8], [[]] * 3, [], trial=4)
    plan = best_plan(mass, np.eye(3), costs, np.zeros(0))
    assert plan.expected_cost_of_repair == pytest.approx(14.75)
    assert [set(block) for block in plan.blocks] == [{0, 2}, {1}]
    for blocks, cost in (([[0, 1], [2]], 15.80), ([[0, 1, 2]], 16.00), ([[0], [1], [2]], 19.10), ([[2], [1], [0]], 14.95)):
        assert sequence_cost(blocks, mass, np.eye(3), costs) == pytest.approx(cost)


@pytest.mark.parametrize("seed", range(20))
def test_what_holds_for_every_cluster(seed: int) -> None:
    """The cost rises with the opening, nothing is paid for what is open, and greed is never below the best plan."""
    rng = np.random.default_rng(seed)
    count = int(rng.integers(2, 7))
    mass, own = rng.dirichlet(np.ones(count)), rng.uniform(1, 10, count)
    places = [[0] if rng.random() < 0.5 else [] for _ in range(count)]
    least = []
    for opening in (0.0, 2.0, 5.0, 9.0):
        costs = clusters(own.tolist(), places, [opening])
        least.append(best_plan(mass, np.eye(count), costs, np.zeros(1)).expected_cost_of_repair)
        rows = np.array([[0.0], [1.0]])
        exact = exact_cost(np.array([mass, mass]), np.eye(count), costs, rows)
        greedy = greedy_cost(np.array([mass, mass]), np.eye(count), costs, rows)
        assert exact[0] == pytest.approx(least[-1])
        assert exact[1] == pytest.approx(least[0])
        assert (greedy >= exact - 1e-9).all()
    assert least == sorted(least)


def test_what_a_look_leaves_ready() -> None:
    """With power on, only what stays, or what the look itself needs, is kept."""
    preparations = Preparations(np.array([3.0, 20.0]), np.array([True, False]))
    both, none, second = np.ones(2), np.zeros(2), np.array([0.0, 1.0])
    assert preparations.missing_cost(both, none) == 23.0
    assert preparations.after_look(none, both, False).tolist() == [1.0, 1.0]
    assert preparations.after_look(none, both, True).tolist() == [1.0, 0.0]
    assert preparations.after_look(second, both, True).tolist() == [1.0, 1.0]
    assert preparations.once_tried(both).tolist() == [1.0, 0.0]
