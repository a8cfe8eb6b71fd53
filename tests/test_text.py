"""What is unfit to be shown, against Python's copy of the Unicode Character Database."""

from __future__ import annotations

import sys
import unicodedata

from hypothesis import given
from hypothesis import strategies as st

from nopost.text import REPLACEMENT, find_control, without_controls

BIDI_CLASSES = {"LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI"}
"""Explicit directional formatting, by bidirectional class (UAX #9, table 4)."""
MARKS = {"\u061c", "\u200e", "\u200f"}
"""Implicit directional marks (UAX #9, section 2.6); in the database they have the class of a letter."""
NO_CHARACTERS = {"\ufffe", "\uffff"}
"""Not in production 2 of XML 1.0 (Char), nor in production 1 of YAML 1.2 (c-printable)."""


def unfit(character: str) -> bool:
    """By the database: controls, separators of lines, halves of characters, and what turns the direction of writing."""
    turns = unicodedata.bidirectional(character) in BIDI_CLASSES or character in MARKS
    return turns or character in NO_CHARACTERS or unicodedata.category(character) in {"Cc", "Cs", "Zl", "Zp"}


def test_every_character_is_judged_as_the_database_says() -> None:
    """All 1,114,112 of them."""
    every = "".join(map(chr, range(sys.maxunicode + 1)))
    replaced = without_controls(every)
    assert {c for c, shown in zip(every, replaced, strict=True) if shown != c} == {c for c in every if unfit(c)}
    assert {shown for c, shown in zip(every, replaced, strict=True) if shown != c} == {REPLACEMENT}


@given(st.text(), st.sampled_from(["", "\n", "\t\n\r", "]^\\-"]), st.sampled_from([" ", "", "\\1"]))
def test_what_is_kept(text: str, keep: str, instead: str) -> None:
    """What is to be kept stays, and only that; what is put in its place is taken as it is."""
    assert without_controls(text, keep, instead) == "".join(instead if unfit(c) and c not in keep else c for c in text)
    first = find_control(text, keep)
    assert (first[0] if first else None) == next((c for c in text if unfit(c) and c not in keep), None)
