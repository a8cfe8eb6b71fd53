"""Fitting numbers to judged situations: against scipy, a general-purpose reference library, and by what a judge must get."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy import optimize, special

import small
from nopost.diagnosis.diagnose import Ranker
from nopost.errors import KnowledgeError
from nopost.evaluation.judged_situations import JudgedSituation, read_judged
from nopost.evaluation.judgement_fit import JudgementFit, fit_judgements, fitted_numbers
from nopost.knowledge.model import Case, Combine, Knowledge

LAMP = small.finding("lamp", {"dark": 0.3, "dim": 0.3, "lit": 0.4}, Combine.EITHER, misreport=0.0)
NOISE = small.finding("noise", {"none": 0.9, "click": 0.1}, Combine.GRADED, misreport=0.0)


def base() -> Knowledge:
    """Three causes, two findings."""
    causes = [
        small.cause("loose", 30.0, {"lamp": {"dark": 0.6, "dim": 0.2, "lit": 0.2}}, {"press": 0.5}),
        small.cause("dead", 10.0, {"noise": {"none": 0.4, "click": 0.6}}, {"press": 0.1}),
        small.cause("worn", 5.0, {"lamp": {"dark": 0.1, "dim": 0.8, "lit": 0.1}}, {"press": 0.2}),
    ]
    return small.knowledge([LAMP, NOISE], causes, [small.fix("press", 1.0)])


def situation(answers: dict[str, str], **shares: float) -> JudgedSituation:
    """A judged situation."""
    return JudgedSituation(Case("s", "s", answers, (), {}, {}), shares)


JUDGED = [
    situation({"lamp": "dark"}, loose=0.3, dead=0.6),
    situation({"lamp": "dim", "noise": "none"}, worn=0.9, loose=0.05),
    situation({"lamp": "lit", "noise": "click"}, dead=0.5, loose=0.4),
    situation({"noise": "none"}, loose=0.5),
]


def test_solution_is_that_of_scipy() -> None:
    """The ridge objective as the textbook has it, minimised by another method (L-BFGS) from the same numbers."""
    ranker, spread = Ranker(base()), 0.7
    fit = fit_judgements(ranker, JUDGED, spread)
    said, judged = said_and_judged(ranker)
    shown = np.array([[float(s.case.answers.get(f) == a) for f, a in fit.seen] for s in JUDGED])
    design = np.hstack([np.ones((len(JUDGED), 1)), shown])

    def objective(flat: np.ndarray) -> float:
        factors = flat.reshape(design.shape[1], -1)
        log_p = special.log_softmax(np.log(said) + design @ factors, axis=1)
        return float(-(judged * log_p).sum() + (factors**2).sum() / (2 * spread**2))

    best = optimize.minimize(objective, np.zeros(design.shape[1] * said.shape[1]), method="L-BFGS-B", options={"ftol": 1e-15})
    found = np.vstack([fit.weights, fit.shares])
    assert found == pytest.approx(best.x.reshape(design.shape[1], -1)[:, :-1], abs=1e-4)


def said_and_judged(ranker: Ranker) -> tuple[np.ndarray, np.ndarray]:
    """What the model says and what the judge says, with the judge's rest as the model shares it out."""
    from nopost.diagnosis.history import case_history
    from nopost.diagnosis.replay import replay

    said, judged = [], []
    for each in JUDGED:
        ranked = ranker.rank(replay(case_history(each.case), ranker.knowledge))
        row = np.array([*(dict(ranked.ranking)[c] for c in ranker.model.hypotheses.causes), ranked.unlisted])
        row /= row.sum()
        named = np.array([*(each.shares.get(c, 0.0) for c in ranker.model.hypotheses.causes), 0.0])
        rest = np.where(named > 0, 0.0, row)
        said.append(row)
        judged.append(named + (1 - named.sum()) * rest / rest.sum())
    return np.array(said), np.array(judged)


def test_a_free_fit_reaches_the_judgement_and_a_tied_one_stays() -> None:
    """With a wide spread the divergence all but vanishes; with a narrow one nothing moves, and nothing is proposed."""
    ranker = Ranker(base())
    free, tied = fit_judgements(ranker, JUDGED, spread=30.0), fit_judgements(ranker, JUDGED, spread=0.01)
    assert free.before == tied.before > 0.1
    assert free.after < 0.01
    assert tied.after == pytest.approx(tied.before, rel=0.01)
    assert fitted_numbers(ranker, tied) == []


def test_proposals_move_towards_the_judgement() -> None:
    """A dark lamp is judged to speak for the dead one: its share of it rises, rows still sum to 1, and the order is kept."""
    ranker = Ranker(base())
    fit = fit_judgements(ranker, [situation({"lamp": "dark"}, dead=0.9)] * 20, spread=0.5)
    found = {(p.cause, p.kind, p.item): p for p in fitted_numbers(ranker, fit)}
    assert found["dead", "weight", ""].values["weight"] > 10
    shares = found["dead", "shows", "lamp"].values
    assert shares["dark"] > 0.3
    assert sum(shares.values()) == pytest.approx(1)
    assert isinstance(fit, JudgementFit)


BAD = """situations:
- {id: one, answers: {lamp: purple}, judged: {loose: 0.5}}
- {id: two, answers: {lamp: dark}, judged: {loose: 0.8, dead: 0.4}}
- {id: three, answers: {lamp: dark}, judged: {rust: 0.8}, tried: [hope]}
"""


def test_what_is_wrong_in_a_file_is_told_with_its_line(tmp_path: Path) -> None:
    """Unknown names and probabilities over 1, all of them at once."""
    path = tmp_path / "judged.yaml"
    path.write_text(BAD)
    with pytest.raises(KnowledgeError) as error:
        read_judged([path], base())
    assert [(p.line, p.code) for p in error.value.problems] == [
        (2, "unknown-name"),
        (3, "over-one"),
        (4, "unknown-name"),
        (4, "unknown-name"),
    ]
