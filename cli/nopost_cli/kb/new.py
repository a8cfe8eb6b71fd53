"""`nopost kb new`: a knowledge base of one's own, as a copy of the shipped one or empty."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import TYPE_CHECKING

import click

from nopost_cli.shared.terminal import clean, is_interactive, make_console

if TYPE_CHECKING:
    from nopost.knowledge.edit.new_base import NewBase

LONGEST = 100
EMPTY_NEXT = {"hazard": "what can hurt", "finding": "what can be seen", "cause": "what is wrong, and what mends it"}


@click.command("new", short_help="Begin a knowledge base of your own.")
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@click.option("--empty", is_flag=True, help="Without any items, for another kind of machine.")
@click.option("--name", metavar="TEXT", default="", help="What the knowledge base is called on screens.")
def command(folder: Path, empty: bool, name: str) -> None:
    """Write a knowledge base into DIR, which must be new or empty: a copy of the one that comes with nopost, or an empty one.

    Schemas and settings for a text editor come with it, so that it completes and underlines while you write.
    """
    from nopost.knowledge.edit.new_base import copied_files, empty_files, refuse_unless_free, write_base

    name = " ".join(clean(name).split())
    if name and not 3 <= len(name) <= LONGEST:
        raise click.BadParameter(f"3 to {LONGEST} characters", param_hint="--name")
    refuse_unless_free(folder)
    files = empty_files(_beginning(name)) if empty else copied_files(name)
    write_base(folder, files)
    _tell_next(folder, empty, sum(path.endswith(".yaml") for path in files))


def _beginning(name: str) -> NewBase:
    """What base.yaml of an empty one says: asked at a terminal, else placeholders."""
    from nopost.knowledge.edit.new_base import NewBase

    if not is_interactive():
        return NewBase(name=name) if name else NewBase()
    from nopost_cli.kb.forms.shared_questions import ask_beginning

    return ask_beginning(name)


def _tell_next(folder: Path, empty: bool, files: int) -> None:
    from rich.text import Text

    place, console = shlex.quote(str(folder)), make_console()

    def tell(text: str) -> None:
        console.print(Text(clean(text)), soft_wrap=not console.is_terminal)

    tell(f"Written: {folder}, {files} YAML file{'s' if files > 1 else ''}, with schemas and settings for an editor.")
    if not empty:
        tell(f"Next: nopost kb add cause --kb {place}, and nopost kb check {place}")
        return
    tell("It can be used once it has a cause. Next, in this order or as you like:")
    for kind, what in EMPTY_NEXT.items():
        tell(f"  nopost kb add {kind} --kb {place}   {what}")
