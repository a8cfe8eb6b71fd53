"""Titles that stand twice or say the same in the same words, and board records that stand for one variant."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator

from nopost.review.remark import Remark
from nopost.review.view import View

FOLDERS = ("causes", "findings", "actions", "rules", "hazards", "codes", "boards", "cpus")
_LITTLE = """a an and are as at be been by does for from has have in is it its of on or so that the then this to was"""
LITTLE = frozenset(_LITTLE.split())
"""Words that set nothing apart; "not", "no" and "without" do."""
_WORD = re.compile(r"\w+")


def titles(view: View) -> Iterator[Remark]:
    """Within a kind no two titles are made of the same words, endings and little words aside."""
    for folder in FOLDERS:
        alike: defaultdict[frozenset[str], list[str]] = defaultdict(list)
        items = getattr(view.knowledge, folder)
        for name, item in items.items():
            alike[content(item.title)].append(name)
        for first, *others in alike.values():
            for name in others:
                twice = items[first].title.casefold() == items[name].title.casefold()
                code, message = (
                    ("title-twice", "the same title as") if twice else ("title-near", "the same words as the title of")
                )
                hint = "say what sets them apart"
                yield view.remark(folder, name, ("title",), code, f"{message} {first}", hint, (f"{folder}/{first}",))


def variants(view: View) -> Iterator[Remark]:
    """No two board records stand for one variant: images and releases are judged by it."""
    known: dict[str, str] = {}
    for name, board in view.knowledge.boards.items():
        first = known.setdefault(" ".join(board.variant.casefold().split()), name)
        if first != name:
            message, hint = f"the same variant as {first}", "write what is printed on this board, or delete one of the records"
            yield view.remark("boards", name, ("variant",), "variant-twice", message, hint, (f"boards/{first}",))


CHECKS = (titles, variants)


def content(title: str) -> frozenset[str]:
    """The words that matter, without the ending of a plural."""
    words = _WORD.findall(title.casefold().replace("-", " "))
    return frozenset(word.removesuffix("s") for word in words if word not in LITTLE) or frozenset(words)
