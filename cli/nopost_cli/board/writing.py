"""Write a record where it was asked for: read back, checked, and never over a file without asking."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import click

from nopost.errors import KnowledgeError, OutputError
from nopost.files import write_atomically
from nopost.firmware.notes.record import check_record, record_text
from nopost.knowledge.yaml_file import Path_
from nopost_cli.guided import confirm
from nopost_cli.terminal import is_interactive


def may_write(out: Path) -> None:
    """Ask before a file is overwritten. Raises OutputError where nobody can be asked, click.Abort when the answer is no."""
    if out.is_dir() or not out.parent.is_dir():
        raise OutputError(f"{out}: {'this is a folder' if out.is_dir() else 'there is no such folder'}; name a file with --out")
    if out.exists():
        if not is_interactive():
            raise OutputError(f"{out} exists already, and nobody can be asked: name another file with --out")
        if not confirm(f"{out} exists already. Overwrite it?", default=False):
            raise click.Abort


def checked_text(data: Mapping[str, Any], comments: Mapping[Path_, Sequence[str]], name: str, whole: bool = True) -> str:
    """The record's text. Raises KnowledgeError when it breaks the schema or contradicts itself."""
    text = record_text(data, comments)
    problems = check_record(text, name, whole)
    if problems:
        raise KnowledgeError(problems)
    return text


def write(out: Path, text: str) -> None:
    """Write it whole or not at all."""
    write_atomically(out, text.encode("utf-8"))
