"""`nopost kb learn`: what closed cases say about the numbers, accepted one by one."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from nopost.errors import NopostError
from nopost_cli.shared.options import json_option, knowledge_of, own_base
from nopost_cli.shared.prompts import need_terminal
from nopost_cli.shared.terminal import clean, make_console, print_json, refuse_existing, write_result

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

    from nopost.evaluation.learning import CaseCounts, Proposal, ProposedNumber
    from nopost.knowledge.model import Case, Knowledge

NOUNS = {"weight": "how common", "shows": "what it shows", "fixes": "what mends it"}
NUMBERS = ("Counted", "Now", "Proposed", "Interval")
LONGEST_NAME = 30
"""Columns that an answer's name gets unbroken in a narrow window."""
UNBOUND = 10_000
"""Columns in which every table has the room it would like."""


@click.command("learn", short_help="Propose new numbers from closed cases.")
@click.argument("cases", nargs=-1, type=click.Path(path_type=Path, exists=True))
@click.option("--sessions", is_flag=True, help="Count the kept sessions too that ended with a mended machine.")
@click.option("--strength", type=click.FloatRange(0.1, 1e6), default=20.0, show_default=True, help="Cases a number counts for.")
@click.option(
    "--weight-strength", type=click.FloatRange(1, 1e9), default=500.0, show_default=True, help="Cases all weights count for."
)
@click.option("--patch", metavar="FILE", default="", help="Write all proposals as a patch, to be looked at and applied by hand.")
@click.option("--force", is_flag=True, help="Write over a patch that is there.")
@click.option("--accept", is_flag=True, help="Ask for each proposal at the terminal and write those you accept.")
@json_option
@click.option(
    "--kb",
    "kb",
    metavar="DIR",
    type=click.Path(path_type=Path, exists=True, file_okay=False),
    help="Your own base; default: this folder.",
)
def command(
    cases: tuple[Path, ...],
    sessions: bool,
    strength: float,
    weight_strength: float,
    patch: str,
    force: bool,
    accept: bool,
    as_json: bool,
    kb: Path | None,
) -> None:
    """Count what closed CASES (files or folders) say and propose new numbers for the causes of --kb.

    A number in a file counts like --strength cases; the closed ones are added to it. Nothing is written unless you say --patch or
    --accept.
    """
    kb = own_base(kb)
    if not cases and not sessions:
        raise click.UsageError("name case files or folders, or say --sessions")
    if accept and (as_json or patch):
        raise click.UsageError("--accept asks at the terminal; it goes with neither --json nor --patch")
    if accept:
        need_terminal("leave --accept out, or write a patch with --patch FILE")
    if patch:
        refuse_existing(patch, force)
    knowledge = knowledge_of(kb)
    counts, found = _proposals(knowledge, cases, sessions, strength, weight_strength)
    if as_json:
        data = {"cases": counts.cases, "open_cases": counts.open_cases, "strength": strength, "weight_strength": weight_strength}
        print_json("proposals", {**data, "proposals": [asdict(p) for p in found]})
        return
    _show(counts, found)
    if accept:
        _accept(kb, found, counts)
    elif patch:
        from nopost.evaluation.learning import changed_files, unified_patch

        text = unified_patch(changed_files(kb, found, _where_from(counts)), kb)
        write_result(patch, text)
        click.echo(f"{patch}: {len(found)} proposals; apply it inside {kb} with: patch -p1")


def _proposals(
    knowledge: Knowledge, paths: Sequence[Path], sessions: bool, strength: float, weight_strength: float
) -> tuple[CaseCounts, list[Proposal]]:
    from nopost.diagnosis.belief.posterior import BeliefModel
    from nopost.evaluation.case_files import read_cases
    from nopost.evaluation.learning import count_cases, propose

    model = BeliefModel(knowledge)
    closed = [*read_cases(paths, knowledge), *(_kept(knowledge) if sessions else ())]
    if not closed:
        raise NopostError("no session is kept that ended with a mended machine" if sessions else "there are no case files in it")
    counts = count_cases(model, closed)
    if not counts.cases:
        raise NopostError(f"none of the {len(closed)} cases says what it turned out to be (expect: cause)")
    return counts, propose(model, counts, strength, weight_strength)


def _kept(knowledge: Knowledge) -> Iterator[Case]:
    """Kept sessions that ended well, as cases."""
    from nopost.evaluation.learning import closed_case
    from nopost.store.sessions import Session, load_all

    for _, session in load_all(knowledge):
        case = closed_case(session.name, session.history, knowledge) if isinstance(session, Session) else None
        if case is not None:
            yield case


def _show(counts: CaseCounts, found: Sequence[Proposal]) -> None:
    from rich.text import Text

    from nopost_cli.shared import screens

    console = make_console()
    skipped = f"; {counts.open_cases} without a known cause left out" if counts.open_cases else ""
    closed = f"{counts.cases} closed case{'' if counts.cases == 1 else 's'}{skipped}."
    if not found:
        console.print(Text(f"{closed} They ask for no other number than those written."))
        return
    proposals = f"{len(found)} proposal{'' if len(found) == 1 else 's'}"
    console.print(Text(f"{closed} {proposals}; each interval holds 90 of 100."))
    for kind, noun in NOUNS.items():
        of_kind = [p for p in found if p.kind == kind]
        if of_kind:
            console.print(screens.heading(console, noun[0].upper() + noun[1:]))
            _print_table(console, of_kind)


def _print_table(console: Console, found: Sequence[Proposal]) -> None:
    """One table; where the window is too narrow for it in words under each cause and item, so that no name is broken."""
    from rich.text import Text

    table = _table(found)
    if console.measure(table, options=console.options.update(width=UNBOUND)).maximum <= console.width:
        console.print(table)
        return
    for proposal in found:
        named = f"{proposal.cause}: {proposal.item}" if proposal.item else proposal.cause
        console.print(Text(clean(named), style="bold"))
        console.print(_in_words(proposal))


def _in_words(proposal: Proposal) -> Table:
    """The numbers of a proposal without columns for them."""
    from rich.table import Table
    from rich.text import Text

    grid = Table.grid(padding=(0, 2))
    names = [entry.name if proposal.kind == "shows" else "" for entry in proposal.entries]
    grid.add_column(min_width=min(max(map(len, names), default=0), LONGEST_NAME), overflow="fold")
    grid.add_column(ratio=1)
    for name, entry in zip(names, proposal.entries, strict=True):
        counted, now, proposed, interval = _numbers(entry)
        grid.add_row(Text(clean(name)), Text(f"now {now}, proposed {proposed} ({interval}), counted {counted}"))
    return grid


def _numbers(entry: ProposedNumber) -> tuple[str, ...]:
    numbers = (entry.counted, entry.old, entry.new)
    return (*(f"{number:.3g}" for number in numbers), f"{entry.low:.3g} to {entry.high:.3g}")


def _table(found: Sequence[Proposal]) -> Table:
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, padding=(0, 1))
    for title in ("Cause", "What", *NUMBERS):
        table.add_column(title, overflow="fold", justify="left" if title in ("Cause", "What") else "right")
    for proposal in found:
        for place, entry in enumerate(proposal.entries):
            name = proposal.cause if place == 0 else ""
            what = f"{proposal.item}: {entry.name}" if proposal.kind == "shows" else proposal.item
            table.add_row(*(Text(clean(cell)) for cell in (name, what, *_numbers(entry))))
    return table


def _accept(kb: Path, found: Sequence[Proposal], counts: CaseCounts) -> None:
    """Ask for each; write what was accepted, also when the person leaves before the end."""
    from rich.text import Text

    accepted: list[Proposal] = []
    console = make_console()
    try:
        for number, proposal in enumerate(found, 1):
            console.print(Text(f"\nProposal {number} of {len(found)}: {NOUNS[proposal.kind]}", style="bold"))
            _print_table(console, [proposal])
            if proposal.reordered:
                console.print(Text("Bent so that the cause only pushes towards more abnormal answers."))
            answer = click.prompt("y accept, n not, q leave", type=click.Choice(["y", "n", "q"]), show_choices=False, err=True)
            if answer == "q":
                break
            if answer == "y":
                accepted.append(proposal)
    except click.Abort:
        console.print()
    _write(kb, accepted, counts)


def _write(kb: Path, accepted: Sequence[Proposal], counts: CaseCounts) -> None:
    from nopost.evaluation.learning import changed_files
    from nopost.linting.runner import examine

    changed = changed_files(kb, accepted, _where_from(counts))
    for path, (_, new) in changed.items():
        write_result(path, new)
    click.echo(f"{len(accepted)} accepted, {len(changed)} file{'' if len(changed) == 1 else 's'} written")
    problems = examine(kb)[1]
    for problem in problems:
        click.echo(clean(str(problem)), err=True)
    if problems:
        raise NopostError("the changed files have these problems; mend them, or take the old ones back")


def _where_from(counts: CaseCounts) -> str:
    return f"{counts.cases}, up to {date.today().isoformat()}"
