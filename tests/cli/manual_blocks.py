"""The manuals' blocks: commands as they stand there, and what they are said to print."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

MANUAL = Path(__file__).resolve().parents[2] / "cli" / "manual"
_BLOCK = re.compile(r"^```(\w+)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")


@dataclass(frozen=True, slots=True)
class Block:
    """A fenced block: its language and its lines."""

    kind: str
    lines: tuple[str, ...]


def blocks(name: str) -> list[Block]:
    """The blocks of a page of the manual, in order."""
    found = _BLOCK.findall((MANUAL / name).read_text(encoding="utf-8"))
    return [Block(kind, tuple(line for line in text.splitlines() if line.strip())) for kind, text in found]


def commands(block: Block) -> Iterator[str]:
    """The commands of a console block, without the remarks behind them and without where their output goes."""
    for line in block.lines if block.kind == "console" else ():
        yield re.split(r"\s+#\s|\s>\s", line)[0].strip()


def missing(block: Block, printed: str) -> list[str]:
    """Lines of a text block that were not printed: wrapping, rules across and the numbers themselves do not matter."""
    said = _flat(printed)
    return [line for line in block.lines if not re.search(_pattern(line), said)]


def _flat(text: str) -> str:
    return " ".join(text.replace("—", " ").split())


def _pattern(line: str) -> str:
    pieces = [piece for piece in re.split(r"…|\.\.\.", _flat(line)) if piece.strip()]
    return ".*?".join(_NUMBER.sub(r"-?[\\d.]+", re.escape(piece.strip()).replace(r"\-", "-")) for piece in pieces)
