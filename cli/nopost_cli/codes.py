"""`nopost codes`: look into the code tables. A meaning always stands beside the table that it comes from."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import click

from nopost.errors import NopostError
from nopost_cli.shared.options import json_option, kb_option, knowledge_of
from nopost_cli.shared.terminal import clean, make_console, print_json

if TYPE_CHECKING:
    from rich.console import RenderableType

    from nopost.codes.tables import IndexedTable
    from nopost.knowledge.model import Knowledge
    from nopost.knowledge.reference_records import Code
LOW_BYTE = "by its low byte"
WIDE = 80
"""Columns from which the tables have a column for each thing."""


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
    show_tables(knowledge_of(kb or above), as_json)


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
    show_table_or_code(knowledge_of(kb or above), table, code, as_json)


@command.command("search")
@click.argument("words", nargs=-1, required=True)
@json_option
@kb_option
@click.pass_obj
def search_tables(above: Path | None, words: tuple[str, ...], as_json: bool, kb: Path | None) -> None:
    """Search meanings, symbols and notes for all of the WORDS."""
    show_search(knowledge_of(kb or above), words, as_json)


class CodeHit(NamedTuple):
    """A row of a table; `wide`: only the low byte of a longer code fits."""

    table: IndexedTable
    code: Code
    wide: bool = False


def show_tables(knowledge: Knowledge, as_json: bool) -> None:
    """All tables."""
    from rich.text import Text

    from nopost.codes.tables import TableSet
    from nopost_cli.shared import screens

    listed = [_about(table) for table in TableSet(knowledge.codes).tables.values()]
    if as_json:
        print_json("code-tables", {"tables": listed})
        return
    console = make_console()
    if console.width < WIDE:
        for each in listed:
            console.print(Text(clean(f"{each['id']}: {each['form']}, {each['codes']} codes"), style="bold"))
            console.print(screens.line("What", each["title"]))
            console.print(screens.line("Source", each["source"]))
        return
    rows = [(each["id"], each["form"], str(each["codes"]), f"{each['title']}\nSource: {each['source']}") for each in listed]
    console.print(_grid(("Table", "Form", "Codes", "What it is"), rows, right=2))


def _about(table: IndexedTable) -> dict[str, Any]:
    item = table.table
    return {
        "id": item.id,
        "title": item.title,
        "family": item.family,
        "form": item.form,
        "generic": item.generic,
        "codes": len(item.codes),
        "weight": item.weight,
        "source": item.source,
    }


def show_table_or_code(knowledge: Knowledge, table: str, code: str | None, as_json: bool) -> None:
    """A table, or a code in it and in the others, or a code in all. Raises UnknownNameError and NopostError."""
    from nopost.codes.tables import TableSet

    every = TableSet(knowledge.codes)
    if code is None and table in every.tables:
        _show_table(every.named(table), as_json)
        return
    if code is None:
        hits = _hits(every.tables.values(), table)
        if not hits:
            every.named(table)  # says which name comes near
        _show_code(knowledge, _sign(table), hits, as_json)
        return
    first = every.named(table)
    hits = _hits([first], code)
    others = [other for other in every.tables.values() if other is not first]
    if not hits:
        near = ", ".join(dict.fromkeys(hit.table.id for hit in _hits(others, code)))
        raise NopostError(f"{table} has no code {_sign(code)!r}" + (f"; these have it: {near}" if near else ""))
    _show_code(knowledge, _sign(code), [*hits, *_hits(others, code)], as_json)


def _sign(text: str) -> str:
    """A code as tables write it: 0x92 and 92h are 92."""
    low = text.strip().lower()
    digits = low[2:] if low.startswith("0x") else low[:-1] if low.endswith("h") else low
    is_hex = digits and all(c in "0123456789abcdef" for c in digits)
    return digits.upper() if is_hex else text.strip()


def _hits(within: Iterable[IndexedTable], code: str) -> list[CodeHit]:
    hits = []
    for table in within:
        found = table.look_up(_sign(code))
        hits += [CodeHit(table, table.codes[row], found.wide) for row in found.rows]
    return hits


def _show_table(table: IndexedTable, as_json: bool) -> None:
    from rich.text import Text

    if as_json:
        print_json("code-table", {**_about(table), "codes": [_plain(CodeHit(table, code)) for code in table.codes]})
        return
    console = make_console()
    console.print(Text(clean(table.table.title), style="bold"))
    if console.width < WIDE:
        console.print(_grid(("Code", "Meaning"), [(code.code, f"{code.meaning}\n({_place(code)})") for code in table.codes]))
    else:
        rows = [(code.code, code.phase, code.kind, _stage(code), code.meaning) for code in table.codes]
        console.print(_grid(("Code", "Phase", "Kind", "Stage", "Meaning"), rows))
    console.print(Text(clean(f"Source: {table.table.source}"), style="dim"))


def _show_code(knowledge: Knowledge, code: str, hits: Sequence[CodeHit], as_json: bool) -> None:
    from rich.text import Text

    from nopost_cli.shared import screens

    if as_json:
        print_json("code", {"code": code, "meanings": [_plain(hit) for hit in hits]})
        return
    console = make_console()
    named = len({hit.table.id for hit in hits})
    if named > 1:
        console.print(Text(f"{clean(code)} is in {named} tables; which of them holds depends on the board's firmware."))
    for hit in hits:
        console.print(Text(clean(f"{hit.table.id}: {hit.code.code}{f' ({LOW_BYTE})' if hit.wide else ''}"), style="bold"))
        for label, text in _lines(knowledge, hit.code):
            console.print(screens.line(label, text))


def _lines(knowledge: Knowledge, code: Code) -> Iterator[tuple[str, str]]:
    yield "Meaning", code.meaning
    yield "Place", _place(code)
    if code.symbol or code.status:
        yield "Symbol", " ".join(part for part in (code.symbol, f"(status {code.status})" if code.status else "") if part)
    if code.suspects:
        yield "Suspects", "; ".join(knowledge.causes[name].title for name in code.suspects)
    if code.note:
        yield "Note", code.note


def _place(code: Code) -> str:
    return ", ".join(part for part in (code.kind, f"phase {code.phase}", f"stage {_stage(code)}" if code.stage else "") if part)


def _stage(code: Code) -> str:
    return code.stage.replace("-", " ")


def show_search(knowledge: Knowledge, wanted: Sequence[str], as_json: bool) -> None:
    """Codes in whose meaning, symbol or note all the words occur."""
    from rich.text import Text

    from nopost.codes.tables import TableSet
    from nopost_cli.shared import screens

    parts = [part for word in wanted for part in word.casefold().split()]
    every = TableSet(knowledge.codes).tables.values()
    hits = [CodeHit(table, code) for table in every for code in table.codes if _has(code, parts)]
    if as_json:
        print_json("code-search", {"words": parts, "codes": [_plain(hit) for hit in hits]})
        return
    console = make_console()
    if not hits:
        console.print(Text(clean(f"No meaning, symbol or note has: {' '.join(parts)}")))
        return
    if console.width < WIDE:
        for hit in hits:
            console.print(Text(clean(f"{hit.table.id}: {hit.code.code}"), style="bold"))
            console.print(screens.line("Meaning", hit.code.meaning))
            if hit.code.symbol:
                console.print(screens.line("Symbol", hit.code.symbol))
        return
    rows = [(hit.table.id, hit.code.code, hit.code.meaning, hit.code.symbol) for hit in hits]
    console.print(_grid(("Table", "Code", "Meaning", "Symbol"), rows))


def _has(code: Code, parts: Sequence[str]) -> bool:
    text = f"{code.meaning}\n{code.symbol}\n{code.note}".casefold()
    return all(part in text for part in parts)


def _plain(hit: CodeHit) -> dict[str, Any]:
    code = hit.code
    return {
        "table": hit.table.id,
        "code": code.code,
        "low_byte_only": hit.wide,
        "phase": code.phase,
        "kind": code.kind,
        "stage": code.stage or None,
        "meaning": code.meaning,
        "repeats": code.repeats,
        "symbol": code.symbol or None,
        "status": code.status or None,
        "suspects": list(code.suspects),
        "note": code.note or None,
    }


def _grid(titles: Sequence[str], rows: Iterable[Sequence[str]], right: int | None = None) -> RenderableType:
    from rich.table import Table as Grid
    from rich.text import Text

    grid = Grid(box=None, padding=(0, 1))
    for number, title in enumerate(titles):
        grid.add_column(title, overflow="fold", justify="right" if number == right else "left")
    for row in rows:
        grid.add_row(*(Text(clean(cell)) for cell in row))
    return grid
