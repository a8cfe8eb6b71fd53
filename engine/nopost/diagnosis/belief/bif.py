"""The Bayesian network of a knowledge base in the format BIF 0.15 (Cozman 1998, "The Interchange Format for Bayesian Networks").

The node `the_fault` has the hypotheses as its states: each cause alone, each pair, and unlisted. A yes/no node for each cause
says whether it is present. Each finding has a node for its true answer and, under its own id, one for the reported answer. The
true answer depends on the fault and, where the finding has a parent, on the parent's true answer; that of an instrument depends
on the true answer of what it reads alone. So the posterior of every cause before any
rule and any repair is the same as this program's.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from nopost.diagnosis.belief.finding_node import HypothesisRows
from nopost.diagnosis.belief.hypotheses import Floats
from nopost.diagnosis.belief.posterior import BeliefModel
from nopost.knowledge.model import Knowledge

FAULT = "the_fault"
UNLISTED = "unlisted"
STATES = ("no", "yes")
DIGITS = 12
"""Significant digits of a number; the error of rounding is far below 1e-9."""


def bif_lines(knowledge: Knowledge) -> Iterator[str]:
    """The lines of the file. Names are ids with `_` for `-`, after `cause_` for a cause and `true_` for a true answer."""
    model = BeliefModel(knowledge)
    yield f"network {bif_word(knowledge.base.name)} {{\n  property edition {bif_word(knowledge.base.edition)} ;\n}}"
    yield from _variable(FAULT, fault_states(model))
    yield from _root(FAULT, np.exp(model.hypotheses.log_prior))
    for k, cause in enumerate(model.hypotheses.causes):
        present = model.hypotheses.members[:, k]
        name = f"cause_{bif_word(cause)}"
        yield from _variable(name, STATES)
        yield from _child(name, FAULT, fault_states(model), np.stack([1 - present, present], axis=1))
    yield from _findings(knowledge, model)


def fault_states(model: BeliefModel) -> tuple[str, ...]:
    """Names of the hypotheses in order: a cause, two causes joined by `__`, or unlisted."""
    hypotheses = model.hypotheses
    names = [bif_word(cause) for cause in hypotheses.causes]
    pairs = zip(hypotheses.first[hypotheses.pairs], hypotheses.second[hypotheses.pairs], strict=True)
    return (*names, *(f"{names[i]}__{names[j]}" for i, j in pairs), UNLISTED)


def bif_word(text: str) -> str:
    """A word of the format: ASCII letters, digits and `_`, not beginning with a digit. Other characters become `_`."""
    kept = "".join(c if c.isascii() and c.isalnum() else "_" for c in text) or "_"
    return f"n{kept}" if kept[0].isdigit() else kept


def _findings(knowledge: Knowledge, model: BeliefModel) -> Iterator[str]:
    faults = fault_states(model)
    for name in model.forest.with_ancestors(knowledge.findings):
        finding, true = knowledge.findings[name], _true(name)
        yield from _variable(true, _answers(knowledge, name))
        parent = finding.parent_finding
        if not parent:
            yield from _child(true, FAULT, faults, model.true_answer_tables[name])
        elif finding.reads:
            table = model.forest.conditional_of_single_causes(name)[0]
            yield from _child(true, _true(parent), _answers(knowledge, parent), table)
        else:
            rows = model.forest.conditional(name, HypothesisRows.of(model.hypotheses))
            yield from _child_of_two(true, (FAULT, _true(parent)), (faults, _answers(knowledge, parent)), rows)
        yield from _variable(bif_word(name), _answers(knowledge, name))
        yield from _child(bif_word(name), true, _answers(knowledge, name), model.misreports(name))


def _true(finding: str) -> str:
    """The node of the true answer."""
    return f"true_{bif_word(finding)}"


def _answers(knowledge: Knowledge, finding: str) -> tuple[str, ...]:
    return tuple(bif_word(answer) for answer in knowledge.findings[finding].answer_ids)


def _variable(name: str, states: Sequence[str]) -> Iterator[str]:
    yield f"variable {name} {{\n  type discrete [ {len(states)} ] {{ {', '.join(states)} }};\n}}"


def _root(name: str, distribution: Floats) -> Iterator[str]:
    """The (states,) distribution of a node without a parent."""
    yield f"probability ( {name} ) {{\n  table {_numbers(distribution)} ;\n}}"


def _child(name: str, parent: str, parent_states: Sequence[str], table: Floats) -> Iterator[str]:
    """The (states of the parent, states) table of a node with one parent."""
    yield f"probability ( {name} | {parent} ) {{"
    texts: dict[bytes, str] = {}  # most hypotheses have one and the same row
    for state, distribution in zip(parent_states, table, strict=True):
        row = distribution.tobytes()
        if row not in texts:
            texts[row] = _numbers(distribution)
        yield f"  ( {state} ) {texts[row]} ;"
    yield "}"


def _child_of_two(
    name: str, parents: tuple[str, str], states: tuple[Sequence[str], Sequence[str]], table: Floats
) -> Iterator[str]:
    """The (states of the first parent, states of the second, states) table of a node with two parents."""
    yield f"probability ( {name} | {', '.join(parents)} ) {{"
    for first, rows in zip(states[0], table, strict=True):
        for second, distribution in zip(states[1], rows, strict=True):
            yield f"  ( {first}, {second} ) {_numbers(distribution)} ;"
    yield "}"


def _numbers(distribution: Floats) -> str:
    return ", ".join(f"{value:.{DIGITS}g}" for value in (distribution / distribution.sum()).tolist())
