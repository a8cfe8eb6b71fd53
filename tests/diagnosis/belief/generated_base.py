"""Generated knowledge bases of any size, the same for the same seed, and machines that answer as they say."""

from __future__ import annotations

import random
from collections.abc import Sequence
from functools import cache

import small
from diagnosis.belief.random_base import pushed, row
from diagnosis.belief.reference import sampled_reports, target_of
from nopost.diagnosis.belief.evidence import Evidence
from nopost.knowledge.model import Cause, Combine, Finding, Knowledge

SHOWN = 8
"""Findings that a cause shows, as in the shipped base about."""
KINDS = (Combine.GRADED, Combine.GRADED, Combine.GRADED, Combine.HISTORY, Combine.EITHER)
FIXES_PER_CAUSE = 0.7


@cache
def generated(causes: int, findings: int, seed: int) -> Knowledge:
    """A base of this size: weights over three decades, every cause shows a few findings and is mended by one to three fixes."""
    rng = random.Random(f"{causes} {findings} {seed}")
    asked = [_finding(rng, f"f{k:04d}") for k in range(findings)]
    actions = [small.fix(f"fix{k:04d}", rng.uniform(1, 40)) for k in range(max(2, int(causes * FIXES_PER_CAUSE)))]
    made = [_cause(rng, f"c{k:04d}", asked, [a.id for a in actions]) for k in range(causes)]
    return small.knowledge(asked, made, actions, base_=small.base(shop=220.0))


def _finding(rng: random.Random, name: str) -> Finding:
    kind = rng.choice(KINDS)
    answers = [f"a{n}" for n in range(rng.randint(2, 4))]
    baseline = row(rng, answers[::-1], zero=0.0)
    usual = dict(sorted(baseline.items(), key=lambda pair: pair[0]))
    return small.finding(name, usual, kind, misreport=0.03, cost=rng.choice((0.5, 1.0, 2.0, 5.0, 15.0)))


def _cause(rng: random.Random, name: str, findings: Sequence[Finding], fixes: Sequence[str]) -> Cause:
    shows = {f.id: _shown(rng, f) for f in rng.sample(findings, min(SHOWN, len(findings)))}
    mends = {fix: rng.uniform(0.5, 0.98) for fix in rng.sample(fixes, min(len(fixes), rng.randint(1, 3)))}
    return small.cause(name, 10 ** rng.uniform(0, 3), shows, mends, alone=rng.random() < 0.1)


def _shown(rng: random.Random, finding: Finding) -> dict[str, float]:
    if finding.combine is Combine.GRADED:
        return pushed(rng, finding.baseline)
    if finding.combine is Combine.EITHER:
        return row(rng, finding.answer_ids, zero=0.0)
    return {a: rng.choice((0.2, 1.0, 5.0)) for a in finding.answer_ids}


def sampled_evidence(knowledge: Knowledge, count: int, seed: int) -> Evidence:
    """Reports about a random machine with one cause: half of them of findings that it affects, the others of any."""
    rng = random.Random(f"told {seed}")
    causes = list(knowledge.causes.values())
    cause = rng.choices(causes, [c.weight for c in causes])[0]
    touched = [n for n, f in knowledge.findings.items() if f.question and target_of(knowledge, n).id in cause.shows]
    own = rng.sample(touched, min(len(touched), (count + 1) // 2))
    rest = [n for n, f in knowledge.findings.items() if f.question and n not in own]
    names = own + rng.sample(rest, min(len(rest), count - len(own)))
    return Evidence(tuple(sampled_reports(random.Random(rng.random()), knowledge, frozenset({cause.id}), names)))
