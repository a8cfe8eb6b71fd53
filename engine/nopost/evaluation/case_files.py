"""Case files: read from files and folders and checked like those of a knowledge base, then diagnosed and held against what they
expect: the cause, the next step, and the rules that fire.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from nopost.diagnosis.diagnose import Diagnosis, Diagnostician
from nopost.diagnosis.history import case_history, check_answer, check_tried
from nopost.diagnosis.inventory import check_there
from nopost.diagnosis.parts_facts import with_records
from nopost.errors import KnowledgeError, UnknownNameError
from nopost.firmware.records import records_of
from nopost.knowledge.build import KINDS
from nopost.knowledge.model import Case, Knowledge
from nopost.knowledge.problem import Problem
from nopost.knowledge.renamed import renamed_case
from nopost.knowledge.schema import schema_problems
from nopost.knowledge.yaml_reader import Document, read_yaml

PlaceInCase = tuple[str | int, ...]


def read_cases(paths: Iterable[Path], knowledge: Knowledge) -> list[Case]:
    """Cases of files and of folders, in order of their names. Raises KnowledgeError with all problems of all files."""
    cases, problems = [], []
    for path in _case_paths(paths):
        document, found = read_yaml(path)
        found = [*found] or schema_problems(document, KINDS["cases"].schema)
        if not found:
            case = renamed_case(knowledge, KINDS["cases"].build(document.data))
            found = list(_problems(document, case, knowledge))
            cases.append(case)
        problems += found
    if problems:
        raise KnowledgeError(sorted(problems))
    return cases


def _case_paths(paths: Iterable[Path]) -> Iterator[Path]:
    for path in paths:
        if path.is_dir():
            yield from sorted(each for each in path.iterdir() if each.suffix in (".yaml", ".yml"))
        else:
            yield path


def name_problems(case: Case, knowledge: Knowledge) -> Iterator[tuple[PlaceInCase, UnknownNameError]]:
    """Names of a case that the knowledge base does not have, with their place in it."""
    checks: list[tuple[PlaceInCase, Callable[[], object]]] = [
        *((("answers", finding), partial(check_answer, knowledge, finding, answer)) for finding, answer in case.answers.items()),
        *((("tried", k), partial(check_tried, knowledge, *each)) for k, each in enumerate(case.tried)),
        (("expect", "cause"), partial(_check_cause, knowledge, case.expect.get("cause", ""))),
        *((("cause", k), partial(_check_cause, knowledge, cause)) for k, cause in enumerate(case.causes)),
        (("records",), partial(records_of, case.records, knowledge)),
        *(
            (("records", "there", entry), partial(check_there, knowledge, {entry: choice}))
            for entry, choice in case.records.get("there", {}).items()
        ),
    ]
    for where, check in checks:
        try:
            check()
        except UnknownNameError as error:
            yield where, error


def _check_cause(knowledge: Knowledge, cause: str) -> None:
    if cause and cause not in knowledge.causes:
        raise UnknownNameError("cause", cause, knowledge.causes)


def _problems(document: Document, case: Case, knowledge: Knowledge) -> Iterator[Problem]:
    for where, error in name_problems(case, knowledge):
        yield Problem(document.path, document.line(where), "unknown-name", str(error), "give an id of the knowledge base")


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
