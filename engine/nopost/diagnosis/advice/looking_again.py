"""Looking again: a second report of an answer that carries the decision, before a step that is dear or cannot be undone.

A report may be wrong, and a second look is wrong independently of the first (the same misreport channel twice). What a second
look is likely to show given the first is part of the belief; its value is that of any question. Only the few answers of greatest
weight for the leading cause are considered, for only these can turn the decision.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from nopost.diagnosis.belief.evidence import Report
from nopost.diagnosis.belief.hypotheses import Floats
from nopost.diagnosis.belief.likelihood import LazyTables
from nopost.diagnosis.belief.posterior import NATS_PER_DECIBAN, BeliefModel

MOST_ANSWERS = 3
"""So many answers are considered for a second look (judgement: each costs as much time as a question)."""
LEAST_DECIBANS = 3.0
"""An answer of less weight for the leading cause, a factor of two on its odds, is not looked at again (judgement)."""


class DecisiveAnswers:
    """Finds the answers that weigh most for or against a cause; tables are computed on first use."""

    def __init__(self, model: BeliefModel) -> None:
        self._model = model
        self._tables = LazyTables(list(model.knowledge.findings), model.single_cause_table)
        self._prior = np.exp(model.hypotheses.log_prior[: len(model.hypotheses.causes)])

    def of(self, reports: Sequence[Report], posterior: Floats) -> list[Report]:
        """The few of these reports that weigh most for or against the leading cause, the weightiest first.

        `posterior`: (H,) probabilities of the hypotheses.
        """
        leading = int(self._model.hypotheses.marginals(posterior).argmax())
        weighed = [(abs(self._decibans(report, leading)), report) for report in reports]
        weighty = [pair for pair in weighed if pair[0] >= LEAST_DECIBANS]
        return [report for _, report in sorted(weighty, key=lambda pair: (-pair[0], pair[1].finding))[:MOST_ANSWERS]]

    def _decibans(self, report: Report, cause: int) -> float:
        """Weight of a report by itself for one cause against the prior mean of all others, each alone."""
        place = self._model.answer_index[report.finding][report.answer]
        chance = self._tables[report.finding][:, place]
        others = np.arange(len(chance)) != cause
        if not others.any():
            return 0.0
        mean = float(np.average(chance[others], weights=self._prior[others]))
        return float((np.log(chance[cause]) - np.log(mean)) / NATS_PER_DECIBAN)
