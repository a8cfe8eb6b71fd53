"""`python -m tests.bench`: measure all, or some sections by name."""

from __future__ import annotations

import argparse
import importlib
import json
from collections.abc import Iterator, Sequence

from rich.console import Console
from rich.table import Table

from bench.environment import environment
from bench.section import Options, Section, shown

SECTIONS = {
    "belief": "posterior and next step by size, beside pyAgrum",
    "growth": "how cost grows with causes, findings and answers given",
    "steps": "the next step on the shipped base, part by part",
    "rules": "experta, plain Python and CLIPS on the same states",
    "batch": "logs per second by cores",
    "start": "cold start of each command",
    "memory": "most memory held",
    "advice": "advice against the optimum and against published figures",
}


def main(arguments: Sequence[str] | None = None) -> None:
    """Run and print."""
    asked = parsed(arguments)
    options = Options(quick=asked.quick, seed=asked.seed, **({"causes_findings": tuple(asked.sizes)} if asked.sizes else {}))
    where = environment(asked.seed)
    console = Console(stderr=asked.json)
    for name, value in where.items():
        console.print(f"{name}: {value}", style="dim", highlight=False)
    done: dict[str, list[Section]] = {}
    for name in asked.sections or SECTIONS:
        done[name] = list(run(name, options, console))
    if asked.json:
        data = {"environment": where, "sections": {name: [s.data() for s in found] for name, found in done.items()}}
        print(json.dumps(data, indent=2, ensure_ascii=False))


def run(name: str, options: Options, console: Console) -> Iterator[Section]:
    """Measure one section and print its tables as they are ready."""
    with console.status(f"{name}: {SECTIONS[name]}"):
        found: list[Section] = importlib.import_module(f"bench.{name}").sections(options)
    for section in found:
        console.print()
        console.print(fitting(section, console))
        for note in section.notes:
            console.print(note, style="dim", highlight=False)
        yield section


def fitting(section: Section, console: Console) -> Table:
    """As wide as need be if there is room; else with narrow columns, on its side when it only fits so."""
    whole = drawn(section)
    if whole.__rich_measure__(console, console.options).maximum <= console.width:
        return whole
    ways = [drawn(section, narrow=True), drawn(section.turned(), narrow=True)]
    least = [way.__rich_measure__(console, console.options).minimum for way in ways]
    return ways[0] if least[0] <= max(console.width, least[1]) else ways[1]


def drawn(section: Section, narrow: bool = False) -> Table:
    """For the terminal; narrow columns are as wide as their longest word."""
    rows = [[shown(cell) for cell in row] for row in section.rows]
    table = Table(title=section.title, title_justify="left", title_style="bold")
    for k, column in enumerate(section.columns):
        words = " ".join([column, *(row[k] for row in rows)]).split()
        width = max(map(len, words)) if narrow and k else None
        table.add_column(column, justify="right" if k else "left", width=width, min_width=max(map(len, words)))
    for row in rows:
        table.add_row(*row)
    return table


def size(text: str) -> tuple[int, int]:
    """`200x300`: causes and findings."""
    causes, findings = (int(part) for part in text.lower().replace("×", "x").split("x"))
    return causes, findings


def parsed(arguments: Sequence[str] | None) -> argparse.Namespace:
    """The options."""
    lines = "\n".join(f"  {name:8} {what}" for name, what in SECTIONS.items())
    parser = argparse.ArgumentParser(
        prog="python -m tests.bench", description=f"Benchmarks, each with its reference in the same run.\n\nsections:\n{lines}",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )  # fmt: skip
    parser.add_argument("sections", nargs="*", metavar="SECTION", help="which; all when none is named")
    parser.add_argument("--quick", action="store_true", help="few repeats and few episodes")
    parser.add_argument("--seed", type=int, default=1, help="of everything that is drawn (default 1)")
    parser.add_argument(
        "--size", dest="sizes", type=size, action="append", metavar="CAUSESxFINDINGS", help="generated bases of this size instead"
    )
    parser.add_argument("--json", action="store_true", help="numbers as JSON; the tables go to standard error")
    asked = parser.parse_args(arguments)
    unknown = [name for name in asked.sections if name not in SECTIONS]
    if unknown:
        parser.error(f"no section is called {unknown[0]}; there are {', '.join(SECTIONS)}")
    return asked


if __name__ == "__main__":
    main()
