"""Questions of the guided commands: lines break between words, slips get a clear line, Ctrl-C in a hurry ends it cleanly."""

from __future__ import annotations

import signal
from collections.abc import Callable, Iterator
from contextlib import suppress
from typing import Any

import click
import pytest

from cli.terminal import Terminal, plain
from nopost_cli.shared import prompts

Start = Callable[..., Terminal]
Typed = Callable[..., None]


@pytest.fixture
def typed(monkeypatch: pytest.MonkeyPatch) -> Typed:
    """typed("what", "y"): answers for the next questions; each question stands on standard error as a terminal has it."""
    monkeypatch.setenv("COLUMNS", "60")
    answers: list[str] = []

    def prompt(text: str, default: str = "", show_default: bool = True, **_: Any) -> str:
        click.echo(f"{text}{f' [{default}]' if default and show_default else ''}: ", err=True)
        return answers.pop(0) or default

    monkeypatch.setattr(click, "prompt", prompt)
    return lambda *lines: answers.extend(lines)


LONG = "Which of the many things that can be asked here is the one that is asked now, and is it long enough to be wrapped"


def broken(text: str, question: str) -> Iterator[str]:
    """Words on screen that are none of the question's."""
    whole = set(question.split())
    return (word for word in text.replace(":", " ").split() if word not in whole)


@pytest.mark.parametrize("default", ["", "a default of its own"])
def test_a_long_question_is_wrapped(typed: Typed, capsys: pytest.CaptureFixture[str], default: str) -> None:
    """No line is wider than the terminal, and no word is broken."""
    typed("fine")
    assert prompts.ask(LONG, default) == "fine"
    shown = capsys.readouterr().err
    assert all(len(line) <= 60 for line in shown.splitlines())
    assert not list(broken(shown, f"{LONG} [{default}]"))


def test_indented_and_empty_lines(typed: Typed, capsys: pytest.CaptureFixture[str]) -> None:
    """An empty line before a question stays, and what is indented stays so on every line."""
    typed("1")
    prompts.ask(f"\n  {LONG}")
    first, *rest = capsys.readouterr().err.splitlines()
    assert first == ""
    assert len(rest) > 1
    assert all(line.startswith("  ") for line in rest)


def test_a_question_mark_is_no_text(typed: Typed, capsys: pytest.CaptureFixture[str]) -> None:
    """Typed alone where a text is wanted it is never taken for one; within a text it is."""
    typed("?", "Why?")
    assert prompts.ask("Title", check=lambda text: "" if text else "say something") == "Why?"
    assert "stands above" in capsys.readouterr().err


def test_confirm(typed: Typed, capsys: pytest.CaptureFixture[str]) -> None:
    """A slip is answered with what to type."""
    typed("all", "YES", "", "n")
    assert prompts.confirm("Go on?", default=False)
    assert "type y or n; Enter alone is no" in capsys.readouterr().err
    assert prompts.confirm("Go on?") is True
    assert prompts.confirm("Go on?") is False


def test_choose_without_a_default(typed: Typed, capsys: pytest.CaptureFixture[str]) -> None:
    """Enter alone says what to type, and how to leave."""
    typed("", "b")
    assert prompts.choose("which", {"ale": "one", "beer": "two"}) == "beer"
    assert "type its number or its first letters" in " ".join(capsys.readouterr().err.split())


@pytest.mark.slow
@pytest.mark.parametrize(("words", "first"), [(("board", "new"), "Exact variant"), (("verify",), "Board record")])
def test_ctrl_c_in_a_hurry(terminal: Start, words: tuple[str, ...], first: str) -> None:
    """Pressed again and again: it leaves as if pressed once."""
    with terminal(*words, columns=60) as t:
        t.wait_for(first)
        with suppress(OSError):  # it may have left already
            for _ in range(8):
                t.type("\x03")
            t.press_until("\x03", "nothing more is said")  # all of a burst can fall between two things, as a single one can
        assert t.end() in (130, -signal.SIGINT)  # shells say 130 of both
        assert "Traceback" not in plain(t.text)
