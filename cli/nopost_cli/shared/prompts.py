"""Ask a person, and make sense of what was typed.

The first part asks item by item: text, lines, a number, a choice, several choices, yes or no; every answer is checked
at once. `ask_where` and `confirm_where` first tell where the answer is found, then ask the short question. `matching` finds
the choice that was meant, for the questions here and for `understand`, which says what a line means among choices and keys.
"""

from __future__ import annotations

import contextlib
import os
import re
import shutil
import sys
import textwrap
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches

import click

from nopost.text import comma_parts
from nopost_cli.shared.terminal import clean, is_interactive

Check = Callable[[str], str]
"""What is wrong with a typed text, in words; "" when it is good."""
LISTED = 30
"""So many choices are listed unasked; of more the near ones are named."""
NONE = "-"
"""Typed for no choice at all."""
ALL = "?"
"""Typed instead of a choice: list them all."""

_YES_NO = {"y": True, "yes": True, "n": False, "no": False}


def need_terminal(instead: str) -> None:
    """Refuse to ask where nobody can answer; `instead` says what to do."""
    if not is_interactive():
        raise click.UsageError(f"there is no terminal to ask on: {instead}")


def say(text: str = "") -> None:
    """A line to the person, on standard error, so that standard output stays the result's."""
    click.echo(clean(text), err=True)


def tell(text: str, indent: int = 0) -> None:
    """A text in lines that break between words where the terminal ends, each indented like the first."""
    for line in text.split("\n"):
        say("\n".join(_lines(" " * indent + line)))


def _lines(line: str, room: int = 0) -> list[str]:
    """The line in as many as the terminal's width needs; `room`: columns that stay free at the end of each."""
    width = max(20, _columns() - 1 - room)
    margin = " " * min(len(line) - len(line.lstrip(" ")), width // 2)
    return textwrap.wrap(line.strip(), width, initial_indent=margin, subsequent_indent=margin, break_on_hyphens=False) or [""]


def _columns() -> int:
    """The terminal's width; it is that of standard error, since standard output may go into a file."""
    with contextlib.suppress(OSError, ValueError, AttributeError):
        if not os.environ.get("COLUMNS") and (columns := os.get_terminal_size(sys.stderr.fileno()).columns):
            return columns
    return shutil.get_terminal_size().columns


def _asking(question: str, room: int) -> str:
    """Tell all of a question but its last line, which goes before the cursor; `room`: columns for what is shown behind it."""
    *before, last = [part for line in clean(question).split("\n") for part in _lines(line, min(room, 30))]
    for line in before:
        say(line)
    return last


def _anything(_: str) -> str:
    return ""


def ask(question: str, default: str = "", check: Check = _anything) -> str:
    """A line of text; Enter takes the default, asked again until it is good. Ctrl-C and Ctrl-D raise click.Abort.

    With a check of its own a lone ? is no text: the person asks for help with it.
    """
    while True:
        prompt = _asking(question, len(default) + 5 if default else 2)
        typed = " ".join(str(click.prompt(prompt, default=default, show_default=bool(default), err=True)).split())
        wrong = check(typed) if clean(typed) == typed else "there is a key in it that is no character; type it again"
        if typed == ALL and not wrong and check is not _anything:
            wrong = "what is meant, and where it is found, stands above; type it, or leave with Ctrl-C"
        if not wrong:
            return typed
        tell(wrong, 2)


def of_length(least: int, most: int) -> Check:
    """A check of a text's length in characters, both allowed."""
    wanted = f"{least} to {most}" if least else f"at most {most}"
    return lambda text: "" if least <= len(text) <= most else f"{wanted} characters, here {len(text)}"


def or_nothing(check: Check) -> Check:
    """The same check, but Enter alone is good too."""
    return lambda text: check(text) if text else ""


def ask_lines(question: str, least: int = 0, check: Check = _anything, most: int = 1000) -> list[str]:
    """Lines of text, one at a time, until Enter alone; at least so many."""
    tell(f"{question} One per line, Enter alone ends.")
    lines: list[str] = []

    def right(text: str) -> str:
        if not text:
            return f"at least {least} of them" if len(lines) < least else ""
        return check(text)

    while len(lines) < most and (line := ask(f"  {len(lines) + 1}", check=right)):
        lines.append(line)
    return lines


def ask_number(question: str, low: float, high: float, default: float | None = None) -> float:
    """A number between the two, both allowed; a comma may stand for the point."""

    def wrong(text: str) -> str:
        number = _number(text)
        return "type a number, such as 2.5" if number is None else "" if low <= number <= high else f"{low:g} to {high:g}"

    return _number(ask(question, "" if default is None else f"{default:g}", wrong)) or 0.0


def _number(text: str) -> float | None:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        return None


def confirm(question: str, default: bool = True) -> bool:
    """Yes or no. Ctrl-C and Ctrl-D raise click.Abort."""
    prompt = _asking(f"{question} [{'Y/n' if default else 'y/N'}]", 2)
    while True:
        typed = str(click.prompt(prompt, default="", show_default=False, err=True)).strip().casefold()
        if typed in _YES_NO:
            return _YES_NO[typed]
        if not typed:
            return default
        tell(f"type y or n; Enter alone is {'yes' if default else 'no'}", 2)


def choose(question: str, choices: Mapping[str, str], default: str = "") -> str:
    """The id of one choice (id -> text), typed as its number, its id, its first letters or a word of its text; Enter takes the
    default."""
    _list(choices)
    while True:
        typed = ask(question, default)
        found, wrong = _chosen(typed, choices)
        if found:
            return found
        _show_wrong(typed, wrong, choices)


def choose_or_none(question: str, choices: Mapping[str, str], none: str = "no more") -> str:
    """Like choose, but Enter alone or - chooses nothing: ""."""
    found = choose(question, {**choices, NONE: none}, NONE)
    return "" if found == NONE else found


def choose_several(question: str, choices: Mapping[str, str], default: Sequence[str] = ()) -> tuple[str, ...]:
    """Ids of choices, parted by commas; Enter takes the default."""
    _list(choices)
    while True:
        typed = ask(question, ", ".join(default))
        parts = comma_parts(typed)
        found = [_chosen(part, choices) for part in parts]
        wrong = [(part, why) for part, (_, why) in zip(parts, found, strict=True) if why]
        if not wrong:
            return tuple(dict.fromkeys(name for name, _ in found))
        for part, why in wrong:
            _show_wrong(part, why, choices)


def _show_wrong(typed: str, wrong: str, choices: Mapping[str, str]) -> None:
    if typed == ALL:
        _list(choices, len(choices))
    else:
        tell(wrong, 2)


def _list(choices: Mapping[str, str], most: int = LISTED) -> None:
    """The choices with their numbers, texts wrapped beside them; of very many only how to find one."""
    if len(choices) > most:
        tell(f"{len(choices)} to choose from: type the id or a word of it; {ALL} lists them all", 2)
        return
    width = min(max(map(len, choices), default=0), 30)
    columns = max(20, _columns() - 1)
    for number, (name, text) in enumerate(choices.items(), 1):
        head = f"  {number:2} {name:{width}}  "
        if columns - len(head) < 20:  # too narrow for two columns
            say(head.rstrip())
            tell(text, 5)
        else:
            say(textwrap.fill(f"{head}{text}".rstrip(), columns, subsequent_indent=" " * len(head), break_on_hyphens=False))


def _chosen(typed: str, choices: Mapping[str, str]) -> tuple[str, str]:
    """The choice that was meant, or "" and what is wrong. Ids are shown beside their texts and can be typed too."""
    if not typed:
        return "", f"choose one of them: type its number or its first letters; {ALL} lists them, Ctrl-C leaves"
    offered = [Choice(name, text) for name, text in choices.items()]
    if typed not in choices and (choice := numbered(typed, offered)):
        return choice.id, ""
    found = [choice.id for choice in matching(typed, offered, ids_shown=True)]
    if len(found) == 1:
        return found[0], ""
    if found:
        return "", f"{typed!r} fits more than one: {', '.join(found[:8])}"
    near = get_close_matches(typed, list(choices), n=3, cutoff=0.5)
    return "", f"{typed!r} is none of them" + (f"; did you mean {', '.join(near)}?" if near else f"; {ALL} lists them")


def ask_where(question: str, default: str = "", check: Check = lambda text: "") -> str:
    """A line of text; what stands in brackets at the end of the question is told before it."""
    return ask(_told_where(question), default, check)


def confirm_where(question: str, default: bool = True) -> bool:
    """Yes or no, likewise."""
    return confirm(_told_where(question), default)


def _told_where(question: str) -> str:
    short, found, where = question.partition(" (")
    if not found:
        return question
    indent = " " * (len(question) - len(question.lstrip(" ")))
    blank = "" if indent else "\n"
    tell(f"{blank}{indent}[{where.rstrip().removesuffix(')')}]")
    return short


@dataclass(frozen=True, slots=True)
class Choice:
    """One thing that can be chosen: its id and the text on screen."""

    id: str
    text: str


def numbered(typed: str, choices: Sequence[Choice]) -> Choice | None:
    """The choice of this number, counted from 1; None when it is no number, or none of them has it."""
    number = int(typed) if typed.isdecimal() and len(typed) < 6 else 0
    return choices[number - 1] if 1 <= number <= len(choices) else None


def matching(typed: str, choices: Sequence[Choice], *, ids_shown: bool = False) -> list[Choice]:
    """The choices that fit what was typed, in their order: one when it is clear, several when more is to be typed.

    The first of these tests that any choice passes counts: the id or the whole text, the beginning of the id (only where ids are
    shown: `ids_shown`), the beginning of the text, a part of three letters or more, all the words of it.
    """
    exact = [choice for choice in choices if choice.id == typed]
    text = _plain(typed)
    tests = [_is, *([_begins_id] if ids_shown else []), _begins, _holds_id if ids_shown else _holds, _has_words]
    found = (exact, *([choice for choice in choices if test(choice, text)] for test in tests))
    return next(filter(None, found), [])


def _plain(typed: str) -> str:
    """Small letters, single blanks, and the apostrophe that a keyboard has."""
    return " ".join(typed.replace("\u2019", "'").split()).casefold()


def _is(choice: Choice, text: str) -> bool:
    return text in (choice.id, choice.text.casefold())


def _begins_id(choice: Choice, text: str) -> bool:
    return choice.id.startswith(text)


def _begins(choice: Choice, text: str) -> bool:
    return choice.text.casefold().startswith(text)


def _holds(choice: Choice, text: str) -> bool:
    return len(text) >= 3 and text in choice.text.casefold()


def _holds_id(choice: Choice, text: str) -> bool:
    return len(text) >= 3 and text in f"{choice.id} {choice.text}".casefold()


def _has_words(choice: Choice, text: str) -> bool:
    words = text.split()
    return len(words) > 1 and set(words) <= set(re.findall(r"[\w'-]+", choice.text.casefold()))


SKIP = "s"
UNSURE = frozenset(("cant tell", "dont know", "i dont know", "i do not know", "no idea", "not sure", "skip", "unsure"))
"""What people type for the key that skips."""


@dataclass(frozen=True, slots=True)
class Understood:
    """The id of the choice, or the key, or neither with a reply that says why."""

    choice: str = ""
    key: str = ""
    reply: str = ""


def understand(typed: str, choices: Sequence[Choice], keys: Mapping[str, str]) -> Understood:
    """What a line means. Keys (letter -> meaning) win over first letters; `keys` holds those that can be used now."""
    text = _plain(typed)
    if not text:
        return Understood(reply="Type a number, the first letters of a choice, or ? for help.")
    if text.isdecimal():
        return _by_number(text, choices)
    if text in keys:
        return Understood(key=text)
    if SKIP in keys and text.replace("'", "").rstrip("!. ") in UNSURE:
        return Understood(key=SKIP)
    return _by_text(text, choices)


def _by_number(text: str, choices: Sequence[Choice]) -> Understood:
    if choice := numbered(text, choices):
        return Understood(choice=choice.id)
    missing = f"There is no number {text[:20]}; it goes from 1 to {len(choices)}."
    return Understood(reply=missing if choices else "Nothing to number.")


def _by_text(text: str, choices: Sequence[Choice]) -> Understood:
    found = matching(text, choices)
    if len(found) == 1:
        return Understood(choice=found[0].id)
    if found:
        several = "; ".join(choice.text for choice in found[:4])
        return Understood(reply=f"{text[:40]!r} fits several: {several}. Type more, or a number.")
    return Understood(reply=f"{text[:40]!r} fits no choice; type its number or its first letters, or ? for help.")
