"""Make sense of what was typed: a number, the first letters of a choice, or a key."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

SKIP = "s"
UNSURE = frozenset(("cant tell", "dont know", "i dont know", "i do not know", "no idea", "not sure", "skip", "unsure"))
"""What people type for the key that skips."""


@dataclass(frozen=True, slots=True)
class Choice:
    """One thing that can be chosen: its id and the text on screen."""

    id: str
    text: str


@dataclass(frozen=True, slots=True)
class Understood:
    """The id of the choice, or the key, or neither with a reply that says why."""

    choice: str = ""
    key: str = ""
    reply: str = ""


def understand(typed: str, choices: Sequence[Choice], keys: Mapping[str, str]) -> Understood:
    """What a line means. Keys (letter -> meaning) win over first letters; `keys` holds those that can be used now."""
    text = " ".join(typed.replace("\u2019", "'").split()).casefold()
    if not text:
        return Understood(reply="Type a number, the first letters of a choice, or ? for help.")
    if text.isdecimal():
        return _number(text, choices)
    if text in keys:
        return Understood(key=text)
    if SKIP in keys and text.replace("'", "").rstrip("!. ") in UNSURE:
        return Understood(key=SKIP)
    return _letters(text, choices)


def _number(text: str, choices: Sequence[Choice]) -> Understood:
    number = int(text) if len(text) < 6 else 0
    if 1 <= number <= len(choices):
        return Understood(choice=choices[number - 1].id)
    return Understood(
        reply=f"There is no number {text[:20]}; it goes from 1 to {len(choices)}." if choices else "Nothing to number."
    )


def _letters(text: str, choices: Sequence[Choice]) -> Understood:
    for test in (_is, _starts, _contains, _has_words):
        found = [choice for choice in choices if test(choice, text)]
        if len(found) == 1:
            return Understood(choice=found[0].id)
        if found:
            return Understood(
                reply=f"{text[:40]!r} fits several: {'; '.join(choice.text for choice in found[:4])}. Type more, or a number."
            )
    return Understood(reply=f"{text[:40]!r} fits no choice; type its number or its first letters, or ? for help.")


def _is(choice: Choice, text: str) -> bool:
    return text in (choice.id, choice.text.casefold())


def _starts(choice: Choice, text: str) -> bool:
    return choice.text.casefold().startswith(text)


def _contains(choice: Choice, text: str) -> bool:
    return len(text) >= 3 and text in choice.text.casefold()


def _has_words(choice: Choice, text: str) -> bool:
    words = text.split()
    return len(words) > 1 and set(words) <= set(re.findall(r"[\w'-]+", choice.text.casefold()))
