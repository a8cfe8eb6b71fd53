"""The network of a knowledge base in the format BIF 0.15 (Cozman 1998, "The Interchange Format for Bayesian Networks").

One node `the_fault` holds the hypotheses: each cause alone, each pair, and unlisted. A node per cause says whether it is there.
Each finding has a node for what is true and, under its own id, one for what a person reports; an instrument's report hangs on
what it reads. So the posterior of every cause is the same as ours, before any rule and any fix.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from nopost.diagnosis.belief.hypotheses import Floats
from nopost.diagnosis.belief.posterior import BeliefModel
from nopost.knowledge.model import Knowledge

FAULT = "the_fault"
UNLISTED = "unlisted"
STATES = ("no", "yes")
DIGITS = 12
"""Digits of a number; what rounding leaves is far below 1e-9."""


def bif_lines(knowledge: Knowledge) -> Iterator[str]:
    """The file, line by line. Names are the ids with `_` for `-`, after `cause_` for a cause and `true_` for what is true."""
    model = BeliefModel(knowledge)
    yield f"network {word(knowledge.base.name)} {{\n  property edition {word(knowledge.base.edition)} ;\n}}"
    yield from _variable(FAULT, fault_states(model))
    yield from _root(FAULT, np.exp(model.h.log_prior))
    for k, cause in enumerate(model.h.causes):
        there = model.h.members[:, k]
        yield from _variable(f"cause_{word(cause)}", STATES)
        yield from _child(f"cause_{word(cause)}", FAULT, fault_states(model), np.stack([1 - there, there], axis=1))
    yield from _findings(knowledge, model)


def fault_states(model: BeliefModel) -> tuple[str, ...]:
    """Names of the hypotheses: a cause, two causes joined by `__`, or unlisted."""
    names = [word(cause) for cause in model.h.causes]
    pairs = zip(model.h.first[model.h.pairs], model.h.second[model.h.pairs], strict=True)
    return (*names, *(f"{names[i]}__{names[j]}" for i, j in pairs), UNLISTED)


def word(text: str) -> str:
    """A word of the format: letters, digits and `_`, not beginning with a digit."""
    kept = "".join(c if c.isascii() and c.isalnum() else "_" for c in text) or "_"
    return f"n{kept}" if kept[0].isdigit() else kept


def _findings(knowledge: Knowledge, model: BeliefModel) -> Iterator[str]:
    faults = fault_states(model)
    for name, table in model.true.items():
        yield from _variable(f"true_{word(name)}", _answers(knowledge, name))
        yield from _child(f"true_{word(name)}", FAULT, faults, table)
    for name, way in model.channels.items():
        yield from _variable(word(name), _answers(knowledge, name))
        yield from _child(word(name), f"true_{word(way.target)}", _answers(knowledge, way.target), way.matrix)


def _answers(knowledge: Knowledge, finding: str) -> tuple[str, ...]:
    return tuple(word(answer) for answer in knowledge.findings[finding].answer_ids)


def _variable(name: str, states: Sequence[str]) -> Iterator[str]:
    yield f"variable {name} {{\n  type discrete [ {len(states)} ] {{ {', '.join(states)} }};\n}}"


def _root(name: str, row: Floats) -> Iterator[str]:
    yield f"probability ( {name} ) {{\n  table {_numbers(row)} ;\n}}"


def _child(name: str, parent: str, states: Sequence[str], rows: Floats) -> Iterator[str]:
    yield f"probability ( {name} | {parent} ) {{"
    for state, row in zip(states, rows, strict=True):
        yield f"  ( {state} ) {_numbers(row)} ;"
    yield "}"


def _numbers(row: Floats) -> str:
    return ", ".join(f"{value:.{DIGITS}g}" for value in row / row.sum())
