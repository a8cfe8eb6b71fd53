"""Lines and questions that keep to the terminal's width: first where the answer is found, then the short question."""

from __future__ import annotations

import shutil
import textwrap

from nopost_cli.guided import Check, ask, confirm, say


def tell(text: str) -> None:
    """A text in lines that break between words, each indented like the first."""
    width = max(20, shutil.get_terminal_size().columns - 1)
    for line in text.split("\n"):
        indent = " " * (len(line) - len(line.lstrip(" ")))
        filled = textwrap.wrap(line.strip(), width, initial_indent=indent, subsequent_indent=indent, break_on_hyphens=False)
        say("\n".join(filled))


def asked(question: str, default: str = "", check: Check = lambda text: "") -> str:
    """A line of text; what stands in brackets at the end of the question is told before it."""
    return ask(_short(question), default, check)


def agreed(question: str, default: bool = True) -> bool:
    """Yes or no, likewise."""
    return confirm(_short(question), default)


def _short(question: str) -> str:
    short, found, where = question.partition(" (")
    if not found:
        return question
    indent = " " * (len(question) - len(question.lstrip(" ")))
    tell(f"\n{indent}[{where.rstrip().removesuffix(')')}]" if not indent else f"{indent}[{where.rstrip().removesuffix(')')}]")
    return short
