"""`nopost kb format`: the files of a knowledge base in one canonical form, so that a diff shows just what was changed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

import click

from nopost_cli.shared.options import own_base, own_kb_option
from nopost_cli.shared.terminal import clean, make_console


@click.command("format", short_help="Bring the files into one form: the same data, readable diffs.")
@click.option("--check", is_flag=True, help="Write nothing; end with 1 when a file is not in this form.")
@own_kb_option
def command(check: bool, kb: Path | None) -> None:
    """Set indents and line lengths right in every YAML file of --kb.

    What the files say stays, and so do comments, quotes and order. A file that cannot be read, or that would lose a comment, is
    named and left as it is; then it ends with 1.
    """
    root = own_base(kb)
    paths = [
        path for path in sorted(root.rglob("*.yaml")) if not any(part.startswith(".") for part in path.relative_to(root).parts)
    ]
    with _progress(paths) as shown:
        different, refused = _format(shown, write=not check)
    for path in different:
        click.echo(clean(f"{'Not in this form' if check else 'Formatted'}: {path}"))
    for line in refused:
        click.echo(clean(line), err=True)
    rest = f", {len(refused)} left as they are" if refused else ""
    done = "would change" if check else "changed"
    click.echo(f"{len(different)} of {len(paths)} files {done}{rest}.")
    raise click.exceptions.Exit(1 if refused or (check and different) else 0)


def _format(paths: Iterable[Path], *, write: bool) -> tuple[list[Path], list[str]]:
    """The files that were not canonical, and why others could not be made so."""
    from nopost.errors import KnowledgeError, OutputError
    from nopost.knowledge.edit.item_files import read_editable, write_edited

    different: list[Path] = []
    refused: list[str] = []
    for path in paths:
        try:
            file = read_editable(path)
            if file.text() != file.before:
                different.append(path)
                if write:
                    write_edited(path, file)
        except KnowledgeError as error:
            refused += [str(problem) for problem in error.problems]
        except OutputError as error:
            refused.append(str(error))
    return different, refused


@contextmanager
def _progress(paths: list[Path]) -> Iterator[Iterable[Path]]:
    """The paths, with a bar on standard error at a terminal."""
    from rich.progress import Progress

    console = make_console(stderr=True)
    with Progress(console=console, transient=True, disable=not console.is_terminal) as bar:
        yield bar.track(paths, description="Formatting")
