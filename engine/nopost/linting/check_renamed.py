"""`renamed.yaml`: an old id must be gone, or be one of its own parts; a new one must be there; nothing leads on to a third."""

from __future__ import annotations

from collections.abc import Collection, Iterator

from nopost.knowledge.model import NewIds, RenamedKind
from nopost.knowledge.problem import Problem, ProblemCode, nearest_hint
from nopost.knowledge.yaml_reader import KeyPath
from nopost.linting.lint_check import Check

RenamedEntries = tuple[KeyPath, str, NewIds, Collection[str]]
"""Place in the file, what the ids name, old id -> new ones, and the ids that there are now."""


class _RenamedCheck(Check):
    """One thing that can be wrong with an entry."""

    def entries(self) -> Iterator[RenamedEntries]:
        renamed, knowledge = self.items.renamed, self.knowledge
        for kind in RenamedKind:
            yield (kind.value,), kind.value[:-1], renamed.ids[kind], getattr(knowledge, kind.value)
        for name, answers in renamed.answers.items():
            known = knowledge.findings.get(name)
            yield ("answers", name), f"answer to {name}", answers, known.possible_answers if known else ()

    def at(self, where: KeyPath, message: str, hint: str) -> Problem:
        document = self.items.renamed_document
        return self.code.at(document.path, document.line(where), message, hint, ("renamed",))


class OldIdStillThere(_RenamedCheck):
    """What has a new id is not there under the old one, unless the old id was split and is one of its own parts."""

    code = ProblemCode(
        "renamed-still-there",
        "An old id in renamed.yaml that is still there",
        "What was kept under this id is read under other ids, although it means the one that is there.",
        "Take the entry out, or delete the old item.",
    )

    def run(self) -> Iterator[Problem]:
        for where, what, new_ids, known in self.entries():
            for old in (old for old, names in new_ids.items() if old in known and old not in names):
                yield self.at((*where, old), f"the {what} {old!r} is still there", "take the entry out, or delete the old one")


class NewIdNowhere(_RenamedCheck):
    """The new ids lead somewhere."""

    code = ProblemCode(
        "renamed-nowhere",
        "A new id in renamed.yaml that leads nowhere",
        "What was kept under the old id would be lost.",
        "Correct the id, or add the item.",
    )

    def run(self) -> Iterator[Problem]:
        findings = self.knowledge.findings
        for name in self.items.renamed.answers:
            if name not in findings:
                yield self.at(("answers", name), f"there is no finding {name!r}", nearest_hint(name, findings))
        for where, what, new_ids, known in self.entries():
            for old, index, new in ((old, index, new) for old, names in new_ids.items() for index, new in enumerate(names)):
                if new not in known and new not in new_ids and (where[0] != "answers" or where[1] in findings):
                    yield self.at((*where, old, index), f"there is no {what} {new!r}", nearest_hint(new, known))


class RenamedTwice(_RenamedCheck):
    """A new id is not itself an old one."""

    code = ProblemCode(
        "renamed-twice",
        "A new id in renamed.yaml that is an old id, too",
        "Only one step is taken from an old id to the new ones, so that nothing can go round in a circle.",
        "Name the ids of today for both.",
    )

    def run(self) -> Iterator[Problem]:
        for where, _, new_ids, _ in self.entries():
            for old, names in new_ids.items():
                for index, new in enumerate(names):
                    if new in new_ids and new != old:
                        hint = f"name what {new} is today: {', '.join(new_ids[new])}"
                        yield self.at((*where, old, index), f"{old} leads to {new}, which is an old id, too", hint)


CHECKS = (OldIdStillThere, NewIdNowhere, RenamedTwice)
