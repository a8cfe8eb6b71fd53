"""Answers that do not go together: measured against plain sums, silent when all is well, and naming the odd one out."""

from __future__ import annotations

import math
import random

import pytest

import small
from diagnosis.belief.random_base import random_evidence, random_knowledge
from diagnosis.belief.reference import likelihood, priors, target_of, unlisted_likelihood
from nopost.diagnosis.belief.evidence import Evidence, Observations, Report
from nopost.diagnosis.belief.explanation import conflict_measure
from nopost.diagnosis.belief.posterior import BeliefModel, as_reports
from nopost.diagnosis.diagnose import Diagnostician
from nopost.knowledge.model import Combine, Knowledge


def chance(knowledge: Knowledge, reports: list[Report]) -> float:
    """P(these answers)."""
    share = knowledge.base.unlisted_share
    listed = sum(p * likelihood(knowledge, reports, present) for present, p in priors(knowledge).items())
    return (1 - share) * listed + share * unlisted_likelihood(knowledge, Evidence(tuple(reports)))


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(40))
def test_conflict_is_apart_over_together(seed: int) -> None:
    """log2 of the product of each answer's chance over the chance of all; the one named lowers it most when left out."""
    knowledge = random_knowledge(seed)
    evidence = random_evidence(random.Random(seed), knowledge, reports=5)
    groups: dict[str, list[Report]] = {}
    for report in evidence.reports:
        groups.setdefault(target_of(knowledge, report.finding).id, []).append(report)

    def bits(kept: list[list[Report]]) -> float:
        together = chance(knowledge, [r for group in kept for r in group])
        return math.log2(math.prod(chance(knowledge, group) for group in kept) / together)

    found = conflict_measure(BeliefModel(knowledge), evidence)
    assert found is not None
    without = {name: bits([g for other, g in groups.items() if other != name]) for name in groups}
    assert found.bits == pytest.approx(bits(list(groups.values())), abs=1e-9)
    assert found.bits_without == pytest.approx(min(without.values()), abs=1e-9)
    assert without[target_of(knowledge, found.finding).id] == pytest.approx(found.bits_without, abs=1e-9)


def five_signs() -> Knowledge:
    """Four causes, each with five signs of its own."""
    signs = [small.finding(f"sign{k}", dict.fromkeys("abcd", 0.25), Combine.EITHER) for k in range(5)]
    causes = [
        small.cause(name, 25, {s.id: {a: 0.85 if a == name else 0.05 for a in "abcd"} for s in signs}, {"fix": 0.9})
        for name in "abcd"
    ]
    return small.knowledge(signs, causes, [small.fix("fix", 5)])


@pytest.mark.parametrize("cause", "abcd")
def test_signs_of_one_cause_are_no_conflict(cause: str) -> None:
    """They are likelier together than apart."""
    diagnostician = Diagnostician(five_signs())
    reports = as_reports({f"sign{k}": cause for k in range(5)})
    found = conflict_measure(diagnostician.model, Evidence(reports))
    assert found is not None
    assert found.bits < 0
    assert diagnostician.assess(Observations(reports)).conflict is None


@pytest.mark.parametrize("planted", range(5))
@pytest.mark.parametrize("cause", "abcd")
def test_planted_contradiction_is_named(cause: str, planted: int) -> None:
    """Four signs of one cause and one of another."""
    other = "abcd"[("abcd".index(cause) + 1) % 4]
    reports = as_reports({f"sign{k}": other if k == planted else cause for k in range(5)})
    found = conflict_measure(BeliefModel(five_signs()), Evidence(reports))
    assert found is not None
    assert (found.finding, found.answer) == (f"sign{planted}", other)
    assert found.bits_without < found.bits


def test_grave_contradiction_is_shown() -> None:
    """A sign that is certain of its cause against three others: the assessment says which one to check again."""
    knowledge = five_signs()
    sure = small.finding("sure", {"no": 0.9998, "yes": 0.0002}, misreport=0.001)
    shows = {name: dict(c.shows) for name, c in knowledge.causes.items()}
    shows["b"]["sure"] = {"no": 0.01, "yes": 0.99}
    causes = [small.cause(name, 25, shows[name], {"fix": 0.9}) for name in shows]
    base = small.base(two_faults=0.001, unlisted=0.001)
    whole = small.knowledge([*knowledge.findings.values(), sure], causes, [small.fix("fix", 5)], base_=base)
    reports = as_reports({**{f"sign{k}": "a" for k in range(3)}, "sure": "yes"})
    conflict = Diagnostician(whole).assess(Observations(reports)).conflict
    assert conflict is not None
    assert (conflict.finding, conflict.answer) == ("sure", "yes")
    assert conflict.bits > 3


def test_one_answer_cannot_contradict_itself() -> None:
    """Nor can two instruments that read the same thing: they are one answer."""
    model = BeliefModel(five_signs())
    assert conflict_measure(model, Evidence()) is None
    assert conflict_measure(model, Evidence((Report("sign0", "a"),))) is None


def likeliest_answers(model: BeliefModel, cause: str) -> dict[str, str]:
    """Of what the cause shows, and of all above it, the likeliest answer given the likeliest of the parent."""
    place = model.cause_index[cause]
    found: dict[str, str] = {}
    for name in model.forest.with_ancestors(model.knowledge.causes[cause].shows):
        parent = model.forest.parent[name]
        row = model.true_answers_of_single_causes(name)[place]
        if parent:
            row = model.forest.conditional_of_single_causes(name)[place][model.answer_index[parent][found[parent]]]
        found[name] = model.knowledge.findings[name].answer_ids[int(row.argmax())]
    return found


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(3))
def test_shipped_causes_seen_as_they_are(diagnostician: Diagnostician, seed: int) -> None:
    """The likeliest answers of each shipped cause, each given its parent's, are no conflict with some of them left out."""
    rng = random.Random(seed)
    for cause in diagnostician.knowledge.causes.values():
        answers = {}
        for name, answer in sorted(likeliest_answers(diagnostician.model, cause.id).items()):
            finding = diagnostician.knowledge.findings[name]
            if name in cause.shows and finding.combine is not Combine.HISTORY and rng.random() < 0.7:
                answers[name] = answer
        found = diagnostician._conflict(Evidence(as_reports(answers)))
        assert found is None, (cause.id, found)
