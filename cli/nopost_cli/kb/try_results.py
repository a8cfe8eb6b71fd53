"""What `nopost kb try --machines` and `--score` share: a folder read leniently, figures in lines, and what was passed over."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol, TypeVar

import click

from nopost_cli.shared.terminal import clean

if TYPE_CHECKING:
    from nopost.knowledge.model import Knowledge
    from nopost.knowledge.problem import Problem

LABEL_WIDTH = 50


class FolderRead(Protocol):
    """What a folder held. `left_out`: files that are not of the kind; `untaken`: a problem for each id that is not known."""

    @property
    def left_out(self) -> tuple[Problem, ...]: ...

    @property
    def untaken(self) -> tuple[Problem, ...]: ...


Found = TypeVar("Found", bound=FolderRead)


def read_folder(folder: Path, read: Callable[[], Found], items: Callable[[Found], Sequence[object]], kind: str) -> Found:
    """What a folder holds. `items`: of what was read; `kind`: their name in words. Raises NopostError when there are none."""
    from nopost.errors import InputError, KnowledgeError

    try:
        found = read()
    except OSError as error:
        raise InputError(f"{folder}: cannot be read: {error.strerror}") from None
    if not items(found):
        if found.left_out:
            raise KnowledgeError(found.left_out)
        raise InputError(f"{folder}: there are no {kind}, which end in .yaml")
    return found


def result_data(
    knowledge: Knowledge, figures: dict[str, Any], trials: Sequence[dict[str, Any]], found: FolderRead
) -> dict[str, Any]:
    """A result as data: the knowledge, the figures of all, each one, and what was passed over."""
    return {
        "knowledge": knowledge.identity,
        **figures,
        "trials": trials,
        "left_out": [str(problem) for problem in found.left_out],
        "not_known": [str(problem) for problem in found.untaken],
    }


def tell(lines: Iterable[str], found: FolderRead) -> None:
    """A result in lines, and below it a line for each thing that was passed over."""
    for line in lines:
        click.echo(clean(line))
    for number, problem in enumerate((*found.left_out, *found.untaken)):
        click.echo(clean(f"{problem}" if number else f"\n{problem}"))


def share_text(share: float) -> str:
    """A counted share, from 0 to 1."""
    return f"{100 * share:.0f} %"
