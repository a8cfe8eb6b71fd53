"""Which steps a hazard threatens by its own `applies`: words, tools, parts, power, and all of them together."""

from __future__ import annotations

from pathlib import Path

import pytest

from nopost.linting.runner import lint, only_codes

HAZARD = """
id: wind
title: Wind
caution: Shut the window.
source: judgement
applies:
"""
STEPS = {"actions/measure", "actions/push-plug", "actions/swap-supply", "findings/fan", "findings/voltage"}


def threatened(kb: Path, applies: str) -> set[str]:
    """The steps that are told to name it."""
    (kb / "hazards" / "wind.yaml").write_text(f"{HAZARD}{applies}\n", encoding="utf-8")
    found = only_codes(lint(kb), ["no-caution"])
    assert found.complete
    assert all("no caution wind" in problem.message for problem in found.problems)
    return {problem.path.removesuffix(".yaml") for problem in found.problems}


@pytest.mark.parametrize(
    ("applies", "steps"),
    [
        ("  - words: [push]", {"actions/push-plug"}),
        ("  - words: [pus]", set()),
        ('  - words: ["pus*"]', {"actions/push-plug"}),
        ("  - words: [PUSH  IT in]", {"actions/push-plug"}),
        ("  - words: [large fan, another supply]", {"findings/fan", "actions/swap-supply"}),
        ("  - needs: [meter]", {"actions/measure"}),
        ("  - {needs: [meter], powered: false}", set()),
        ("  - {needs: [meter], powered: true}", {"actions/measure"}),
        ("  - {parts: [person]}", {"findings/moved"}),
        ("  - {parts: [person], words: [plug]}", set()),
        ("  - {words: [push]}\n  - {needs: [meter]}", {"actions/push-plug", "actions/measure"}),
    ],
)
def test_applies(tidy_kb: Path, applies: str, steps: set[str]) -> None:
    """An entry holds when each of its keys does; any entry will do."""
    assert threatened(tidy_kb, applies) == steps


def test_a_test_says_it_for_its_question(tidy_kb: Path) -> None:
    """The cautions of a test are shown with its question, which need not name them again; else both must."""
    path = tidy_kb / "findings" / "voltage.yaml"
    path.write_text(path.read_text(encoding="utf-8") + "look: Hold the meter still.\n", encoding="utf-8")
    applies = "  - words: [hold the meter]"
    assert threatened(tidy_kb, applies) == {"actions/measure", "findings/voltage"}
    action = tidy_kb / "actions" / "measure.yaml"
    action.write_text(action.read_text(encoding="utf-8").replace("[shock]", "[shock, wind]"), encoding="utf-8")
    assert threatened(tidy_kb, applies) == set()


@pytest.mark.parametrize("key", ["needs", "parts"])
def test_a_name_that_leads_nowhere(tidy_kb: Path, key: str) -> None:
    """Tools and parts in `applies` are checked like all names."""
    (tidy_kb / "hazards" / "wind.yaml").write_text(f"{HAZARD}  - {key}: [hammer]\n", encoding="utf-8")
    found = lint(tidy_kb)
    assert [(problem.code, problem.line) for problem in found.problems] == [("unknown-name", 7)]
