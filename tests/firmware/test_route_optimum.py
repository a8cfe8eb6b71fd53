"""Routes on random small boards against every route there is."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.route_boards import BUTTON_MINUTES, HAZARDS, WAYS, as_cost, board, cpu, dominates, front, release, running
from nopost.firmware.route.moves import Prices, refusals
from nopost.firmware.route.route_plan import make_plan, missing_items
from nopost.firmware.route.route_search import CRITERIA, routes
from nopost.firmware.route.task import RouteTask, Way, make_task
from nopost.knowledge.model import Effort

FAMILIES = ("a", "b", "c")
FEW = st.lists(st.sampled_from(FAMILIES), max_size=2, unique=True).map(tuple)


@st.composite
def tasks(draw: st.DrawFn) -> RouteTask:
    """A board of one to four releases with everything that a record can ask for, and someone's things at hand."""
    count = draw(st.integers(1, 4))
    found = []
    for index in range(count):
        earlier = st.sampled_from(["", *(str(each) for each in range(index))])
        more = {"requires": draw(earlier), "accepts_from": draw(earlier), "one_way": draw(st.booleans())}
        found.append(release(str(index), adds=draw(FEW), drops=draw(FEW), **more))
    flags = {name: draw(st.booleans()) for name in ("button", "second_chip", "recovery_block", "socketed_chip")}
    target = cpu("target", draw(st.sampled_from(FAMILIES)))
    fitted = draw(st.sampled_from([None, target, *(cpu(f"own-{name}", name) for name in FAMILIES)]))
    at = st.integers(0, count - 1).map(str)
    return make_task(
        board(tuple(found), draw(FEW), **flags),
        draw(at),
        target,
        fitted,
        draw(st.lists(st.sampled_from(FAMILIES), max_size=1)),
        draw(st.lists(st.sampled_from(["stick", "second-machine"]), unique=True)),
        draw(st.one_of(st.just(""), at)),
        draw(st.one_of(st.just(""), at)),
        draw(st.lists(st.sampled_from(list(Way)), max_size=4, unique=True)),
    )


PRICES = st.builds(
    Prices,
    st.sampled_from([0.1, 0.4, 3.0]),
    st.just(WAYS),
    st.just(BUTTON_MINUTES),
    st.builds(Effort, st.integers(0, 20), st.integers(0, 9)),
    st.builds(Effort, st.integers(0, 40)),
    st.builds(Effort, st.integers(0, 200), st.integers(0, 90), st.integers(0, 9)),
    st.just(HAZARDS),
)


@pytest.mark.slow
@given(tasks(), PRICES)
def test_search_equals_brute_force(task: RouteTask, prices: Prices) -> None:
    """A route is found when there is one; the first is the cheapest; each criterion's least is there; none is beaten."""
    best, found = front(task, prices), routes(task, prices)
    assert bool(found) == bool(best)
    if not found:
        return
    assert found[0].effort.cost(prices.minute_rate) == pytest.approx(min(Effort(*each).cost(prices.minute_rate) for each in best))
    for place, criterion in enumerate(CRITERIA):
        holders = [route for route in found if criterion in route.best_in]
        assert [as_cost(route.effort)[place] for route in holders] == [min(each[place] for each in best)]
    for route in found:
        assert not any(dominates(each, as_cost(route.effort)) for each in best)
    assert all(route.best_in for route in found[1:])


@pytest.mark.slow
@given(tasks(), PRICES)
def test_no_route_leaves_the_machine_dead(task: RouteTask, prices: Prices) -> None:
    """A step that stops a running machine is mended by the very next one, and nothing older is written past a one-way release."""
    for route in routes(task, prices):
        states = [task.start, *(move.after for move in route.moves)]
        alive = [running(task, state) for state in states]
        for index, state in enumerate(states[1:], 1):
            assert alive[index] or not alive[index - 1] or alive[index + 1]
            passed = task.board.releases[state.release + 1 : states[index - 1].release + 1]
            assert route.moves[index - 1].way is Way.SECOND or not any(each.one_way for each in passed)
        assert task.done(states[-1])


@pytest.mark.slow
@given(tasks(), PRICES)
def test_everything_has_a_reason(task: RouteTask, prices: Prices) -> None:
    """Each refused move says why; without a route something is missing, with one nothing is."""
    assert all(each.reason and each.targets for each in refusals(task, [task.start]))
    plan = make_plan(task, prices)
    assert bool(plan.missing) == (not plan.routes)
    assert all(each.what and each.ways for each in missing_items(task, prices))
    for step in plan.steps:
        assert all((step.before, step.action, step.see, step.after, step.wrong, step.hazards))
