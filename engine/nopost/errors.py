"""Exceptions for the caller, one small tree.

NopostError
├── KnowledgeError   the knowledge base has problems (carries them all)
├── UnknownNameError a name that the knowledge base does not have (carries the nearest ones)
├── SessionError     a session file cannot be read, written or found
├── RecordError      a board or CPU record cannot be used
├── InputError       what was named to be read cannot be read
├── DumpError        a file holds no SMBIOS table
├── ImageError       a file that should be a firmware image cannot be read
├── ScoreError       scores of exercises cannot be read or written
├── ReadingError     a reading of a meter that cannot be understood
└── OutputError      a result cannot be written where it was asked for
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from nopost.knowledge.problem import Problem

FEW = 12
"""So many known names are listed when none is near."""


class NopostError(Exception):
    """Root of all errors that a user can cause; its text is one clear line."""


class KnowledgeError(NopostError):
    """What was read to the end (a knowledge base, a record, answers) has these problems."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = tuple(problems)
        count = len(self.problems)
        super().__init__(f"{count} problem{'s' if count != 1 else ''} in what was read, nothing was done")


class UnknownNameError(NopostError):
    """A name that is not known, with the nearest known ones."""

    def __init__(self, what: str, name: str, known: Iterable[str], way: str = "") -> None:
        """`way`: what else can be done."""
        self.what, self.name = what, name
        import difflib  # only here: it costs start-up time

        names = list(known)
        self.nearest = tuple(difflib.get_close_matches(name, names, n=3, cutoff=0.5))
        hint = f"; did you mean {' or '.join(self.nearest)}?" if self.nearest else ""
        if names and not hint and len(names) <= FEW:
            hint = f"; there are {', '.join(names)}"
        super().__init__(f"no {what} is called {name!r}{hint}{f'; {way}' if way else ''}")


class SessionError(NopostError):
    """A session cannot be read, written or found."""


class RecordError(NopostError):
    """A board or CPU record cannot be used."""


class InputError(NopostError):
    """A file that was named, or standard input, cannot be read."""


class DumpError(NopostError):
    """A file holds no SMBIOS table."""


class ImageError(NopostError):
    """A file that should be a firmware image cannot be read."""


class ReadingError(NopostError):
    """A reading of a meter cannot be understood."""


class OutputError(NopostError):
    """A result cannot be written where it was asked for."""


class ScoreError(NopostError):
    """Scores of exercises cannot be read or written."""
