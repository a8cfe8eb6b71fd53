"""Answers to a record's questions, kept while they are given, and offered again."""

from __future__ import annotations

import contextlib
import hashlib
import itertools
import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click

from nopost.authoring.yaml_text import yaml_text
from nopost.files import write_atomically
from nopost.firmware.notes.guess import Guess
from nopost.knowledge.yaml_file import read_yaml
from nopost.paths import user_dir
from nopost_cli.guided import tell


@dataclass(frozen=True, slots=True)
class Draft:
    """One draft in the data folder."""

    path: Path

    def keep(self, answers: dict[str, Any]) -> None:
        """Write what was answered so far. Raises OSError."""
        self.path.parent.mkdir(parents=True, exist_ok=True)
        write_atomically(self.path, yaml_text(answers).encode("utf-8"))

    def answers(self) -> dict[str, Any]:
        """What was answered before; nothing when there is no draft or it cannot be read."""
        if not self.path.is_file():
            return {}
        document, problems = read_yaml(self.path)
        return document.data if not problems and isinstance(document.data, dict) else {}

    def set_aside(self) -> Path:
        """Move it to a name of its own, so that nothing is lost when it cannot be gone on with. Raises OSError."""
        names = (self.path.with_name(f"{self.path.stem}.unread-{number}.yaml") for number in itertools.count(1))
        aside = next(name for name in names if not os.path.lexists(name))
        return self.path.rename(aside)

    def drop(self) -> None:
        """Delete it, once the record is written."""
        with contextlib.suppress(FileNotFoundError):
            self.path.unlink()


def new_draft() -> Draft:
    """The draft of a new board. Raises NopostError without a data folder."""
    return Draft(user_dir() / "drafts" / "board.yaml")


def list_draft(guesses: Sequence[Guess], part: str = "list") -> Draft:
    """The draft of the answers about a list with these guesses; `part`: about the list, or the rest of the `record`."""
    key = hashlib.sha256(repr([(each.field, each.value, each.words) for each in guesses]).encode()).hexdigest()[:16]
    return Draft(user_dir() / "drafts" / f"{part}-{key}.yaml")


@contextlib.contextmanager
def kept_drafts(drafts: Sequence[Draft], again: str) -> Iterator[None]:
    """Ctrl-C and Ctrl-D within go on as click.Abort, once it was told where the answers are kept; `again`: how to go on."""
    try:
        yield
    except (click.Abort, KeyboardInterrupt):
        found = [str(draft.path) for draft in drafts if draft.path.is_file()]
        if found:
            tell(f"\nKept: {' and '.join(found)}\n{again}")
        raise click.Abort from None
