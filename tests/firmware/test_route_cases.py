"""The ordering facts of the trade as case files: dropping in a file adds a test. Each says where its fact is from."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from firmware.route_boards import PRICES, board, cpu, release
from nopost.firmware.route.route_plan import FirmwarePlan, make_plan, plan_data
from nopost.firmware.route.task import Way, make_task
from nopost.knowledge.reference_records import Release
from nopost.knowledge.yaml_reader import read_yaml

CASES = sorted((Path(__file__).parent / "route_cases").glob("*.yaml"))


def _release(data: dict[str, Any]) -> Release:
    more = {key: tuple(value) if isinstance(value, list) else value for key, value in data.items() if key != "version"}
    return release(data["version"], **more)


def planned(case: dict[str, Any]) -> FirmwarePlan:
    """The plan for a case; CPUs are called as their families."""
    releases = tuple(_release(each) for each in case["releases"])
    made = board(releases, tuple(case["first_families"]), **case.get("recovery", {}))
    made = replace(made, look_alikes=tuple(case.get("look_alikes", made.look_alikes)))
    start, hand = case["start"], case.get("at_hand", {})
    cpus = {name: cpu(name, name) for name in {start["fitted"], start["target"], *hand.get("donors", ())}}
    return make_plan(
        make_task(
            made,
            start["firmware"],
            cpus[start["target"]],
            cpus[start["fitted"]],
            [cpus[name] for name in hand.get("donors", ())],
            hand.get("tools", ()),
            without=[Way(name) for name in case.get("without", ())],
        ),
        PRICES,
    )


@pytest.mark.parametrize("path", CASES, ids=lambda path: path.stem)
def test_case(path: Path) -> None:
    """Steps in order, and what has to be said."""
    document, problems = read_yaml(path)
    assert problems == []
    case, expect = document.data, document.data["expect"]
    assert case["source"]
    plan = planned(case)
    steps = [(str(step.way), step.to) for step in plan.steps]
    wanted = [tuple(step) for step in expect["steps"]]
    assert [way for way, _ in steps] == [way for way, _ in wanted]
    assert [to for (_, to), (_, named) in zip(steps, wanted, strict=True) if named] == [named for _, named in wanted if named]
    data = plan_data(plan)
    text = str(data)
    for said in expect.get("says", ()):
        assert said in text
    assert {each["kind"] for each in data["missing"]} >= set(expect.get("missing", ()))
    for family in expect.get("families", ()):
        assert family in text
    for to, reason in expect.get("refused", {}).items():
        assert any(to in each["to"] and reason in each["reason"] for each in data["refused"])


def test_the_facts_of_the_trade_are_there() -> None:
    """Chain, jump, donor of one of two families, wrong sibling, dropped support."""
    names = {path.stem for path in CASES}
    assert {"three-step-chain", "one-jump-over-many", "donor-of-first-or-second-family"} <= names
    assert {"wrong-sibling-variant", "dropped-support"} <= names
