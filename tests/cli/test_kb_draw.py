"""`nopost kb draw`: a person's way to a map, a chart or a page on paper."""

from __future__ import annotations

import subprocess
import xml.etree.ElementTree as ET
from collections.abc import Callable
from pathlib import Path

import pytest

from cli.terminal import words
from nopost.knowledge.model import Knowledge

Run = Callable[..., subprocess.CompletedProcess[str]]
SVG = "{http://www.w3.org/2000/svg}"


@pytest.mark.parametrize(
    ("drawing", "suffix"),
    [
        (("map", "--cause", "board-dead", "--top", "9"), "svg"),
        (("chart", "--levels", "1"), "pdf"),
        (("chart", "--levels", "1", "--paper", "letter"), "svg"),
        (("page", "board-dead"), "pdf"),
    ],
)
def test_one_file_or_numbered_ones(run: Run, tmp_path: Path, drawing: tuple[str, ...], suffix: str) -> None:
    """One PDF, or an SVG for each page; what was written is said."""
    done = run("kb", "draw", *drawing, "--out", str(tmp_path / f"drawing.{suffix}"))
    assert (done.returncode, done.stderr) == (0, "")
    files = sorted(tmp_path.glob(f"drawing*.{suffix}"))
    assert files
    assert str(files[0]) in words(done.stdout).replace("\n", "")
    if suffix == "pdf":
        assert len(files) == 1
        assert files[0].read_bytes().startswith(b"%PDF-")
    else:
        shown = [ET.parse(file).getroot().find(f"{SVG}text") for file in files]
        assert all(text is not None and text.text for text in shown)


@pytest.mark.slow
def test_nothing_is_written_over(run: Run, tmp_path: Path) -> None:
    """Not the file itself, nor one of several; with --force it is, and the same input gives the same file."""
    target = tmp_path / "a.pdf"
    command = ("kb", "draw", "map", "--part", "memory", "--out", str(target))
    target.write_text("mine", encoding="utf-8")
    done = run(*command)
    assert (done.returncode, target.read_text(encoding="utf-8")) == (1, "mine")
    assert "--force" in done.stderr
    files = []
    for _ in range(2):
        assert run(*command, "--force").returncode == 0
        files.append(target.read_bytes())
    assert files[0] == files[1] != b"mine"
    (tmp_path / "b-2.svg").write_text("mine", encoding="utf-8")
    done = run("kb", "draw", "page", "memory-not-seated", "--out", str(tmp_path / "b.svg"))
    assert done.returncode == 1
    assert not (tmp_path / "b-1.svg").exists()


@pytest.mark.slow
@pytest.mark.parametrize(
    ("args", "code", "said"),
    [
        (("page", "memory-not-sated"), 1, "did you mean memory-not-seated"),
        (("map", "--part", "memori"), 1, "did you mean memory"),
        (("page",), 2, "Missing argument"),
        (("mapp",), 2, "No such command"),
        (("map", "--out", "map.png"), 2, "must end in .pdf or .svg"),
        (("map", "--out", "nowhere/map.pdf"), 1, "no such folder"),
        (("map", "--out", "x.svg", "--font", __file__), 2, "--font is for a PDF"),
        (("map", "--font", __file__), 1, "no font that can be used"),
        (("chart", "--levels", "0"), 2, "--levels"),
        (("chart", "--least", "nan"), 2, "must be a number"),
        (("map", "--kb", "nowhere"), 1, "nowhere"),
    ],
)
def test_mistakes(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, args: tuple[str, ...], code: int, said: str) -> None:
    """Each has one clear line, and no file is left."""
    monkeypatch.chdir(tmp_path)
    done = run("kb", "draw", *args)
    assert done.returncode == code, done.stderr
    assert said in done.stderr
    assert "Traceback" not in done.stderr
    assert [path.name for path in tmp_path.iterdir() if path.is_file()] == []


@pytest.mark.slow
def test_date_and_edition_at_the_head(run: Run, tmp_path: Path, knowledge: Knowledge) -> None:
    """The date only when it is given."""
    edition = f"edition {knowledge.base.edition}"
    for date in ("", "<5 May>"):
        target = tmp_path / f"{bool(date)}.svg"
        assert run("kb", "draw", "map", "--part", "display", "--out", str(target), "--date", date).returncode == 0
        lines = [text.text for text in ET.parse(target).getroot().iter(f"{SVG}text")]
        assert (f"{edition}, <5 May>" if date else edition) in lines
