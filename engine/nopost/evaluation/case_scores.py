"""Case files scored: where the right cause stands when only what the case tells is known, and what the probabilities are worth.

Unlike `case_files`, nothing is expected of the program here. What turned out to be wrong stands in the case (`expect`, or
`cause`, which makes no claim), or in a file of labels. A case without a label is left out and told; an id that the knowledge does
not have is told and passed over, as in answer sheets.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from nopost.diagnosis.diagnose import Diagnostician
from nopost.diagnosis.history import Parts, case_history
from nopost.diagnosis.parts_facts import with_records
from nopost.diagnosis.replay import replay
from nopost.errors import KnowledgeError, NopostError
from nopost.evaluation.answer_sheets import one_for_each, yaml_files
from nopost.evaluation.areas import area_place_of
from nopost.evaluation.calibration import (
    BrierParts,
    CalibrationError,
    ReliabilityBin,
    brier_of_classes,
    brier_of_first,
    brier_parts,
    calibration_error,
    chance_of,
    log_score,
    place_of,
    reliability_table,
    share_among,
)
from nopost.evaluation.case_files import name_problems
from nopost.knowledge.build import KINDS
from nopost.knowledge.model import Case, Knowledge, RenamedKind
from nopost.knowledge.problem import UNKNOWN_NAME, Problem
from nopost.knowledge.renamed import current_names, renamed_case
from nopost.knowledge.schema import schema_problems
from nopost.knowledge.yaml_reader import Document, read_yaml

Labels = Mapping[str, tuple[str, ...]]
"""Id of a case -> what was wrong; any of these causes is right."""


@dataclass(frozen=True, slots=True)
class LabelledCases:
    """Cases with what was wrong under `causes`. `left_out`: files that are no cases, and cases without a label; `untaken`: one
    problem for each id that the knowledge does not have."""

    cases: tuple[Case, ...]
    left_out: tuple[Problem, ...] = ()
    untaken: tuple[Problem, ...] = ()


def read_labels(path: Path) -> Labels:
    """A YAML list of rows with `id` and `cause` (a name, or a list of names); other keys are passed over.

    Raises KnowledgeError with file and line.
    """
    document, problems = read_yaml(path)
    rows: list[Any] = document.data if isinstance(document.data, list) else []
    if not problems and not rows:
        problems = [_label_problem(document, 0)]
    problems = [*problems, *(_label_problem(document, k) for k, row in enumerate(rows) if not _is_label(row))]
    if problems:
        raise KnowledgeError(problems)
    return {row["id"]: (row["cause"],) if isinstance(row["cause"], str) else tuple(row["cause"]) for row in rows}


def _is_label(row: Any) -> bool:
    causes = row.get("cause") if isinstance(row, dict) else None
    names = causes if isinstance(causes, list) else [causes]
    return isinstance(row, dict) and bool(names) and all(isinstance(name, str) for name in (row.get("id"), *names))


def _label_problem(document: Document, row: int) -> Problem:
    hint = "write rows such as: - {id: my-case, cause: my-cause}"
    return Problem(document.path, document.line((row,)), "no-label", "no row with id and cause", hint)


def read_labelled_cases(folder: Path, knowledge: Knowledge, labels: Labels | None = None) -> LabelledCases:
    """Every case of a folder, in order of the files' names. `labels`: go before what a case itself says. Raises OSError."""
    cases, left_out, untaken = [], [], []
    for path in yaml_files(folder):
        document, problems = read_yaml(path)
        if problems := [*problems] or schema_problems(document, KINDS["cases"].schema):
            left_out += problems
            continue
        case = renamed_case(knowledge, KINDS["cases"].build(document.data))
        causes = _causes(case, labels or {}, knowledge)
        if not causes:
            hint = "write cause: into the case, or name it in --labels"
            left_out.append(Problem(document.path, 1, "no-label", "nothing says what was wrong", hint))
            continue
        taken, unknown = _known_part(replace(case, causes=causes, expect={}), document, knowledge)
        cases.append(taken)
        untaken += unknown
    return LabelledCases(tuple(cases), tuple(left_out), one_for_each(untaken))


def _causes(case: Case, labels: Labels, knowledge: Knowledge) -> tuple[str, ...]:
    """What was wrong, in today's ids."""
    if case.id in labels:
        return tuple(new for old in labels[case.id] for new, _ in current_names(knowledge, RenamedKind.CAUSE, old))
    return case.causes or tuple(filter(None, [case.expect.get("cause", "")]))


def _known_part(case: Case, document: Document, knowledge: Knowledge) -> tuple[Case, list[Problem]]:
    """The case without what the knowledge does not have, and a problem for each such thing."""
    found = {where: str(error) for where, error in name_problems(case, knowledge)}
    if case.records and ("records",) not in found:
        try:
            with_records(knowledge, Parts.of_records(case.records))
        except NopostError as error:
            found["records",] = str(error)
    taken = replace(
        case,
        answers={finding: answer for finding, answer in case.answers.items() if ("answers", finding) not in found},
        tried=tuple(pair for k, pair in enumerate(case.tried) if ("tried", k) not in found),
        records={} if ("records",) in found else case.records,
    )
    hints = {"cause": "this one counts as not found"}
    otherwise = "it is passed over; correct it, or say in renamed.yaml what it became"
    return taken, [
        UNKNOWN_NAME.at(document.path, document.line(where), said, hints.get(str(where[0]), otherwise))
        for where, said in found.items()
    ]


@dataclass(frozen=True, slots=True)
class ScoredCase:
    """One case. `cause_place`, `area_place`: place of the best-placed right cause and of its area, from 1, 0 when the knowledge
    has none of them; `leading`: (cause, probability) of the first three; `chance`: given to the right causes; `brier`: over all
    causes and the unlisted one."""

    case: str
    causes: tuple[str, ...]
    cause_place: int
    area_place: int
    leading: tuple[tuple[str, float], ...]
    chance: float
    brier: float

    @property
    def confidence(self) -> float:
        """Probability of the first cause."""
        return self.leading[0][1]


def score_case(diagnostician: Diagnostician, case: Case) -> ScoredCase:
    """What the program makes of what a case tells: records, fixes in vain, codes and answers."""
    history = case_history(case)
    knowledge = with_records(diagnostician.knowledge, history.parts)
    ranked = diagnostician.ranker.rank(replay(history, knowledge))
    chances = {**dict(ranked.ranking), "": ranked.unlisted}
    return ScoredCase(
        case=case.id,
        causes=case.causes,
        cause_place=place_of(ranked.ranking, case.causes),
        area_place=area_place_of(knowledge, ranked.ranking, case.causes),
        leading=ranked.ranking[:3],
        chance=chance_of(chances, case.causes),
        brier=brier_of_classes(chances, case.causes),
    )


@dataclass(frozen=True, slots=True)
class ScoreSummary:
    """What all cases come to, by the measures of `calibration`. `brier_first`: of the first cause alone, with its `parts`."""

    cases: int
    cause_first: float
    cause_among_three: float
    area_first: float
    log_score: float
    brier: float
    brier_first: float
    parts: BrierParts
    calibration: CalibrationError
    reliability: tuple[ReliabilityBin, ...]


def summarise_scores(scored: Sequence[ScoredCase]) -> ScoreSummary:
    """The summary of at least one case."""
    confidences, right = [case.confidence for case in scored], [case.cause_place == 1 for case in scored]
    places, table = [case.cause_place for case in scored], reliability_table(confidences, right)
    return ScoreSummary(
        cases=len(scored),
        cause_first=share_among(places, 1),
        cause_among_three=share_among(places, 3),
        area_first=share_among([case.area_place for case in scored], 1),
        log_score=log_score([case.chance for case in scored]),
        brier=sum(case.brier for case in scored) / len(scored),
        brier_first=brier_of_first(confidences, right),
        parts=brier_parts(table),
        calibration=calibration_error(table),
        reliability=table,
    )
