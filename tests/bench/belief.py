"""Posterior and next step on the shipped knowledge base and on generated ones, beside exact inference of pyAgrum."""

from __future__ import annotations

from functools import partial

import numpy as np

from bench.clock import Timing, once, timed
from bench.section import Cell, Options, Section
from diagnosis.belief.generated_base import generated, sampled_evidence
from diagnosis.belief.networks import one_node_network, one_node_posterior
from diagnosis.belief.reference import priors
from nopost.diagnosis.belief.evidence import Evidence, Observations
from nopost.diagnosis.diagnose import Diagnostician
from nopost.knowledge.model import Knowledge
from nopost.loading import load_knowledge

ANSWERS = 10
EXACT = 1e-9
MOST_STATES = 25_000
"""The reference's tables are made one state at a time in Python; above this that takes minutes."""
COLUMNS = (
    "causes × findings",
    "hypotheses",
    "compile ms",
    "posterior ms",
    "spread",
    "pyAgrum ms",
    "ours / pyAgrum",
    "largest difference",
    "next step, no answer ms",
    f"next step, {ANSWERS} answers ms",
    "spread of it",
    "left out",
)


def sections(options: Options) -> list[Section]:
    """The table of sizes."""
    table = Section(f"Posterior and next step, medians of {options.repeats}", COLUMNS)
    table.notes.append(
        "pyAgrum: lazy propagation on a network with one node for all hypotheses, built beforehand; ours: all evidence to all "
        "hypotheses. Largest difference: of any hypothesis's probability (fails the run above 1e-9). Next step: rules, belief "
        "and advice. Left out: probability of what the advice did not look at. Processor time."
    )
    for knowledge in (load_knowledge(), *(generated(c, f, options.seed) for c, f in options.sizes(table.notes))):
        table.rows.append(_row(knowledge, options, table.notes))
    return [table]


def _row(knowledge: Knowledge, options: Options, notes: list[str]) -> tuple[Cell, ...]:
    size = f"{len(knowledge.causes):,} × {len(knowledge.findings):,}"
    assessors: list[Diagnostician] = []
    compiled = Timing((once(lambda: assessors.append(Diagnostician(knowledge))),))
    diagnostician, evidence = assessors[0], sampled_evidence(knowledge, ANSWERS, options.seed)
    posterior = timed(partial(diagnostician.model.posterior, evidence), options.repeats)
    states = len(diagnostician.model.hypotheses.first)
    reference, difference = _reference(diagnostician, evidence, options.repeats) if states <= MOST_STATES else (None, None)
    if reference is None:
        notes.append(f"{size}: no pyAgrum; its {states:,} states × {ANSWERS} tables would be filled one by one in Python.")
    first = timed(partial(diagnostician.assess, Observations()), options.repeats)
    seen = Observations(evidence.reports)
    later = timed(partial(diagnostician.assess, seen), options.repeats)
    return (
        size,
        states,
        compiled.ms,
        posterior.ms,
        posterior.spread,
        reference.ms if reference else None,
        posterior.over(reference) if reference else None,
        difference,
        first.ms,
        later.ms,
        later.spread,
        diagnostician.assess(seen).advice.truncated_mass,
    )


def _reference(diagnostician: Diagnostician, evidence: Evidence, repeats: int) -> tuple[Timing, float]:
    """Time of the network, and the largest difference; raises AssertionError when they are not equal."""
    net, given = one_node_network(diagnostician.knowledge, evidence)
    theirs = np.array(one_node_posterior(net, given))
    ours = diagnostician.model.posterior(evidence)[:-1]
    keys = [
        frozenset({diagnostician.model.hypotheses.causes[c] for c in pair}) for pair in zip(*_members(diagnostician), strict=True)
    ]
    place = {present: k for k, present in enumerate(priors(diagnostician.knowledge))}
    difference = float(np.abs(ours / ours.sum() - theirs[[place[key] for key in keys]]).max())
    assert difference < EXACT, f"posteriors differ by {difference}"
    return timed(partial(one_node_posterior, net, given), repeats), difference


def _members(diagnostician: Diagnostician) -> tuple[list[int], list[int]]:
    h = diagnostician.model.hypotheses
    return h.first[:-1].tolist(), h.second[:-1].tolist()
