"""Rules, then belief: how probable each cause is. What an assessment needs before any advice, and all that many logs need."""

from __future__ import annotations

from dataclasses import dataclass

from nopost.diagnosis.belief.evidence import Evidence, Report
from nopost.diagnosis.belief.hypotheses import Floats
from nopost.diagnosis.belief.posterior import BeliefModel
from nopost.diagnosis.observations import Observations
from nopost.diagnosis.rules.engine import RuleEngine
from nopost.diagnosis.rules.inference import DerivedAnswer, Inference
from nopost.knowledge.model import Knowledge


@dataclass(frozen=True)
class Ranked:
    """What the observations make of the causes. `ranking`: (cause, probability), falling; `unlisted`: of none of them."""

    ranking: tuple[tuple[str, float], ...]
    unlisted: float
    inference: Inference
    evidence: Evidence
    posterior: Floats


class Ranker:
    """Rules and belief compiled once for a knowledge base; `rank` has no memory."""

    def __init__(self, knowledge: Knowledge) -> None:
        self.knowledge = knowledge
        self.rules = RuleEngine(knowledge.rules)
        self.model = BeliefModel(knowledge)

    def rank(self, seen: Observations) -> Ranked:
        """Rules, then belief."""
        inference = self.rules.run(seen.current(), seen.facts)
        evidence = self.evidence(seen, inference)
        posterior = self.model.posterior(evidence)
        marginals = self.model.hypotheses.marginals(posterior)
        ranking = sorted(zip(self.model.hypotheses.causes, map(float, marginals), strict=True), key=lambda p: (-p[1], p[0]))
        return Ranked(tuple(ranking), float(posterior[-1]), inference, evidence, posterior)

    def evidence(self, seen: Observations, inference: Inference) -> Evidence:
        """The evidence that the belief counts: reports, failed fixes, and what rules add."""
        derived = [Report(name, d.answer) for name, d in inference.derived.items() if self.counts(name, d)]
        return Evidence(
            reports=(*seen.telling(), *derived),
            failed_repairs=seen.tried,
            rule_weights=tuple((w.cause, w.decibans, w.rule) for w in inference.weights),
            ruled_out=frozenset(inference.ruled_out),
            unchanged=seen.unchanged,
        )

    def counts(self, finding: str, derived: DerivedAnswer) -> bool:
        """A derived answer is evidence of its own only when nothing it rests on is evidence already."""
        return finding in self.model.informative_findings and not (derived.premises & self.model.informative_findings)
