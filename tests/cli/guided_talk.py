"""A talk with a guided command at a terminal: question by question, each answered when it stands there."""

from __future__ import annotations

from collections.abc import Iterable

from cli.terminal import Terminal, plain

Talk = Iterable[tuple[str, str]]


def talk(terminal: Terminal, lines: Talk, begin: int = 0) -> str:
    """Wait for each question and type its answer; what stood on screen before the last answer."""
    shown = ""
    for question, answer in lines:
        shown = terminal.wait_for(question, begin)
        begin = len(terminal.text)
        terminal.type(f"{answer}\n")
    return plain(shown)


def leave(terminal: Terminal, key: str, wanted: str) -> None:
    """Press a key, again only when nothing comes of it: between prompt and reading, Ctrl-C can get lost."""
    begin = len(terminal.text)
    for _ in range(20):
        terminal.type(key)
        while terminal._come(3.0):
            pass
        if wanted in plain(terminal.text[begin:]):
            return
    raise AssertionError(f"{wanted!r} did not come:\n{plain(terminal.text)[-2000:]}")
