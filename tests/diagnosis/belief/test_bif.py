"""The exported network: pyAgrum, a general-purpose reference library, reads it and finds the same posteriors."""

from __future__ import annotations

import random
from pathlib import Path
from typing import Any

import pytest

from diagnosis.belief.networks import gum
from diagnosis.belief.random_base import random_forest, random_knowledge
from nopost.diagnosis.belief.bif import bif_lines, bif_word
from nopost.diagnosis.belief.evidence import Evidence
from nopost.diagnosis.belief.posterior import BeliefModel, as_reports
from nopost.knowledge.model import Knowledge
from nopost.loading import load_knowledge

CLOSE = 1e-6
"""The library reads the numbers of this format in single precision (7 digits)."""


def loaded(knowledge: Knowledge, folder: Path) -> Any:
    """The file as pyAgrum reads it."""
    path = folder / "network.bif"
    path.write_text("\n".join(bif_lines(knowledge)), encoding="ascii")
    return gum.loadBN(str(path))


def by_library(net: Any, knowledge: Knowledge, answers: dict[str, str]) -> dict[str, float]:
    """P(cause | answers) by pyAgrum."""
    inference = gum.LazyPropagation(net)
    inference.setEvidence({bif_word(finding): bif_word(answer) for finding, answer in answers.items()})
    inference.makeInference()
    nodes = {name: f"cause_{bif_word(name)}" for name in knowledge.causes}
    return {name: float(inference.posterior(node)[{node: "yes"}]) for name, node in nodes.items()}


def by_us(knowledge: Knowledge, answers: dict[str, str]) -> dict[str, float]:
    """P(cause | answers) by the project."""
    model = BeliefModel(knowledge)
    marginals = model.hypotheses.marginals(model.posterior(Evidence(as_reports(answers))))
    return dict(zip(model.hypotheses.causes, map(float, marginals), strict=True))


def some_answers(knowledge: Knowledge, rng: random.Random, count: int) -> dict[str, str]:
    """Answers drawn blindly."""
    names = rng.sample(sorted(knowledge.findings), min(count, len(knowledge.findings)))
    return {name: rng.choice(knowledge.findings[name].answer_ids) for name in names}


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(25))
def test_random_bases(seed: int, tmp_path: Path) -> None:
    """Findings of every kind, pairs, causes that come alone, instruments."""
    knowledge = random_knowledge(seed)
    net = loaded(knowledge, tmp_path)
    for count in (0, 1, 3):
        answers = some_answers(knowledge, random.Random(seed), count)
        assert by_us(knowledge, answers) == pytest.approx(by_library(net, knowledge, answers), abs=CLOSE)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(15))
def test_random_forests(seed: int, tmp_path: Path) -> None:
    """Findings with parents, instruments of instruments, tables that causes give outright."""
    knowledge = random_forest(seed)
    net = loaded(knowledge, tmp_path)
    for count in (1, 4):
        answers = some_answers(knowledge, random.Random(seed), count)
        assert by_us(knowledge, answers) == pytest.approx(by_library(net, knowledge, answers), abs=CLOSE)


@pytest.mark.slow
def test_shipped_base(tmp_path: Path) -> None:
    """The whole shipped knowledge, with the answers of a worked case."""
    knowledge = load_knowledge()
    answers = {"response": "runs", "screen": "no-signal", "beeps": "silent", "board-look": "scratched-or-part-missing"}
    assert by_us(knowledge, answers) == pytest.approx(by_library(loaded(knowledge, tmp_path), knowledge, answers), abs=CLOSE)


@pytest.mark.parametrize(("text", "expected"), [("a-b", "a_b"), ("1-3-1", "n1_3_1"), ("Why a PC", "Why_a_PC"), ("", "_")])
def test_words(text: str, expected: str) -> None:
    """Letters, digits and underscores, never a digit first."""
    assert bif_word(text) == expected
