"""Questions in two parts: first where the answer is found, then the short question."""

from __future__ import annotations

from nopost_cli.guided import Check, ask, confirm, tell


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
    blank = "" if indent else "\n"
    tell(f"{blank}{indent}[{where.rstrip().removesuffix(')')}]")
    return short
