"""`nopost kb format` through the real entry point."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

from cli.terminal import command, environment
from nopost.knowledge.edit.new_base import NewBase, empty_files, write_base

ACTION = """\
id: fill
title:   Fill it
steps: ["Fill it to the line.",
  "Close it."] # both
"""
CANONICAL = """\
id: fill
title: Fill it
steps: ["Fill it to the line.", "Close it."]  # both
"""


def formatted(home: Path, base: Path, *args: str) -> subprocess.CompletedProcess[str]:
    """`nopost kb format` on this base."""
    words = command("kb", "format", "--kb", str(base), *args)
    return subprocess.run(words, env=environment(home), capture_output=True, text=True, timeout=90)


@pytest.fixture
def base(tmp_path: Path) -> Path:
    """An empty base with one action that is not canonical."""
    folder = tmp_path / "my base"
    write_base(folder, empty_files(NewBase()))
    (folder / "actions" / "fill.yaml").write_text(ACTION, encoding="utf-8")
    return folder


@pytest.mark.slow
def test_format(tmp_path: Path, base: Path) -> None:
    """Checked, then written, then in order; the rest of the base is not touched."""
    path, before = base / "actions" / "fill.yaml", (base / "base.yaml").read_bytes()
    done = formatted(tmp_path, base, "--check")
    assert (done.returncode, done.stderr) == (1, "")
    assert done.stdout == f"Not in this form: {path}\n1 of 2 files would change.\n"
    assert path.read_text(encoding="utf-8") == ACTION
    done = formatted(tmp_path, base)
    assert (done.returncode, done.stderr, done.stdout) == (0, "", f"Formatted: {path}\n1 of 2 files changed.\n")
    assert path.read_text(encoding="utf-8") == CANONICAL
    assert (base / "base.yaml").read_bytes() == before
    done = formatted(tmp_path, base, "--check")
    assert (done.returncode, done.stdout) == (0, "0 of 2 files would change.\n")


def test_refused_files_stay(tmp_path: Path, base: Path) -> None:
    """What cannot be read, and what would lose a comment: said with the place, the rest is done, exit code 1."""
    (base / "actions" / "twice.yaml").write_text("id: a\nid: b\n", encoding="utf-8")
    (base / "actions" / "noted.yaml").write_text("id: [a,  # first\n  b]\n", encoding="utf-8")
    done = formatted(tmp_path, base)
    assert done.returncode == 1
    assert "twice.yaml:2: duplicate-key" in done.stderr
    assert "noted.yaml: cannot be changed by a program: it has a comment between braces" in done.stderr
    assert done.stdout.endswith("1 of 4 files changed, 2 left as they are.\n")
    assert (base / "actions" / "noted.yaml").read_text(encoding="utf-8") == "id: [a,  # first\n  b]\n"
