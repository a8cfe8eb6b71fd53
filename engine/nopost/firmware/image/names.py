"""Which boards an image names: the names of a record, looked for as ASCII and as UTF-16LE text, and what stands around them."""

from __future__ import annotations

import enum
import itertools
import re
from collections.abc import Iterator
from dataclasses import dataclass

from nopost.firmware.image.around import after, before, name_goes_on
from nopost.knowledge.model import Board

MOST_HITS = 2000
LEAST = 3
"""A shorter name is not looked for: chance would find it."""
SURE = 5
"""A name with fewer letters and digits counts only as a string of its own."""
JOINT = re.compile(r"[\s_-]+")


class Whose(enum.StrEnum):
    """Which board a name belongs to."""

    OWN = "this board"
    OTHER = "another variant"
    UNSURE = "not clear"


@dataclass(frozen=True, slots=True)
class Mention:
    """A name in the image, as it is written there. `count`: how often it was found; `listed`: a look-alike of the record."""

    text: str
    whose: Whose
    offset: int
    count: int = 1
    listed: bool = False


@dataclass(frozen=True, slots=True)
class _Hit:
    start: int
    end: int
    step: int
    own: bool
    bare: bool


def find_mentions(data: bytes, board: Board) -> tuple[Mention, ...]:
    """The names that the image holds, each once, in the order of the file. A hit inside a longer one does not count."""
    lowered = data.lower()
    hits = sorted(_hits(lowered, board), key=lambda hit: (hit.start, -hit.end))
    del lowered
    found: dict[tuple[str, Whose], Mention] = {}
    reach = 0
    for hit in hits:
        if hit.end <= reach:
            continue
        reach = hit.end
        mention = _mention(data, hit, board)
        if mention is not None:
            key = mention.text.casefold(), mention.whose
            first = found.get(key, mention)
            found[key] = Mention(
                first.text, first.whose, first.offset, first.count + (first is not mention), first.listed or mention.listed
            )
    return tuple(found.values())


def own_names(board: Board) -> dict[str, bool]:
    """Names of this board -> whether it is a look-alike's name too, but for a revision that the name does not tell."""
    names = [board.variant, *board.identifiers]
    ending = re.compile(rf"[\s_-]+(rev(ision)?|r|v)\.?\s*{re.escape(board.revision)}$", re.IGNORECASE)
    if board.revision and ending.search(board.variant):
        names.append(ending.sub("", board.variant))
    return {name: any(_other_revision(name, other) for other in board.look_alikes) for name in names}


def _other_revision(name: str, other: str) -> bool:
    flat, longer = (JOINT.sub(" ", each.casefold()) for each in (name, other))
    return re.search(rf"(?<!\w){re.escape(flat)}( (rev(ision)?|r|v)\.? ?\d|$)", longer) is not None


def _joined(name: str) -> str:
    return JOINT.sub("", name.casefold())


def _hits(lowered: bytes, board: Board) -> Iterator[_Hit]:
    own = own_names(board)
    for name in dict.fromkeys((*own, *board.look_alikes)):
        if sum(letter.isalnum() for letter in name) < LEAST:
            continue
        for step in (1, 2):
            for match in itertools.islice(_pattern(name, step).finditer(lowered), MOST_HITS):
                yield _Hit(match.start(), match.end(), step, name in own, own.get(name, False))


def _pattern(name: str, step: int) -> re.Pattern[bytes]:
    """The name in small letters; a blank, a hyphen or an underscore may stand for one another, or be left out."""
    encoding = "utf-8" if step == 1 else "utf-16-le"
    joint = b"[ _-]?" if step == 1 else b"(?:[ _-]\0)?"
    parts = (re.escape(part.lower().encode(encoding)) for part in JOINT.split(name.strip()) if part)
    return re.compile(joint.join(parts))


def _mention(data: bytes, hit: _Hit, board: Board) -> Mention | None:
    lead, rest = before(data, hit.start, hit.step), after(data, hit.end, hit.step)
    if lead[-1:].isalnum():
        return None
    text = data[hit.start : hit.end].decode("utf-8" if hit.step == 1 else "utf-16-le", "replace")
    if sum(letter.isalnum() for letter in text) < SURE and (lead or rest):
        return None
    more, certain = name_goes_on(rest, board)
    if not hit.own:
        return Mention(text + more, Whose.OTHER, hit.start, listed=not more)
    if more and certain is None:
        return Mention(text + more, Whose.OWN, hit.start)
    if more:
        listed = any(_joined(other).endswith(_joined(text + more)) for other in board.look_alikes)
        return Mention(text + more, Whose.OTHER if certain or listed else Whose.UNSURE, hit.start, listed=listed)
    return Mention(text, Whose.UNSURE if hit.bare else Whose.OWN, hit.start)
