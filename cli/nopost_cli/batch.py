"""`nopost decode --batch`: many logs into one table, and what they come to."""

from __future__ import annotations

import os
import sys
import time
from collections import Counter
from pathlib import Path
from typing import Any

import click
from rich.console import Console, RenderableType
from rich.progress import BarColumn, Progress, SpinnerColumn, TextColumn, TimeRemainingColumn
from rich.table import Table
from rich.text import Text

from nopost.batch.log_row import LogRow
from nopost.batch.log_sources import LogSource, open_logs
from nopost.batch.parallel_decoding import decode_logs
from nopost.batch.row_writers import RowWriter, open_writer
from nopost.errors import NopostError
from nopost.knowledge.model import Knowledge
from nopost.text import percent
from nopost_cli.shared.options import knowledge_of
from nopost_cli.shared.terminal import clean, make_console, print_json, refuse_existing

TOP = 10
"""So many causes are shown."""
PROBLEMS = 3
"""So many problems are named."""
PATIENCE = 1.0
"""Seconds until a progress bar is shown."""
PAUSE = 0.1
"""Seconds from one change of it to the next."""


class BatchTally:
    """What the rows come to. Causes are counted where they lead, for logs that show a fault."""

    def __init__(self) -> None:
        self.logs = 0
        self.problems: list[tuple[str, str]] = []
        self.failed = 0
        self.outcomes: Counter[str] = Counter()
        self.causes: Counter[str] = Counter()

    def add(self, row: LogRow) -> None:
        """Count a row."""
        self.logs += 1
        if row.problem is not None:
            self.failed += 1
            self.problems += [(row.name, row.problem)] if self.failed <= PROBLEMS else []
        if row.outcome is not None:
            self.outcomes[row.outcome] += 1
        if row.is_faulty and row.cause_1 is not None:
            self.causes[row.cause_1] += 1


def run_batch(path: str, out: Path, kb: Path | None, workers: int | None, *, force: bool = False, as_json: bool = False) -> None:
    """Decode the logs in `path` into `out`; Ctrl-C leaves what was done under a name with `partial` in it."""
    if path != "-" and os.path.exists(path) and out.exists() and os.path.samefile(path, out):
        raise NopostError(f"{out}: that is the file the logs are read from; give --out another name")
    refuse_existing(out, force)
    knowledge = knowledge_of(kb)
    writer = open_writer(out)
    tally = BatchTally()
    began = time.monotonic()
    try:
        logs = open_logs(path, sys.stdin.buffer if sys.stdin else None, (out, writer.part))
        with BatchProgress(logs, began) as meter:
            for row in decode_logs(logs, knowledge, workers):
                writer.write(row)
                tally.add(row)
                meter.show(tally.logs)
        if not tally.logs:
            raise NopostError(f"{path}: there are no logs in it")
        writer.finish()
    except KeyboardInterrupt:
        _stopped(writer)
        raise click.exceptions.Exit(130) from None
    except BaseException:
        writer.discard()
        raise
    data = _data(tally, knowledge, out, logs, time.monotonic() - began)
    if as_json:
        print_json("batch", data)
    else:
        _print(make_console(), data)


def _stopped(writer: RowWriter) -> None:
    if not writer.count:
        writer.discard()
        click.echo("Stopped before the first log was done.", err=True)
        return
    kept = writer.finish(whole=False)
    click.echo(f"Stopped; the logs done so far ({writer.count}) are in {clean(str(kept))}.", err=True)


class BatchProgress:
    """A progress bar on standard error, if that is a terminal and it takes long enough to ask how long."""

    def __init__(self, logs: LogSource, began: float) -> None:
        self._logs, self._began, self._next = logs, began, began + PATIENCE
        self._progress: Progress | None = None
        self._watched = sys.stderr is not None and sys.stderr.isatty()

    def __enter__(self) -> BatchProgress:
        return self

    def __exit__(self, *_: object) -> None:
        if self._progress is not None:
            self._progress.stop()

    def show(self, count: int) -> None:
        """Bring it up to date."""
        now = time.monotonic()
        if not self._watched or now < self._next:
            return
        self._next = now + PAUSE
        if self._progress is None:
            self._progress = self._started()
        done = count if self._logs.unit == "files" else self._logs.done
        speed = count / (now - self._began)
        self._progress.update(self._progress.task_ids[0], completed=done, note=f"{count} logs, {speed:.0f} a second")

    def _started(self) -> Progress:
        columns = [BarColumn(), TextColumn("{task.percentage:>3.0f} %"), TimeRemainingColumn()]
        shown = columns if self._logs.total else [SpinnerColumn()]
        progress = Progress(*shown, TextColumn("{task.fields[note]}"), console=make_console(stderr=True), transient=True)
        progress.add_task("", total=self._logs.total, note="")
        progress.start()
        return progress


def _data(tally: BatchTally, knowledge: Knowledge, out: Path, logs: LogSource, seconds: float) -> dict[str, Any]:
    causes = [{"cause": name, "title": knowledge.causes[name].title, "logs": count} for name, count in _ranked(tally.causes)]
    return {
        "out": str(out),
        "logs": tally.logs,
        "seconds": round(seconds, 2),
        "outcomes": [{"outcome": name, "logs": count} for name, count in _ranked(tally.outcomes)],
        "leading_causes": causes,
        "problems": tally.failed,
        "first_problems": [{"name": name, "problem": problem} for name, problem in tally.problems],
        "skipped_links": logs.skipped,
        "earlier_results": logs.results,
    }


def _ranked(counts: Counter[str]) -> list[tuple[str, int]]:
    return sorted(counts.items(), key=lambda pair: (-pair[1], pair[0]))


def _print(console: Console, data: dict[str, Any]) -> None:
    logs = data["logs"]
    rows = [(each["outcome"].replace("-", " ").capitalize(), each["logs"]) for each in data["outcomes"]]
    rows += [("Not read", data["problems"])] if data["problems"] else []
    console.print(_table("Outcome", rows, logs))
    causes = [(each["title"], each["logs"]) for each in data["leading_causes"]]
    if causes:
        console.print(_table("Cause that leads, where a fault shows", causes[:TOP], sum(count for _, count in causes)))
    for each in data["first_problems"]:
        console.print(Text(clean(f"{each['name']}: {each['problem']}")))
    if data["problems"] > len(data["first_problems"]):
        console.print(Text(f"... and {data['problems'] - len(data['first_problems'])} more; see the column problem."))
    if data["skipped_links"]:
        console.print(Text(f"Links that were not followed: {data['skipped_links']}."))
    if data["earlier_results"]:
        console.print(Text(f"Results of earlier runs that were left out: {data['earlier_results']}."))
    pace = f"{data['seconds']:.1f} s, {logs / max(data['seconds'], 0.01):.0f} a second"
    console.print(Text(clean(f"{logs} log{'s' if logs != 1 else ''} ({pace}) in {data['out']}")))


def _table(title: str, rows: list[tuple[str, int]], total: int) -> RenderableType:
    table = Table(box=None, padding=(0, 1))
    table.add_column("Logs", justify="right")
    table.add_column("Share", justify="right")
    table.add_column(title, overflow="fold")
    for name, count in rows:
        table.add_row(str(count), percent(count / total), Text(clean(name)))
    return table
