"""A fixed list of what steps cost, `prices.csv` beside base.yaml, so that editions of a knowledge base can be compared: an
edition that calls a step cheap does not make it so.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from io import StringIO
from pathlib import Path

from nopost.errors import KnowledgeError
from nopost.files import data_dir, open_plain
from nopost.knowledge.build import MAX_BYTES
from nopost.knowledge.problem import Problem

PRICES_FILE = "prices.csv"
HAND_OVER = "hand-over"
"""The row for giving the machine to the workshop."""
COLUMNS = ["id", "price", "purchase"]


@dataclass(frozen=True)
class PriceList:
    """What steps cost: `prices` in money by id of finding or action, and the fixes that buy a part (`purchases`)."""

    prices: Mapping[str, float]
    purchases: frozenset[str]


def read_prices(folder: Path | None = None) -> PriceList | None:
    """The price list in a knowledge base's folder (the shipped one when None); None when there is none.

    A CSV file with the columns id, price (money, at least 0) and purchase (yes, or nothing). Raises KnowledgeError with file and
    line.
    """
    path = (folder or data_dir("kb")) / PRICES_FILE
    text = _text(path)
    if text is None:
        return None
    rows = csv.reader(StringIO(text))
    if next(rows, []) != COLUMNS:
        raise KnowledgeError([_problem(path, 1, "wrong columns", f"begin with: {','.join(COLUMNS)}")])
    prices: dict[str, float] = {}
    purchases: set[str] = set()
    problems = []
    for row in filter(None, rows):
        if faults := list(_row_faults(row, prices)):
            problems.append(_problem(path, rows.line_num, faults[0], "write a row such as: replace-lead,4.5,yes"))
            continue
        prices[row[0]] = float(row[1])
        purchases |= {row[0]} if row[2] else set()
    if problems:
        raise KnowledgeError(problems)
    return PriceList(prices, frozenset(purchases))


def _text(path: Path) -> str | None:
    try:
        with open_plain(path) as stream:
            return stream.read(MAX_BYTES).decode("utf-8-sig")
    except FileNotFoundError:
        return None
    except UnicodeDecodeError:
        said = "not UTF-8 text"
    except OSError as error:
        said = f"cannot be read: {error.strerror}"
    raise KnowledgeError([_problem(path, 0, said, "mend it, or move it away")])


def _row_faults(row: Sequence[str], before: Mapping[str, float]) -> Iterator[str]:
    """What is wrong with a row."""
    if len(row) != len(COLUMNS):
        yield f"{len(row)} columns, not {len(COLUMNS)}"
        return
    name, price, purchase = row
    if not _is_price(price):
        yield f"{price!r} is no price"
    elif before.get(name, float(price)) != float(price):  # a finding and an action may have one id, and then one price
        yield f"{name!r} has two prices"
    if purchase not in ("", "yes"):
        yield f"purchase is {purchase!r}, neither yes nor nothing"


def _is_price(text: str) -> bool:
    try:
        return math.isfinite(float(text)) and float(text) >= 0
    except ValueError:
        return False


def _problem(path: Path, line: int, message: str, hint: str) -> Problem:
    return Problem(str(path), line, "price-list", message, hint)
