"""What the codes say, as answers to findings: the same rules and the same belief take them as any other answer."""

from __future__ import annotations

from nopost.codes.trace import Trace
from nopost.codes.verdict import Outcome

LEAST = 0.55
"""A trace less sure than this says nothing. Between this and 1 the findings' own tables allow for error."""
OUTCOMES = {
    Outcome.NEVER_STARTED: "never-begins",
    Outcome.STALLED: "stops",
    Outcome.STALLED_AFTER_RECOVERY: "stops-after-recovery",
    Outcome.RESTART_LOOP: "goes-round",
    Outcome.HANDED_OVER: "reaches-end",
    Outcome.MEMORY_TRAINING: "stays-busy",
    Outcome.RESUMED: "reaches-end",
}
"""Answers of the finding boot-outcome; an unclear trace has none."""


def observed(trace: Trace) -> dict[str, str]:
    """Finding -> answer, for trace-stage, boot-outcome and error-code; what is not known is left out."""
    answers: dict[str, str] = {}
    if trace.confidence >= LEAST:
        if trace.stage and trace.outcome in OUTCOMES:
            answers["trace-stage"] = trace.stage
        if trace.outcome in OUTCOMES:
            answers["boot-outcome"] = OUTCOMES[trace.outcome]
    if trace.error:
        answers["error-code"] = trace.error
    return answers
