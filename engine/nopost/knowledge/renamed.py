"""Ids that were split or renamed (`renamed.yaml`): what an id of an old session, case or answer sheet is in a knowledge base now.

Everything that was kept is read through `current_names`. What several new ids mean depends on who asks: of a cause any one is
right, of a fix each one mends, and an answer goes to each new finding that can have it. An event of a session has one id, so it
is kept when just one new one fits, and told when not.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from nopost.knowledge.model import Case, Knowledge, RenamedKind


def current_names(knowledge: Knowledge, kind: RenamedKind, name: str, answer: str = "") -> tuple[tuple[str, str], ...]:
    """(id, answer) as this knowledge base has them, for an id that may be an old one; the answer is "" but for findings.

    What is neither known nor renamed comes back as it is, for the caller's own check to tell. An answer that no new finding can
    have gives none, nor does one that became several: nobody knows which it would be.
    """
    names = knowledge.renamed.ids.get(kind, {}).get(name, (name,))
    if kind is not RenamedKind.FINDING:
        return tuple((each, "") for each in names)
    return tuple((each, new) for each in names for new in _answers(knowledge, each, answer, is_new=each != name))


def _answers(knowledge: Knowledge, finding: str, answer: str, *, is_new: bool) -> tuple[str, ...]:
    """The old answer as this finding has it, or none."""
    mapped = knowledge.renamed.answers.get(finding, {}).get(answer)
    if mapped is not None:
        return mapped if len(mapped) == 1 else ()
    known = knowledge.findings.get(finding)
    return () if is_new and known and answer not in known.possible_answers else (answer,)


def what_became(knowledge: Knowledge, kind: RenamedKind, name: str, answer: str = "") -> str:
    """In words, why an old id or answer cannot be taken over; "" when it was neither split nor renamed."""
    new = knowledge.renamed.ids.get(kind, {}).get(name, ())
    if new:
        return f"{f'{name}={answer}' if answer else name} became {' and '.join(new)} in this knowledge base; tell it anew"
    split = knowledge.renamed.answers.get(name, {}).get(answer, ())
    return f"the answer {answer} to {name} became {' and '.join(split)} in this knowledge base; tell it anew" if split else ""


def renamed_case(knowledge: Knowledge, case: Case) -> Case:
    """A case in today's ids.

    An answer goes to each new finding that can have it, unless the case answers that one itself. What cannot be taken over keeps
    its old id, which the caller's check then tells as unknown: an answer that no new finding can have, and a fix or an expected
    cause that became several.
    """
    if not knowledge.renamed:
        return case
    expect = dict(case.expect)
    if "cause" in expect:
        expect["cause"] = only_name(knowledge, RenamedKind.CAUSE, expect["cause"])
    return replace(
        case,
        answers=dict(_case_answers(knowledge, case)),
        tried=tuple((only_name(knowledge, RenamedKind.ACTION, action), outcome) for action, outcome in case.tried),
        expect=expect,
        causes=tuple(new for cause in case.causes for new, _ in current_names(knowledge, RenamedKind.CAUSE, cause)),
    )


def _case_answers(knowledge: Knowledge, case: Case) -> Iterator[tuple[str, str]]:
    for finding, answer in case.answers.items():
        now = current_names(knowledge, RenamedKind.FINDING, finding, answer) or ((finding, answer),)
        yield from (pair for pair in now if pair[0] == finding or pair[0] not in case.answers)


def only_name(knowledge: Knowledge, kind: RenamedKind, name: str) -> str:
    """The one id that a cause or action has now; the old one when there are several."""
    now = current_names(knowledge, kind, name)
    return now[0][0] if len(now) == 1 else name
