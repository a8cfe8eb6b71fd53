"""`nopost kb learn`: what closed cases, or whole situations that were judged, say about the numbers, accepted one by one."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
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

    from nopost.evaluation.learning import Proposal, ProposedNumber
    from nopost.knowledge.model import Case, Knowledge

NOUNS = {"weight": "how common", "shows": "what it shows", "fixes": "what mends it"}
NUMBERS = ("Counted", "Now", "Proposed", "Interval")
LONGEST_NAME = 30
"""Columns that an answer's name gets unbroken in a narrow window."""
UNBOUND = 10_000
"""Columns in which every table has the room it would like."""


@dataclass(frozen=True)
class Learned:
    """What was learnt. `told`: of what, in one sentence; `mark`, `where_from`: for the source of a number; `facts`: for JSON;
    `counted`: whether the proposals have counts and intervals."""

    found: Sequence[Proposal]
    told: str
    mark: str
    where_from: str
    facts: dict[str, float]
    counted: bool = True


@click.command("learn", short_help="Propose new numbers from closed cases or judged situations.")
@click.argument("cases", nargs=-1, type=click.Path(path_type=Path, exists=True))
@click.option("--sessions", is_flag=True, help="Count the kept sessions too that ended with a mended machine.")
@click.option("--strength", type=click.FloatRange(0.1, 1e6), default=20.0, show_default=True, help="Cases a number counts for.")
@click.option(
    "--weight-strength", type=click.FloatRange(1, 1e9), default=500.0, show_default=True, help="Cases all weights count for."
)
@click.option(
    "--judged",
    "judged",
    multiple=True,
    type=click.Path(path_type=Path, exists=True, dir_okay=False),
    metavar="FILE",
    help="Fit the numbers to situations that somebody judged as a whole, instead of counting cases.",
)
@click.option(
    "--spread",
    type=click.FloatRange(0.01, 3),
    default=0.3,
    show_default=True,
    help="How far a judged number may be off: standard deviation of its natural logarithm.",
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
    judged: tuple[Path, ...],
    spread: float,
    patch: str,
    force: bool,
    accept: bool,
    as_json: bool,
    kb: Path | None,
) -> None:
    """Count what closed CASES (files or folders) say and propose new numbers for the causes of --kb.

    A number in a file counts like --strength cases; the closed ones are added to it. With --judged the numbers are moved towards
    what somebody says of whole situations. Nothing is written unless you say --patch or --accept.
    """
    kb = own_base(kb)
    _check_options(cases, sessions, judged, accept, as_json or bool(patch))
    if patch:
        refuse_existing(patch, force)
    knowledge = knowledge_of(kb)
    learned = _fitted(knowledge, judged, spread) if judged else _counted(knowledge, cases, sessions, strength, weight_strength)
    if as_json:
        print_json("proposals", {**learned.facts, "proposals": [asdict(p) for p in learned.found]})
        return
    _show(learned)
    if accept:
        _accept(kb, learned)
    elif patch:
        from nopost.evaluation.learning import changed_files, unified_patch

        text = unified_patch(changed_files(kb, learned.found, learned.where_from, learned.mark), kb)
        write_result(patch, text)
        click.echo(f"{patch}: {len(learned.found)} proposals; apply it inside {kb} with: patch -p1")


def _check_options(cases: Sequence[Path], sessions: bool, judged: Sequence[Path], accept: bool, elsewhere: bool) -> None:
    """Raise UsageError for options that do not go together."""
    if judged and (cases or sessions):
        raise click.UsageError("--judged goes without cases: learn from one, then from the other")
    if not (cases or sessions or judged):
        raise click.UsageError("name case files or folders, or say --sessions or --judged")
    if accept and elsewhere:
        raise click.UsageError("--accept asks at the terminal; it goes with neither --json nor --patch")
    if accept:
        need_terminal("leave --accept out, or write a patch with --patch FILE")


def _counted(knowledge: Knowledge, paths: Sequence[Path], sessions: bool, strength: float, weight_strength: float) -> Learned:
    """Proposals from closed cases."""
    from nopost.diagnosis.belief.posterior import BeliefModel
    from nopost.evaluation.case_files import read_cases
    from nopost.evaluation.learning import SOURCE_MARK, count_cases, propose

    model = BeliefModel(knowledge)
    closed = [*read_cases(paths, knowledge), *(_kept(knowledge) if sessions else ())]
    if not closed:
        raise NopostError("no session is kept that ended with a mended machine" if sessions else "there are no case files in it")
    counts = count_cases(model, closed)
    if not counts.cases:
        raise NopostError(f"none of the {len(closed)} cases says what it turned out to be (expect: cause)")
    found = propose(model, counts, strength, weight_strength)
    skipped = f"; {counts.open_cases} without a known cause left out" if counts.open_cases else ""
    told = f"{counts.cases} closed case{'' if counts.cases == 1 else 's'}{skipped}."
    facts = {"cases": counts.cases, "open_cases": counts.open_cases, "strength": strength, "weight_strength": weight_strength}
    return Learned(found, told, SOURCE_MARK, f"{counts.cases}, up to {date.today().isoformat()}", facts)


def _fitted(knowledge: Knowledge, files: Sequence[Path], spread: float) -> Learned:
    """Proposals from judged situations."""
    from nopost.diagnosis.diagnose import Ranker
    from nopost.evaluation.judged_situations import read_judged
    from nopost.evaluation.judgement_fit import SOURCE_MARK, fit_judgements, fitted_numbers

    ranker, situations = Ranker(knowledge), read_judged(files, knowledge)
    fit = fit_judgements(ranker, situations, spread)
    told = (
        f"{fit.situations} judged situation{'' if fit.situations == 1 else 's'}. The judgement is {fit.before:.2f} bits "
        f"away from the numbers as they are, {fit.after:.2f} from those proposed."
    )
    facts = {"situations": fit.situations, "spread": spread, "bits_before": fit.before, "bits_after": fit.after}
    where_from = f"{fit.situations}, {date.today().isoformat()}"
    return Learned(fitted_numbers(ranker, fit), told, SOURCE_MARK, where_from, facts, counted=False)


def _kept(knowledge: Knowledge) -> Iterator[Case]:
    """Kept sessions that ended well, as cases."""
    from nopost.evaluation.learning import closed_case
    from nopost.store.sessions import Session, load_all

    for _, session in load_all(knowledge):
        case = closed_case(session.name, session.history, knowledge) if isinstance(session, Session) else None
        if case is not None:
            yield case


def _show(learned: Learned) -> None:
    from rich.text import Text

    from nopost_cli.shared import screens

    console, found = make_console(), learned.found
    if not found:
        console.print(Text(f"{learned.told} They ask for no other number than those written."))
        return
    proposals = f"{len(found)} proposal{'' if len(found) == 1 else 's'}"
    intervals = "; each interval holds 90 of 100" if learned.counted else ""
    console.print(Text(f"{learned.told} {proposals}{intervals}."))
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
        evidence = f" ({interval}), counted {counted}" if counted else ""
        grid.add_row(Text(clean(name)), Text(f"now {now}, proposed {proposed}{evidence}"))
    return grid


def _numbers(entry: ProposedNumber) -> tuple[str, str, str, str]:
    """Counted, now, proposed, interval; the first and the last empty where no cases were counted."""
    if entry.counted is None:
        return "", f"{entry.old:.3g}", f"{entry.new:.3g}", ""
    return f"{entry.counted:.3g}", f"{entry.old:.3g}", f"{entry.new:.3g}", f"{entry.low:.3g} to {entry.high:.3g}"


def _table(found: Sequence[Proposal]) -> Table:
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, padding=(0, 1))
    shown = slice(None) if found[0].entries[0].counted is not None else slice(1, 3)
    for title in ("Cause", "What", *NUMBERS[shown]):
        table.add_column(title, overflow="fold", justify="left" if title in ("Cause", "What") else "right")
    for proposal in found:
        for place, entry in enumerate(proposal.entries):
            name = proposal.cause if place == 0 else ""
            what = f"{proposal.item}: {entry.name}" if proposal.kind == "shows" else proposal.item
            table.add_row(*(Text(clean(cell)) for cell in (name, what, *_numbers(entry)[shown])))
    return table


def _accept(kb: Path, learned: Learned) -> None:
    """Ask for each; write what was accepted, also when the person leaves before the end."""
    from rich.text import Text

    accepted: list[Proposal] = []
    console = make_console()
    try:
        for number, proposal in enumerate(learned.found, 1):
            console.print(Text(f"\nProposal {number} of {len(learned.found)}: {NOUNS[proposal.kind]}", style="bold"))
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
    _write(kb, accepted, learned)


def _write(kb: Path, accepted: Sequence[Proposal], learned: Learned) -> None:
    from nopost.evaluation.learning import changed_files
    from nopost.linting.runner import examine

    changed = changed_files(kb, accepted, learned.where_from, learned.mark)
    for path, (_, new) in changed.items():
        write_result(path, new)
    click.echo(f"{len(accepted)} accepted, {len(changed)} file{'' if len(changed) == 1 else 's'} written")
    problems = examine(kb)[1]
    for problem in problems:
        click.echo(clean(str(problem)), err=True)
    if problems:
        raise NopostError("the changed files have these problems; mend them, or take the old ones back")
