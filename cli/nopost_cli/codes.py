"""`nopost codes`: look into the code tables."""

from __future__ import annotations

from pathlib import Path

import click

from nopost_cli.shared.options import json_option, kb_option, knowledge_of


@click.group("codes", short_help="Look into the code tables.", context_settings={"help_option_names": ["-h", "--help"]})
@kb_option
@click.pass_context
def command(ctx: click.Context, kb: Path | None) -> None:
    """Look into the code tables: which there are, what is in one, what a code means, where words occur."""
    ctx.obj = kb


@command.command("list")
@json_option
@kb_option
@click.pass_obj
def list_tables(above: Path | None, as_json: bool, kb: Path | None) -> None:
    """List the tables: form of their signs, how many, where they come from."""
    from nopost_cli.shared import code_tables_screen

    code_tables_screen.show_tables(knowledge_of(kb or above), as_json)


@command.command("show")
@click.argument("table")
@click.argument("code", required=False)
@json_option
@kb_option
@click.pass_obj
def show_table(above: Path | None, table: str, code: str | None, as_json: bool, kb: Path | None) -> None:
    """Show a table, or one of its codes.

    TABLE alone shows its codes in their normal order. With CODE, what it means there, then in the other tables. A code in place
    of TABLE shows what it means in all of them.
    """
    from nopost_cli.shared import code_tables_screen

    code_tables_screen.show_table_or_code(knowledge_of(kb or above), table, code, as_json)


@command.command("search")
@click.argument("words", nargs=-1, required=True)
@json_option
@kb_option
@click.pass_obj
def search_tables(above: Path | None, words: tuple[str, ...], as_json: bool, kb: Path | None) -> None:
    """Search meanings, symbols and notes for all of the WORDS."""
    from nopost_cli.shared import code_tables_screen

    code_tables_screen.show_search(knowledge_of(kb or above), words, as_json)
