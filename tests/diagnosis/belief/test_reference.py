"""The posterior equals the one of pyAgrum, a general-purpose reference library, on independently built networks."""

from __future__ import annotations

import random

import numpy as np
import pytest

import small
from diagnosis.belief.networks import gum, network, one_node
from diagnosis.belief.random_base import part_of, pushed, random_evidence, random_knowledge
from diagnosis.belief.reference import enumerated, own_effect, root_of, sampled_reports
from nopost.diagnosis.belief.evidence import Evidence
from nopost.diagnosis.belief.hypotheses import Floats
from nopost.diagnosis.belief.posterior import BeliefModel
from nopost.knowledge.model import Combine, Knowledge

EXACT = 1e-9
PART = 7


def by_set(model: BeliefModel, posterior: Floats) -> dict[frozenset[str], float]:
    """The posterior by sets of causes; the empty one is the unlisted hypothesis."""
    names = np.array(model.hypotheses.causes)
    return {frozenset(names[row > 0]): float(p) for row, p in zip(model.hypotheses.members, posterior, strict=True)}


def agree(knowledge: Knowledge, evidence: Evidence, chain: bool = False) -> None:
    """The project's marginals and the weight of the unlisted hypothesis are those of the network."""
    model = BeliefModel(knowledge)
    posterior = model.posterior(evidence)
    expected, unlisted = network(knowledge, evidence, chain)
    found = model.hypotheses.marginals(posterior) / posterior[:-1].sum()
    assert dict(zip(model.hypotheses.causes, found, strict=True)) == pytest.approx(expected, abs=EXACT)
    assert posterior[-1] == pytest.approx(unlisted, abs=EXACT)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(70))
def test_random_bases(seed: int) -> None:
    """Random bases with random answers, failed fixes, weights of rules and exclusions."""
    rng = random.Random(1000 + seed)
    knowledge = random_knowledge(seed)
    agree(knowledge, Evidence())
    agree(knowledge, random_evidence(rng, knowledge, reports=6))
    agree(knowledge, random_evidence(rng, knowledge, reports=5, tried=seed % 3, rules=seed % 4))


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(40))
def test_maximum_of_hidden_nodes(seed: int) -> None:
    """Graded findings as hidden effects of the causes and pyAgrum's own maximum nodes (Díez 1993) instead of a table."""
    rng = random.Random(2000 + seed)
    knowledge = random_knowledge(seed, most_causes=4)
    agree(knowledge, random_evidence(rng, knowledge, reports=4), chain=True)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(24))
def test_parts_of_the_shipped_base(knowledge: Knowledge, seed: int) -> None:
    """Six or seven shipped causes with all that they show; one or two of them are there, one fix may have failed."""
    rng = random.Random(3000 + seed)
    part = part_of(knowledge, rng.sample(sorted(knowledge.causes), PART - seed % 2))
    present = frozenset(rng.sample([c.id for c in part.causes.values() if not c.alone], 1 + seed % 2))
    names = rng.sample(sorted(part.findings), min(14, len(part.findings)))
    reports = sampled_reports(rng, part, present, names)
    agree(part, Evidence(tuple(reports)))
    fixes = sorted(a for name in present for a in part.causes[name].fixes)
    # What was told of the past stays valid after a fix; the network has no such link between epochs (`enumerated` has).
    now = [name for name in names if part.findings[root_of(part, name)].combine is not Combine.HISTORY]
    later = sampled_reports(rng, part, present, now[:4], epoch=1)
    weighed = ((sorted(part.causes)[0], 6.0, "r"),)
    agree(part, Evidence((*reports[:6], *later), (rng.choice(fixes),), weighed, frozenset({sorted(part.causes)[-1]} - present)))


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(6))
def test_whole_shipped_base(knowledge: Knowledge, seed: int) -> None:
    """All hypotheses of the shipped base in one node of a network, with a child for each report."""
    rng = random.Random(4000 + seed)
    present = frozenset(rng.sample([c.id for c in knowledge.causes.values() if not c.alone], 1 + seed % 2))
    evidence = Evidence(tuple(sampled_reports(rng, knowledge, present, rng.sample(sorted(knowledge.findings), 12))))
    model = BeliefModel(knowledge)
    posterior = model.posterior(evidence)
    found = by_set(model, posterior)
    unlisted = found.pop(frozenset())
    listed = {present: p / (1 - unlisted) for present, p in found.items()}
    assert len(listed) > 1000
    assert listed == pytest.approx(one_node(knowledge, evidence), abs=EXACT)


@pytest.mark.parametrize("seed", range(30))
def test_networks_and_plain_sums_agree(seed: int) -> None:
    """The two references agree with each other, so neither is the project in disguise."""
    rng = random.Random(5000 + seed)
    knowledge = random_knowledge(seed)
    evidence = random_evidence(rng, knowledge, reports=5, tried=seed % 3, rules=seed % 3)
    sums = enumerated(knowledge, evidence)
    marginals, unlisted = network(knowledge, evidence)
    assert sums[frozenset()] == pytest.approx(unlisted, abs=EXACT)
    for name, expected in marginals.items():
        total = sum(p for present, p in sums.items() if name in present)
        assert total / (1 - unlisted) == pytest.approx(expected, abs=EXACT)


@pytest.mark.parametrize("seed", range(40))
def test_yes_no_findings_are_noisy_or(seed: int) -> None:
    """Two graded answers: pyAgrum's two noisy-OR nodes, with the leak inside (compound) and outside (net) the weights."""
    rng = random.Random(6000 + seed)
    finding = small.finding("e", {"no": 1 - (leak := rng.uniform(0, 0.5)), "yes": leak})
    causes = [small.cause(f"c{k}", 1 + k, {"e": pushed(rng, finding.baseline)}, {}) for k in range(4)]
    inside, outside = gum.BayesNet("inside"), gum.BayesNet("outside")
    inside.addNoisyORCompound(gum.LabelizedVariable("e", "", 2), leak)
    outside.addNoisyORNet(gum.LabelizedVariable("e", "", 2), leak)
    for c in causes:
        for net, weight in ((inside, c.shows["e"]["yes"]), (outside, own_effect(finding, c.shows["e"])[1])):
            net.add(gum.LabelizedVariable(c.id, "", 2))
            net.addWeightedArc(c.id, "e", weight)
    model = BeliefModel(small.knowledge([finding], causes))
    for members, row in zip(model.hypotheses.members[:-1], model.true_answer_tables["e"], strict=False):
        states = {name: int(there) for name, there in zip(model.hypotheses.causes, members, strict=True)}
        assert row[1] == pytest.approx(inside.cpt("e")[states][1], abs=EXACT)
        assert row[1] == pytest.approx(outside.cpt("e")[states][1], abs=EXACT)
