"""Answers to a record's questions, kept while they are given and offered again.

At the end the record is checked and written where it was asked for, never over a file without asking.
"""

from __future__ import annotations

import contextlib
import hashlib
import itertools
import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click

from nopost.errors import KnowledgeError, OutputError
from nopost.files import user_dir, write_atomically
from nopost.firmware.release_list.board_record import check_record, record_text
from nopost.firmware.release_list.cell_values import Guess
from nopost.knowledge.yaml_reader import KeyPath, read_yaml
from nopost_cli.shared.prompts import confirm, tell
from nopost_cli.shared.terminal import is_interactive


@dataclass(frozen=True, slots=True)
class Draft:
    """One draft in the data folder."""

    path: Path

    def keep(self, answers: dict[str, Any]) -> None:
        """Write what was answered so far. Raises OSError."""
        from nopost.knowledge.edit.canonical_yaml import yaml_text

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


def may_write(out: Path) -> None:
    """Ask before a file is overwritten. Raises OutputError where nobody can be asked, click.Abort when the answer is no."""
    if out.is_dir() or not out.parent.is_dir():
        raise OutputError(f"{out}: {'this is a folder' if out.is_dir() else 'there is no such folder'}; name a file with --out")
    if out.exists():
        if not is_interactive():
            raise OutputError(f"{out} exists already, and nobody can be asked: name another file with --out")
        if not confirm(f"{out} exists already. Overwrite it?", default=False):
            raise click.Abort


def checked_text(data: Mapping[str, Any], comments: Mapping[KeyPath, Sequence[str]], name: str, whole: bool = True) -> str:
    """The record's text. Raises KnowledgeError when it breaks the schema or contradicts itself."""
    text = record_text(data, comments)
    problems = check_record(text, name, whole)
    if problems:
        raise KnowledgeError(problems)
    return text


def write_record(out: Path, text: str) -> None:
    """Write it whole or not at all."""
    write_atomically(out, text.encode("utf-8"))
