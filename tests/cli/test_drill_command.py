"""`nopost drill` at a terminal and in pipes, through the real entry point."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path

import pytest

from cli.terminal import Terminal, environment, nopost, words

NAMING = "The cause: a word, then a number (Enter: I do not know, q: leave) >"


def run(home: Path, *args: str) -> subprocess.CompletedProcess[str]:
    """`nopost drill` with these words, through pipes."""
    return nopost("drill", *args, home=home)


def walk(terminal: Terminal, *lines: str) -> str:
    """Type lines at the prompt; what is on screen at the end."""
    terminal.prompt()
    for line in lines:
        terminal.say(line)
    return words(terminal.text)


@pytest.mark.slow
@pytest.mark.parametrize("columns", [60, 200])
def test_from_complaint_to_debrief(tmp_path: Path, columns: int) -> None:
    """Look, ask for a hint, do what is hinted, give it away, name the cause; the score is kept and comes again."""
    with Terminal(["drill", "--case", "tb-slipped-screwdriver", "--name", "ab"], environment(tmp_path), columns) as terminal:
        shown = walk(terminal, "gibberish", "", "99", "?", "board-look", "1", "h", "1", "k", "p")
        assert "The owner says" in shown
        assert "Nothing here is about 'gibberish'" in shown
        assert "Type a word, a number of the list" in shown
        assert "There is no number 99" in shown
        assert "Every step costs its effort" in shown
        assert "→" in shown
        assert "Since then" in shown
        assert "Spent so far: 0 s" in shown
        begin = len(terminal.text)
        terminal.type("x\n")
        terminal.wait_for("Type yes:", begin)
        terminal.type("yes\n")
        terminal.wait_for(NAMING, begin)
        terminal.type("knocked\n")
        terminal.wait_for("1 A tool or a part scraped", begin)
        terminal.type("1\n")
        assert terminal.end() == 0
        shown = words(terminal.text[begin:])
        assert "It was" in shown
        assert "That is right." in shown
        assert "Hints: 1." in shown
        assert "Your steps" in shown
    assert "ab: 1 exercise," in run(tmp_path, "scores").stdout
    assert "board-part-knocked-off" in run(tmp_path, "scores", "ab", "--json").stdout


@pytest.mark.slow
def test_a_class_does_the_same(tmp_path: Path) -> None:
    """The same seed, the same complaint; Ctrl-C leaves and keeps no score."""
    complaints = []
    for number in range(2):
        with Terminal(["drill", "--seed", "11", "--name", f"n{number}"], environment(tmp_path)) as terminal:
            complaints.append(words(terminal.prompt()))
            terminal.press_until("\x03", "no score is kept")
            assert terminal.end() == 0
    assert complaints[0] == complaints[1]
    assert "There are no scores yet" in run(tmp_path, "scores").stdout


@pytest.mark.slow
def test_no_terminal_and_wrong_words(tmp_path: Path) -> None:
    """Each is one clear line and exit code 1 or 2."""
    for args, code, said in (
        ([], 2, "there is no terminal"),
        (["--seed", "1", "--case", "tb-slipped-screwdriver"], 2, "leave one of them out"),
        (["scores", "nobody"], 1, "no apprentice with scores is called"),
        (["--name", "../x"], 1, "cannot be a name"),
        (["sheets"], 2, "did you mean sheet"),
    ):
        done = run(tmp_path, *args)
        assert done.returncode == code
        assert said in done.stderr
        assert "Traceback" not in done.stderr


@pytest.mark.slow
def test_sheets(tmp_path: Path) -> None:
    """Printed or written, the same for the same seed; a file that is there is not written over unasked."""
    out = tmp_path / "sheets.html"
    first, again = (run(tmp_path, "sheet", "--count", "1", "--seed", "4").stdout for _ in range(2))
    assert first == again
    assert "## Answers to exercise 1" in first
    assert run(tmp_path, "sheet", "--count", "1", "--format", "html", "--out", str(out)).returncode == 0
    assert out.read_text(encoding="utf-8").startswith("<!doctype html>")
    refused = run(tmp_path, "sheet", "--count", "1", "--out", str(out))
    assert refused.returncode == 1
    assert "is there already" in refused.stderr


def test_scores_json(tmp_path: Path) -> None:
    """Format and version stay what they are."""
    found = json.loads(run(tmp_path, "scores", "--json").stdout)
    assert (found["format"], found["version"], found["apprentices"]) == ("nopost-apprentices", 1, [])
