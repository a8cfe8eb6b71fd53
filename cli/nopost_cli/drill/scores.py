"""`nopost drill scores`: what someone has done, and what is due again."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date
from pathlib import Path

import click

from nopost.errors import UnknownNameError
from nopost_cli.shared.options import json_option, kb_option, knowledge_of
from nopost_cli.shared.terminal import clean, make_console, print_json


@click.command("scores", short_help="Show what someone has done, and what is due again.")
@click.argument("name", required=False, default="")
@json_option
@kb_option
def command(name: str, as_json: bool, kb: Path | None) -> None:
    """Show the exercises of NAME and which causes are due again; without NAME, everyone with scores."""
    from rich.table import Table
    from rich.text import Text

    from nopost.training import progress

    known = progress.apprentices()
    if not name:
        _everyone(known, as_json)
        return
    if name not in known:
        raise UnknownNameError("apprentice with scores", name, known)
    done = progress.load_scores(name)
    cards = sorted(progress.cards_of(done).items(), key=lambda pair: (pair[1].due, pair[0]))
    if as_json:
        due = [
            {"cause": cause, "due": card.due.isoformat(), "ease": card.ease, "attempts": card.attempts} for cause, card in cards
        ]
        print_json("scores", {"name": name, "attempts": [asdict(score) for score in done], "due": due})
        return
    titles = {cause.id: cause.title for cause in knowledge_of(kb).causes.values()}
    console = make_console()
    table = Table(box=None, padding=(0, 1))
    for title in ("Day", "Level", "What it was", "Steps", "Effort", "Score"):
        table.add_column(title, overflow="fold")
    for score in done:
        was = "; ".join(titles.get(cause, cause) for cause in score.causes)
        times = f"{score.spent / score.model_spent:.1f} ×" if score.model_spent else "-"
        cells = (score.day, score.level or "case", was, str(score.steps), times, f"{score.quality} of 5")
        table.add_row(*(Text(clean(cell)) for cell in cells))
    console.print(table)
    console.print(Text("Effort is told in times that of the advice on the same machine.", style="dim"))
    console.print(Text("\nComes again", style="bold"))
    for cause, card in cards:
        when = "now" if card.due <= date.today() else f"from {card.due.isoformat()}"
        console.print(Text(clean(f"  {when}: {titles.get(cause, cause)}")))


def _everyone(known: list[str], as_json: bool) -> None:
    from rich.text import Text

    from nopost.training import progress

    rows = [(name, progress.load_scores(name)) for name in known]
    if as_json:
        everyone = [{"name": name, "exercises": len(done)} for name, done in rows]
        print_json("apprentices", {"folder": str(progress.scores_dir()), "apprentices": everyone})
        return
    console = make_console()
    if not rows:
        console.print("There are no scores yet; begin with: nopost drill --name NAME")
    for name, done in rows:
        mean = sum(score.quality for score in done) / len(done) if done else 0.0
        console.print(Text(clean(f"{name}: {len(done)} exercise{'' if len(done) == 1 else 's'}, on average {mean:.1f} of 5")))
