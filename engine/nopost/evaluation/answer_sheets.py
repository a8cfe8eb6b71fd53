"""Answer sheets: what the owner of a machine would truthfully answer, and which fixes get it going. Read and checked here.

What a sheet is silent about is answered as a sound machine would, by the knowledge itself (`sound_answers`). A file that is no
sheet is left out and told. An id that the knowledge does not have is told and passed over: sheets outlive editions, and one
edition must not be judged by fewer machines than another. Ids that were split or renamed are those of today first.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from nopost.knowledge.model import ABSENT, UNKNOWN, Knowledge, RenamedKind
from nopost.knowledge.problem import UNKNOWN_NAME, Problem, nearest_hint
from nopost.knowledge.renamed import current_names, what_became
from nopost.knowledge.schema import schema_problems
from nopost.knowledge.yaml_reader import Document, KeyPath, read_yaml

SHEET_SCHEMA = "sheet.schema.json"


@dataclass(frozen=True, slots=True)
class AnswerSheet:
    """One machine. `causes`: any is right; `answers`: finding -> answer, `absent` for a part that is not there; `mends`: fixes,
    each of which gets it going; `words`: what its owner said."""

    case: str
    causes: tuple[str, ...]
    answers: Mapping[str, str]
    mends: frozenset[str]
    words: str = ""
    notes: str = ""


@dataclass(frozen=True, slots=True)
class AnswerSheets:
    """The sheets of a folder in order of their files' names. `left_out`: what is wrong with files that are no sheets; `untaken`:
    one problem for each id that the knowledge does not have, at the first place that names it."""

    sheets: tuple[AnswerSheet, ...]
    left_out: tuple[Problem, ...] = ()
    untaken: tuple[Problem, ...] = ()


def sound_answers(knowledge: Knowledge) -> dict[str, str]:
    """Finding -> what a machine answers whose fault, if any, lies elsewhere.

    The likeliest answer when no cause is there that the finding names (`unnamed`, where it says what other faults show, as of a
    swap that does not help; else `baseline`). An instrument shows what it likeliest shows of the sound answer of what it reads.
    Of equally likely ones the first. A finding without numbers: `unknown`.
    """
    return {finding: _sound_answer(knowledge, finding) for finding in knowledge.findings}


def _sound_answer(knowledge: Knowledge, finding: str) -> str:
    item = knowledge.findings[finding]
    shares = item.reads.table[_sound_answer(knowledge, item.reads.finding)] if item.reads else item.unnamed or item.baseline
    return max(item.answer_ids, key=lambda answer: shares.get(answer, 0.0)) if shares else UNKNOWN


def yaml_files(folder: Path) -> list[Path]:
    """The YAML files of a folder in order of their names; hidden ones are passed over."""
    return sorted(path for path in folder.iterdir() if path.suffix in (".yaml", ".yml") and not path.name.startswith("."))


def read_sheets(folder: Path, knowledge: Knowledge) -> AnswerSheets:
    """Every sheet of a folder, in the ids of this knowledge base. Raises OSError when the folder cannot be looked into."""
    sheets, left_out, mentions = [], [], []
    for path in yaml_files(folder):
        document, problems = read_yaml(path)
        if problems := [*problems] or schema_problems(document, SHEET_SCHEMA):
            left_out += problems
            continue
        sheet, unknown = sheet_of(document, knowledge)
        sheets.append(sheet)
        mentions += unknown
    return AnswerSheets(tuple(sheets), tuple(left_out), one_for_each(mentions))


def one_for_each(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    """The first problem of each message: one line tells an id, however many files name it."""
    first: dict[str, Problem] = {}
    for problem in problems:
        first.setdefault(problem.message, problem)
    return tuple(first.values())


def sheet_of(document: Document, knowledge: Knowledge) -> tuple[AnswerSheet, list[Problem]]:
    """The sheet of a document that passed its schema, and a problem for each id that this knowledge base does not have."""
    data: Mapping[str, Any] = document.data
    fixes = [action.id for action in knowledge.actions.values() if action.kind == "fix"]
    answers, unknown = _answers(document, knowledge)
    causes, no_causes = _names(document, knowledge, RenamedKind.CAUSE, "cause", knowledge.causes)
    mends, no_fixes = _names(document, knowledge, RenamedKind.ACTION, "mends", fixes)
    sheet = AnswerSheet(data["case"], causes, answers, frozenset(mends), data.get("words", ""), data.get("notes", ""))
    return sheet, [*unknown, *no_causes, *no_fixes]


def _names(
    document: Document, knowledge: Knowledge, kind: RenamedKind, key: str, known: Iterable[str]
) -> tuple[tuple[str, ...], list[Problem]]:
    """Causes or fixes of a list, each old one as every new one; unknown ones stay, and are told."""
    names, unknown, what = [], [], "fix" if kind is RenamedKind.ACTION else "cause"
    for index, old in enumerate(document.data[key]):
        for name, _ in current_names(knowledge, kind, old):
            names.append(name)
            if name not in known:
                unknown.append(_unknown(document, (key, index), f"there is no {what} {name!r}", nearest_hint(name, known)))
    return tuple(dict.fromkeys(names)), unknown


def _answers(document: Document, knowledge: Knowledge) -> tuple[dict[str, str], list[Problem]]:
    """Finding -> answer, in today's ids. An answer that the knowledge does not have is `unknown`."""
    given: Mapping[str, str] = document.data["answers"]
    answers: dict[str, str] = {}
    unknown: list[Problem] = []
    for old, said in given.items():
        for finding, answer, problem in _current_answers(document, knowledge, old, said):
            if finding == old or finding not in given:
                answers[finding] = answer
                unknown += [problem] if problem else []
    return answers, unknown


def _current_answers(document: Document, knowledge: Knowledge, old: str, said: str) -> Iterator[tuple[str, str, Problem | None]]:
    """(finding, answer, what is not known) of one line of a sheet."""
    where = ("answers", old)
    now = current_names(knowledge, RenamedKind.FINDING, old, said)
    if not now:  # the owner has an answer, but nobody knows which of the new ones: not to be taken for a sound one
        problem = _unknown(document, where, what_became(knowledge, RenamedKind.FINDING, old, said), "answer the new one")
        for finding in knowledge.renamed.ids.get(RenamedKind.FINDING, {}).get(old, (old,)):
            yield finding, UNKNOWN, problem
    for finding, answer in now:
        known = knowledge.findings.get(finding)
        if known is None:
            problem = _unknown(document, where, f"there is no finding {finding!r}", nearest_hint(finding, knowledge.findings))
            yield finding, UNKNOWN, problem
        elif answer in known.possible_answers:
            yield finding, answer, None
        else:
            hint = nearest_hint(answer, known.answer_ids, f"one of: {', '.join(known.answer_ids)}")
            told = None if answer == ABSENT else _unknown(document, where, f"{finding} has no answer {answer!r}", hint)
            yield finding, UNKNOWN, told


def _unknown(document: Document, where: KeyPath, message: str, hint: str) -> Problem:
    return UNKNOWN_NAME.at(document.path, document.line(where), message, hint)
