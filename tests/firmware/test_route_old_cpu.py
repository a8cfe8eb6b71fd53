"""The way back over the old CPU: it ran in this board, so the update can be written from setup. Common practice, no source."""

from __future__ import annotations

import pytest

from firmware.route_boards import PRICES, board, cpu, release
from nopost.errors import UnknownNameError
from nopost.firmware.route.moves import prices_of
from nopost.firmware.route.route_plan import make_plan, plan_data
from nopost.firmware.route.task import OLD_CPU, OLD_KEY, Way, make_task
from nopost.knowledge.model import Knowledge

NEW = cpu("new-one", "new")
PLAIN = board((release("1"), release("2", adds=("new",))))
DROPPING = board((release("1"), release("2", drops=("old",)), release("3", adds=("new",), requires="2")))


def test_old_cpu_in_update_new_cpu_in() -> None:
    """Cheaper than to borrow one or to have it written by a workshop."""
    plan = make_plan(make_task(PLAIN, "1", NEW, NEW, [OLD_CPU], ["stick"]), PRICES)
    assert [(step.way, step.to) for step in plan.steps] == [
        (Way.SWAP, OLD_KEY),
        (Way.INSIDE, "2"),
        (Way.SWAP, "new-one"),
    ]
    without = make_plan(make_task(PLAIN, "1", NEW, NEW, (), ["stick"]), PRICES)
    assert plan.routes[0].effort.cost(PRICES.minute_rate) < without.routes[0].effort.cost(PRICES.minute_rate)


def test_a_release_that_drops_a_family_may_drop_the_old_cpu() -> None:
    """Its family is not known, so nothing is written from within once any family was dropped."""
    plan = make_plan(make_task(DROPPING, "1", NEW, NEW, [OLD_CPU], ["stick"], without=(Way.SHOP, Way.BORROW)), PRICES)
    assert plan.routes == ()


def test_nobody_borrows_the_old_cpu() -> None:
    """It is at hand or it is not: no step and no missing thing asks for its family."""
    task = make_task(DROPPING, "1", NEW, NEW, [OLD_CPU], ["stick"], without=(Way.SHOP, Way.BORROW))
    assert OLD_KEY not in task.all_families
    assert all(OLD_KEY not in each.what for each in make_plan(task, PRICES).missing)


def test_without_a_release_the_old_cpu_shows_it(knowledge: Knowledge) -> None:
    """The plan begins with the oldest release, and says what the first look in setup spares."""
    target = knowledge.cpus["kelp-450"]
    task = make_task(knowledge.boards["tb-harbour-m2"], "", target, target, [OLD_CPU], ["stick"])
    plan = make_plan(task, prices_of(knowledge.base))
    assert plan_data(plan)["firmware"] is None
    assert "setup shows the release" in plan.steps[0].before[0]
    told = make_task(knowledge.boards["tb-harbour-m2"], "0.90", target, target, [OLD_CPU], ["stick"])
    assert plan_data(make_plan(told, prices_of(knowledge.base)))["firmware"] == "0.90"
    with pytest.raises(UnknownNameError):
        make_task(knowledge.boards["tb-harbour-m2"], "", target, target)
