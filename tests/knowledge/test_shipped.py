"""The shipped knowledge base: whole, large enough, and explained."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pytest

from nopost.files import data_dir
from nopost.knowledge.model import Knowledge
from nopost.linting.runner import examine


def test_it_has_no_problems() -> None:
    """Not even a warning."""
    assert [str(problem) for problem in examine(data_dir("kb"))[1]] == []


@pytest.mark.slow
def test_it_is_large_enough(knowledge: Knowledge) -> None:
    """It covers what can stop a PC from starting."""
    least = {"causes": 40, "findings": 60, "actions": 45, "rules": 80}
    assert {folder: len(getattr(knowledge, folder)) for folder in least if len(getattr(knowledge, folder)) < least[folder]} == {}


def test_every_question_says_how_to_look(knowledge: Knowledge) -> None:
    """For someone who never did it."""
    assert [f.id for f in knowledge.findings.values() if f.question and not f.look.strip()] == []


def test_every_number_has_a_source(knowledge: Knowledge) -> None:
    """For each cause: its weight, what it shows, its fixes and what is seen after them; one for every other item and coupling."""
    for cause in knowledge.causes.values():
        wanted = {"weight", "shows", "fixes"} | ({"changes"} if cause.changes else set())
        assert {k for k, text in cause.source.items() if text.strip()} == wanted, cause.id
    assert all(coupling.source.strip() and coupling.because.strip() for coupling in knowledge.base.coupled)
    for items in (knowledge.findings, knowledge.actions, knowledge.rules, knowledge.hazards):
        kept: Mapping[str, Any] = items
        assert [name for name, item in kept.items() if not item.source.strip()] == []
