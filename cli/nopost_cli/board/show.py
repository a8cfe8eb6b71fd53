"""`nopost board show`: a board and its releases in plain words, or the release graph as SVG."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from nopost_cli.shared.options import json_option, kb_option, knowledge_of
from nopost_cli.shared.terminal import clean, make_console, print_json

if TYPE_CHECKING:
    from rich.table import Table

    from nopost.firmware.release_graph import ReleaseNode
    from nopost.knowledge.reference_records import Board


@click.command("show", short_help="Show a board and its releases.")
@click.argument("board", metavar="NAME|FILE")
@click.option("--format", "form", type=click.Choice(["text", "svg"]), default="text", show_default=True, help="Form.")
@json_option
@kb_option
def command(board: str, form: str, as_json: bool, kb: Path | None) -> None:
    """Show a board record in plain words, and its releases: which may follow which, which CPU families each gains and loses,
    and over which there is no way back. --format svg draws them as a graph."""
    from nopost.firmware.records import board_data, find_board
    from nopost.firmware.release_graph import graph_data, graph_of

    record = find_board(board, knowledge_of(kb))
    if as_json:
        data: dict[str, Any] = board_data(record)
        print_json("board", {**data, "releases": graph_data(graph_of(record))})
    elif form == "svg":
        from nopost.render.release_graph import picture

        click.echo(picture(graph_of(record), record.title), nl=False)
    else:
        _show(record)


def _show(board: Board) -> None:
    from rich.text import Text

    from nopost.firmware.records import board_words
    from nopost.firmware.release_graph import graph_of, writable_words
    from nopost_cli.shared.screens import heading

    console = make_console()
    nodes = graph_of(board)
    console.print(Text(clean(board.title), style="bold"))
    console.print(_rows(board_words(board)))
    console.print()
    console.print(heading(console, "Firmware releases, the oldest first"))
    console.print(_releases(nodes))
    console.print()
    console.print(heading(console, "What can be written directly"))
    console.print(_rows([("On the board now", "Can be written over it"), *writable_words(nodes)]))


def _releases(nodes: Sequence[ReleaseNode]) -> Table:
    """Version, date, and what each release changes in CPU families and asks for."""
    from rich.table import Table
    from rich.text import Text

    from nopost.firmware.release_graph import release_words

    grid = Table.grid(padding=(0, 2))
    grid.add_column(max_width=24)
    grid.add_column(no_wrap=True)
    grid.add_column(ratio=1)
    for node in nodes:
        grid.add_row(Text(clean(node.version)), Text(clean(node.date)), Text(clean(release_words(node))))
    return grid


def _rows(rows: list[tuple[str, str]]) -> Table:
    from rich.table import Table
    from rich.text import Text

    grid = Table.grid(padding=(0, 2))
    grid.add_column(max_width=24)
    grid.add_column(ratio=1)
    for name, text in rows:
        grid.add_row(Text(clean(name)), Text(clean(text)))
    return grid
