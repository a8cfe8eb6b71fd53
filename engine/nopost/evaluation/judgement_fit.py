"""Fit weights and shares to judged situations: penalised likelihood with the present numbers as the prior.

Of a situation the model says m(c) for each cause c and the judgement q(c). Every weight and every share P(answer | cause) of an
answer that was seen gets a factor exp(d), d normally distributed around 0 with a stated spread, so that

    p(c) ∝ m(c) exp(d[c] + sum over the answers seen of d[answer, c]),

and the d are sought that make  sum of -q(c) log p(c)  +  sum of d² / (2 spread²)  least: a multinomial logistic regression with
offsets and a ridge (Hastie, Tibshirani & Friedman 2009, The Elements of Statistical Learning, section 4.4; the ridge as a normal
prior: section 3.4.1). It is convex, so there is one solution. Pairs of causes are counted by their marginals.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nopost.diagnosis.belief.evidence import UNINFORMATIVE_ANSWERS
from nopost.diagnosis.belief.hypotheses import Floats
from nopost.diagnosis.diagnose import Ranker
from nopost.diagnosis.history import case_history
from nopost.diagnosis.replay import replay
from nopost.evaluation.judged_situations import JudgedSituation
from nopost.evaluation.learning import Proposal, ProposedNumber, baseline_row, isotonic_row, shares_in_file, three_digits
from nopost.knowledge.model import Cause, Combine, Finding

SPREAD = 0.3
"""A factor of about 1.35 up or down is one standard deviation of what a judged number may be off (judgement)."""
SOURCE_MARK = "fitted to judged situations"
LEAST_PROBABILITY = 1e-6
"""What the model holds impossible counts as this."""
ITERATIONS = 400
"""Steps of the descent (judgement; a test holds the solution of a small problem to that of another method)."""
LEAST_CHANGE = 0.08
"""Numbers that move by a smaller share than this are left as they are: judgement is not that exact."""


@dataclass(frozen=True)
class JudgementFit:
    """`weights`: (C,) and `shares`: (J, C) logarithms of the factors, for J pairs (finding, answer) `seen` in so many
    `situations`; `before`, `after`: mean Kullback-Leibler divergence of the judgement from the model, in bits."""

    situations: int
    seen: tuple[tuple[str, str], ...]
    weights: Floats
    shares: Floats
    before: float
    after: float


def fit_judgements(ranker: Ranker, situations: Sequence[JudgedSituation], spread: float = SPREAD) -> JudgementFit:
    """The factors that bring the model nearest to the judgement, and how near. `spread`: of the logarithm of a factor."""
    model = np.array([_said(ranker, situation) for situation in situations])
    judged = np.array([_judged(ranker, s, row) for s, row in zip(situations, model, strict=True)])
    seen, shown = _answers_seen(ranker, situations)
    offset = np.log(np.maximum(model, LEAST_PROBABILITY))
    weights, shares = _descend(offset, judged, shown, spread)
    fitted = _softmax(offset + weights + shown @ shares)
    return JudgementFit(
        len(situations), seen, weights[:-1], shares[:, :-1], _divergence(judged, model), _divergence(judged, fitted)
    )


def fitted_numbers(ranker: Ranker, fit: JudgementFit) -> list[Proposal]:
    """The weights and shares that move by a factor worth writing."""
    model = ranker.model
    found = [
        _weight_proposal(model.knowledge.causes[name], float(factor), fit)
        for name, factor in zip(model.hypotheses.causes, np.exp(fit.weights), strict=True)
        if abs(factor - 1) >= LEAST_CHANGE
    ]
    for finding_id in dict.fromkeys(finding for finding, _ in fit.seen):
        finding = model.knowledge.findings[finding_id]
        factors = _factors(fit, finding)
        table = model.answer_likelihood(finding_id).single_cause_table()
        found += [
            _share_proposal(model.knowledge.causes[name], finding, table[column], factors[:, column], fit)
            for column, name in enumerate(model.hypotheses.causes)
            if np.abs(factors[:, column] - 1).max() >= LEAST_CHANGE
        ]
    return found


def _factors(fit: JudgementFit, finding: Finding) -> Floats:
    """(answers, C) the factor of each answer of a finding for each cause; 1 for an answer that no situation has."""
    rows = {answer: k for k, (name, answer) in enumerate(fit.seen) if name == finding.id}
    still = np.ones(len(fit.weights))
    return np.array([np.exp(fit.shares[rows[answer]]) if answer in rows else still for answer in finding.answer_ids])


def _weight_proposal(cause: Cause, factor: float, fit: JudgementFit) -> Proposal:
    new = cause.weight * factor
    entry = ProposedNumber("weight", cause.weight, new)
    return Proposal(cause.id, "weight", "", fit.situations, (entry,), {"weight": three_digits(new)})


def _share_proposal(cause: Cause, finding: Finding, old: Floats, factors: Floats, fit: JudgementFit) -> Proposal:
    """The row of a cause with each answer's share times its factor; of a history finding the ratios."""
    wanted = old * factors / (old @ factors)
    if finding.combine is Combine.HISTORY:
        ratios, new = cause.shows.get(finding.id, {}), wanted
        moved = {a: three_digits(ratios.get(a, 1.0) * float(f)) for a, f in zip(finding.answer_ids, factors, strict=True)}
        values = {answer: ratio for answer, ratio in moved.items() if ratio != 1.0 or answer in ratios}
    else:
        new = isotonic_row(wanted, baseline_row(finding)) if finding.combine is Combine.GRADED else wanted
        values = shares_in_file(cause, finding, new, baseline_row(finding))
    entries = tuple(ProposedNumber(answer, float(old[k]), float(new[k])) for k, answer in enumerate(finding.answer_ids))
    return Proposal(cause.id, "shows", finding.id, fit.situations, entries, values)


def _said(ranker: Ranker, situation: JudgedSituation) -> Floats:
    """(C + 1,) what the model says of a situation, the unlisted one last, summing to 1."""
    ranked = ranker.rank(replay(case_history(situation.case), ranker.knowledge))
    row = np.append(ranker.model.hypotheses.marginals(ranked.posterior), ranked.unlisted)
    return np.asarray(row / row.sum())


def _judged(ranker: Ranker, situation: JudgedSituation, said: Floats) -> Floats:
    """(C + 1,) the judgement, with the rest shared out over the other causes as the model does."""
    row = np.zeros(len(said))
    for cause, share in situation.shares.items():
        row[ranker.model.cause_index[cause]] = share
    others = np.where(row > 0, 0.0, said)
    return np.asarray(row + max(0.0, 1 - row.sum()) * others / max(others.sum(), LEAST_PROBABILITY))


def _answers_seen(ranker: Ranker, situations: Sequence[JudgedSituation]) -> tuple[tuple[tuple[str, str], ...], Floats]:
    """The J answers whose shares may move, and (S, J) 1.0 where a situation has one.

    What an instrument shows belongs to its own table, and stays.
    """
    findings = ranker.knowledge.findings
    told = [
        {(f, a) for f, a in s.case.answers.items() if a not in UNINFORMATIVE_ANSWERS and not findings[f].reads}
        for s in situations
    ]
    seen = tuple(sorted(set().union(*told)))
    return seen, np.array([[float(pair in of_one) for pair in seen] for of_one in told])


def _descend(offset: Floats, judged: Floats, shown: Floats, spread: float) -> tuple[Floats, Floats]:
    """The (C + 1,) and (J, C + 1) logarithms of the factors, by accelerated gradient descent (Nesterov 1983)."""
    design = np.hstack([np.ones((len(shown), 1)), shown])
    steepness = 0.5 * float(np.linalg.norm(design, 2)) ** 2 + 1 / spread**2  # bounds the second derivative
    now = np.zeros((design.shape[1], offset.shape[1]))
    ahead, momentum = now, 1.0
    for _ in range(ITERATIONS):
        slope = design.T @ (_softmax(offset + design @ ahead) - judged) + ahead / spread**2
        after = ahead - slope / steepness
        next_momentum = (1 + np.sqrt(1 + 4 * momentum**2)) / 2
        ahead = after + (momentum - 1) / next_momentum * (after - now)
        now, momentum = after, next_momentum
    return now[0], now[1:]


def _softmax(logits: Floats) -> Floats:
    """(S, C) probabilities from logarithms."""
    scaled = np.exp(logits - logits.max(axis=1, keepdims=True))
    return np.asarray(scaled / scaled.sum(axis=1, keepdims=True))


def _divergence(judged: Floats, said: Floats) -> float:
    """Mean Kullback-Leibler divergence in bits."""
    ratio = np.maximum(judged, LEAST_PROBABILITY) / np.maximum(said, LEAST_PROBABILITY)
    return float((judged * np.log2(ratio)).sum(axis=1).mean())
