"""Texts that people read at a dead machine: how hard they are, how long, and where their facts are from."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import NamedTuple

from nopost.knowledge import model as m
from nopost.knowledge.yaml_file import Path_
from nopost.review.reading import grade, sentences, words
from nopost.review.remark import Remark
from nopost.review.view import View

HIGHEST_GRADE = 8.0
"""School year that a text may ask for: the eighth, as is advised for the public (common practice, no source)."""
FEWEST_WORDS = 30
"""The formula is made for passages; in fewer words a single long one sways it (judgement)."""
LONGEST_SENTENCE = 25
"""Words: the usual limit of plain-language guides (common practice, no source)."""
LONGEST_QUESTION = 20
"""Words: a question is read on a phone beside the machine, and must be kept in mind while looking (judgement)."""
_SAYS_WHERE = re.compile(r"judgement|common practice|invented|measured|record|definition|[0-9]", re.IGNORECASE)
_NEGATION = re.compile(r"\b(?:not|never|no|neither|nor|without)\b|n['\u2019]t\b", re.IGNORECASE)


class Text(NamedTuple):
    """A passage, the places of its pieces, and the piece at each."""

    folder: str
    id: str
    pieces: tuple[tuple[Path_, str], ...]

    @property
    def whole(self) -> str:
        """All of it."""
        return " ".join(piece if piece.rstrip().endswith((".", "?", "!")) else f"{piece}." for _, piece in self.pieces)


def hard(view: View) -> Iterator[Remark]:
    """No passage asks for more schooling than most people have."""
    for text in _texts(view.knowledge):
        level = grade(text.whole)
        if len(words(text.whole)) >= FEWEST_WORDS and level > HIGHEST_GRADE:
            message = f"reads like school year {level:.1f} (Flesch-Kincaid), more than {HIGHEST_GRADE:g}"
            where = text.pieces[0][0]
            yield view.remark(text.folder, text.id, where, "hard-text", message, "shorter sentences, shorter words")


def long_sentences(view: View) -> Iterator[Remark]:
    """No sentence is so long that its beginning is forgotten at its end."""
    for text in _texts(view.knowledge):
        for where, piece in text.pieces:
            for sentence in sentences(piece):
                count = len(words(sentence))
                if count > LONGEST_SENTENCE:
                    message = f"a sentence of {count} words, more than {LONGEST_SENTENCE}: “{_begin(sentence)} …”"
                    yield view.remark(text.folder, text.id, where, "long-sentence", message, "make two of it")


def questions(view: View) -> Iterator[Remark]:
    """A question is short, asks one thing, and does not turn round twice."""
    for finding in view.knowledge.findings.values():
        for code, message, hint in _faults(finding.question):
            yield view.remark("findings", finding.id, ("question",), code, message, hint)


def sources(view: View) -> Iterator[Remark]:
    """A source says where the facts are from."""
    k = view.knowledge
    for folder, items in (("findings", k.findings), ("actions", k.actions), ("rules", k.rules), ("hazards", k.hazards)):
        for name, item in items.items():
            yield from _source(view, folder, name, ("source",), item.source)
    for cause in k.causes.values():
        for key, source in cause.source.items():
            yield from _source(view, "causes", cause.id, ("source", key), source)


CHECKS = (hard, long_sentences, questions, sources)


def _texts(k: m.Knowledge) -> Iterator[Text]:
    for finding in k.findings.values():
        pieces = (("question", finding.question), ("look", finding.look))
        yield Text("findings", finding.id, tuple(((key,), piece) for key, piece in pieces if piece))
    for action in k.actions.values():
        yield Text("actions", action.id, tuple((("steps", index), step) for index, step in enumerate(action.steps)))
    for cause in k.causes.values():
        yield Text("causes", cause.id, ((("explanation",), cause.explanation), (("proof",), cause.proof)))
    for hazard in k.hazards.values():
        yield Text("hazards", hazard.id, ((("caution",), hazard.caution),))
    for rule in k.rules.values():
        yield Text("rules", rule.id, ((("because",), rule.because),))


def _faults(question: str) -> Iterator[tuple[str, str, str]]:
    count = len(words(question))
    if count > LONGEST_QUESTION:
        yield "long-question", f"a question of {count} words, more than {LONGEST_QUESTION}", "move what explains it to look:"
    if question.count("?") > 1:
        yield "double-question", f"{question.count('?')} questions in one", "ask one thing; make another finding of the rest"
    if any(len(_NEGATION.findall(sentence)) > 1 for sentence in sentences(question)):
        yield "double-negative", "two negations in one question", "ask it the other way round"


def _source(view: View, folder: str, name: str, where: Path_, source: str) -> Iterator[Remark]:
    if not _SAYS_WHERE.search(source) and len(source.split()) < 4:
        message = f"the source {source!r} does not say where the facts are from"
        hint = "a published source, or: common practice, no source; or: judgement"
        yield view.remark(folder, name, where, "vague-source", message, hint)


def _begin(sentence: str) -> str:
    return " ".join(sentence.split()[:5])
