"""Assess a case and hold what comes out against what the case expects: its cause, the next step and the rules that fire."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from nopost.diagnosis.diagnose import Diagnosis, Diagnostician
from nopost.diagnosis.history import case_history
from nopost.diagnosis.parts_facts import with_records
from nopost.knowledge.model import Case


@dataclass(frozen=True, slots=True)
class CaseResult:
    """What came of one case. `rank`: place of the expected cause, 0 when none is expected; `missed`: what is not as expected."""

    case: str
    title: str
    cause: str
    rank: int
    within: int
    probability: float
    leading: str
    next_step: str
    missed: tuple[str, ...]
    contradictions: tuple[str, ...]

    @property
    def met(self) -> bool:
        """Whether all is as expected."""
        return not self.missed


def assess_case(diagnostician: Diagnostician, case: Case) -> Diagnosis:
    """What the program makes of a case's records, answers and fixes."""
    history = case_history(case)
    with_records(diagnostician.knowledge, history.parts)
    return diagnostician.diagnose(history)


def evaluate_case(diagnostician: Diagnostician, case: Case) -> CaseResult:
    """One case against its `expect`."""
    found = assess_case(diagnostician, case)
    order = [cause for cause, _ in found.ranking]
    cause = case.expect.get("cause", "")
    rank = order.index(cause) + 1 if cause in order else 0
    return CaseResult(
        case=case.id,
        title=case.title,
        cause=cause,
        rank=rank,
        within=case.expect.get("within", 1) if cause else 0,
        probability=dict(found.ranking).get(cause, 0.0),
        leading=order[0] if order else "",
        next_step=found.advice.step.id or found.advice.step.kind,
        missed=tuple(_unmet_expectations(case, found, rank)),
        contradictions=tuple(c.finding for c in found.inference.contradictions),
    )


def _unmet_expectations(case: Case, found: Diagnosis, rank: int) -> Iterator[str]:
    within = case.expect.get("within", 1)
    if "cause" in case.expect and not 1 <= rank <= within:
        place = f"at place {rank}" if rank else "not known"
        yield f"cause {case.expect['cause']}: {place}, expected within {within}"
    if "next" in case.expect and found.advice.step.id != case.expect["next"]:
        yield f"next step {found.advice.step.id or found.advice.step.kind}, expected {case.expect['next']}"
    fired = {firing.rule for firing in found.inference.firings}
    yield from (f"rule {rule} did not fire" for rule in case.expect.get("fires", ()) if rule not in fired)
