"""`nopost kb add`: a new item of a knowledge base, asked item by item."""

from __future__ import annotations

from pathlib import Path

import click

from nopost_cli.shared.options import own_base

KINDS = ("cause", "finding", "action", "rule", "case", "hazard")


@click.command("add", short_help="Write a cause, finding, action, rule or case, asked item by item.")
@click.argument("kind", type=click.Choice(KINDS))
@click.option("--kb", "kb", metavar="DIR", type=click.Path(path_type=Path), help="Your knowledge base; default: this folder.")
@click.option("--session", metavar="NAME", default="", help="For a case: take what a kept session saw and tried.")
def command(kind: str, kb: Path | None, session: str) -> None:
    """Ask for everything that an item holds, check it at once, write its file and look through the whole knowledge base.

    Ctrl-C keeps what was answered; the next start offers it again.
    """
    from nopost.errors import NopostError
    from nopost_cli.kb.forms.item_form import ItemForm, add_item, show_result
    from nopost_cli.shared.prompts import need_terminal

    if session and kind != "case":
        raise click.UsageError("--session goes with: nopost kb add case")
    root = own_base(kb)
    need_terminal("write the file in an editor, from a copy of a neighbour, then run nopost kb check")
    form = ItemForm(root, kind, session)
    if form.context.base is None:
        raise NopostError(f"{root / 'base.yaml'} has problems; mend it first, nopost kb check tells them")
    if session:
        from nopost_cli.kb.forms.cases import take_session

        take_session(form, session)
    written = add_item(form)
    raise click.exceptions.Exit(show_result(root, written))
