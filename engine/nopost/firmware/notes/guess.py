"""A thing found in prose, with the words that it rests on. Until a person confirms it, it is a guess."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Guess:
    """`field` of a release and its value. `words`: of the note; `why`: how it was understood, when that is not plain."""

    field: str
    value: str
    words: str
    why: str = ""

    def shown(self) -> str:
        """In one line."""
        words = " ".join(self.words.split())
        words = words if len(words) <= 160 else words[:157] + "..."
        return f'{self.field} {self.value}: "{words}"' + (f" ({self.why})" if self.why else "")
