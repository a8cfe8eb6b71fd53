"""The trainer's manual is true to the letter: its commands are run in its order, and what it says they print is printed."""

from __future__ import annotations

import shlex
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner

from cli.manual_blocks import blocks, commands, missing
from nopost.errors import NopostError
from nopost_cli.main import cli

COFFEE = Path(__file__).resolve().parent / "coffee_kb"
SHORTER = {
    "nopost kb simulate --kb our-shop": ("--runs", "1", "--strategies", "advice"),
    "nopost drill sheet": ("--count", "1", "--level", "first"),
}
"""Beginning of a command -> what is added so that it does not take minutes."""
ASKS = ("nopost kb add", "nopost drill", "nopost kb learn closed/ --kb coffee --accept")
"""Beginnings of commands that want a person at a terminal, and say so without one; `drill sheet` and `drill scores` do not."""
PAPER = ("nopost drill sheet", "nopost drill scores")
NOTHING_YET = {
    "nopost kb learn --sessions --kb coffee": "no session is kept that ended with a mended machine",
    "nopost drill scores ab": "ab",
}
"""Commands about what a trainer has kept: here, nothing, which is said in one line."""


@pytest.fixture
def folder(tmp_path: Path, home: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty folder to work in."""
    assert home.is_dir()
    monkeypatch.setenv("COLUMNS", "200")
    work = tmp_path / "work"
    work.mkdir()
    monkeypatch.chdir(work)
    return work


def typed(line: str) -> tuple[int, str]:
    """Exit code and all output of a command line of the manual."""
    more = next((more for begin, more in SHORTER.items() if line.startswith(begin)), ())
    name, *words = shlex.split(line)
    assert name == "nopost", line
    done = CliRunner().invoke(cli, [*words, *more])
    if isinstance(done.exception, NopostError):
        return 1, str(done.exception)
    assert done.exception is None or isinstance(done.exception, SystemExit), (line, done.exc_info)
    return done.exit_code, done.output


def filled(folder: Path) -> None:
    """What the trainer has by then: the coffee base that was asked for, a copy of it from before, and closed cases."""
    shutil.copytree(COFFEE, folder / "coffee", dirs_exist_ok=True)
    shutil.copytree(folder / "coffee", folder / "coffee-before")
    closed = folder / "closed"
    closed.mkdir()
    case = (COFFEE / "cases" / "rattled-after-holidays.yaml").read_text(encoding="utf-8").replace("rattling", "silent")
    for number in range(12):
        text = case.replace("id: rattled-after-holidays", f"id: closed-{number}")
        (closed / f"closed-{number}.yaml").write_text(text, encoding="utf-8")
    bench = folder / "bench"
    bench.mkdir()
    for lines in (block.lines for block in blocks("trainer.md") if block.kind == "yaml" and block.lines[0].startswith("case: ")):
        (bench / f"{lines[0].removeprefix('case: ')}.yaml").write_text("\n".join(lines) + "\n", encoding="utf-8")
    (situations,) = (b.lines for b in blocks("trainer.md") if b.kind == "yaml" and "situations:" in b.lines)
    (folder / "judged.yaml").write_text("\n".join(situations) + "\n", encoding="utf-8")


AFTER: dict[str, Callable[[Path], None]] = {"nopost kb new coffee --empty": filled}


def judged(line: str) -> str:
    """Run it and see that it ends as it should; what it printed, or nothing when it wants a person."""
    code, printed = typed(line)
    if line.startswith(ASKS) and not line.startswith(PAPER):
        assert (code, "there is no terminal" in printed) == (2, True), (line, printed)
        return ""
    wanted = NOTHING_YET.get(line, "")
    assert (code, wanted in printed) == (1 if wanted else 0, True), (line, printed)
    return printed


def walked(folder: Path, page: str) -> Iterator[tuple[str, list[str]]]:
    """Run a page's commands in order; each with the lines of the text below that it did not print."""
    printed, last = "", ""
    for block in blocks(page):
        lines = list(commands(block))
        if lines:
            printed = ""
        for last in lines:
            printed += judged(last)
            if last in AFTER:
                AFTER[last](folder)
        if block.kind == "text" and printed:
            yield last, missing(block, printed)


@pytest.mark.slow
@pytest.mark.parametrize(("page", "shown"), [("trainer.md", 7), ("drill.md", 0)])
def test_every_command(folder: Path, page: str, shown: int) -> None:
    """Each runs, or says that it wants a person; each text below one that ran is what it prints."""
    found = list(walked(folder, page))
    assert [(line, gone) for line, gone in found if gone] == []
    assert len(found) >= shown


def test_the_files_that_it_names(folder: Path) -> None:
    """The YAML of the manual can be put into the coffee base, and nothing is wrong with it then but what it says."""
    base = Path(shutil.copytree(COFFEE, folder / "coffee"))
    instrument, checklist, exceptions, roles, renamed = (
        next(b for b in blocks("trainer.md") if b.kind == "yaml" and b.lines[0].startswith(key))
        for key in ("id: display-code", "title: What the shop", "exceptions:", "roles:", "findings:")
    )
    (base / "findings" / "display-code.yaml").write_text("\n".join(instrument.lines) + "\n", encoding="utf-8")
    (base / "checklist.yaml").write_text("\n".join(checklist.lines) + "\n", encoding="utf-8")
    code, printed = typed("nopost kb check coffee")
    assert (code, "coffee: 0 errors, 2 warnings" in printed) == (0, True), printed
    assert "Fixed checklist" in typed("nopost kb simulate --kb coffee --runs 3")[1]
    whole = (base / "base.yaml").read_text(encoding="utf-8")
    (base / "base.yaml").write_text("\n".join([whole, *roles.lines]) + "\n", encoding="utf-8")
    assert "coffee: 0 errors" in typed("nopost kb check coffee")[1]
    (base / "base.yaml").write_text(whole, encoding="utf-8")
    (base / "exceptions.yaml").write_text("\n".join(exceptions.lines) + "\n", encoding="utf-8")
    assert "idle-exception" in typed("nopost kb check coffee")[1]
    (base / "renamed.yaml").write_text("\n".join(renamed.lines) + "\n", encoding="utf-8")
    assert "renamed" not in typed("nopost kb check coffee")[1]
    (base / "checklist.yaml").write_text("title: Mine\norder:\n  - do: fill-tan\nsource: judgement\n", encoding="utf-8")
    assert (
        "checklist.yaml:3: list-name: no fix is called 'fill-tan' → did you mean fill-tank?" in typed("nopost kb check coffee")[1]
    )
