"""Which boards an image names: the names of a record, looked for as ASCII and as UTF-16LE text, and what stands
around them, which tells whether a name ends there or is a longer one.
"""

from __future__ import annotations

import enum
import itertools
import re
from collections.abc import Iterator
from dataclasses import dataclass

from nopost.knowledge.reference_records import Board

NEAR = 40
REVISION = re.compile(r"[\s_(-]*(rev(?:ision)?|ver|r|v)[.:]?\s*([0-9][0-9a-z.]*)", re.IGNORECASE)
TOKEN = re.compile(r"\S{1,24}")
NEXT_WORD = re.compile(r"[\s_(/-]+([0-9A-Za-z][^\s)]{0,23})")
PLAIN = frozenset(
    (
        *("bios", "board", "build", "by", "capsule", "date", "file", "firmware", "for", "from", "image", "is", "mainboard"),
        *("motherboard", "release", "rom", "setup", "uefi", "update", "ver", "version"),
    )
)
"""Words that follow a name without being part of it (judgement)."""


def text_before(data: bytes, at: int, step: int) -> str:
    """The printable ASCII character before `at`, "" for none. `step`: bytes of a character, 1 or 2 (UTF-16LE)."""
    raw = data[max(0, at - step) : at]
    return chr(raw[0]) if len(raw) == step and _is_text(raw) else ""


def text_after(data: bytes, at: int, step: int) -> str:
    """The printable ASCII text from `at` on, at most NEAR characters. `step`: bytes of a character, 1 or 2 (UTF-16LE)."""
    letters = []
    for place in range(at, at + NEAR * step, step):
        raw = data[place : place + step]
        if len(raw) < step or not _is_text(raw):
            break
        letters.append(chr(raw[0]))
    return "".join(letters)


def _is_text(raw: bytes) -> bool:
    return 0x20 <= raw[0] < 0x7F and not any(raw[1:])


def name_goes_on(rest: str, board: Board) -> tuple[str, bool | None]:
    """What belongs to the name of what follows it, and whether that makes it another name.

    Nothing: the name ends. With None: the board's own revision. With True: it is another name. With False: it may be one.
    """
    if not rest:
        return "", None
    if rest[0].isalnum() or rest[0] in "+*#" or re.match(r"\.\d", rest):
        return _token(rest), True
    versions = {release.version.casefold() for release in board.releases}
    revision = REVISION.match(rest)
    if revision:
        return _revision(revision, board, versions)
    word = NEXT_WORD.match(rest)
    if word is None:
        attached = rest[0] in "-_/" and any(letter.isalnum() for letter in _token(rest))
        return (_token(rest), True) if attached else ("", None)
    told = word[1].rstrip(".,;:").casefold()
    if told in PLAIN or told in versions:
        return "", None
    if board.revision and told == board.revision.casefold():
        return word[0], None
    return word[0], rest[0] in "-_/"


def _token(rest: str) -> str:
    found = TOKEN.match(rest)
    return found[0] if found else ""


def _revision(found: re.Match[str], board: Board, versions: set[str]) -> tuple[str, bool | None]:
    told = found[2].rstrip(".").casefold()
    if board.revision and told == board.revision.casefold():
        return found[0], None
    if told in versions:
        return "", None
    return found[0], bool(board.revision) and found[1].casefold().startswith("rev")


MOST_HITS = 2000
LEAST = 3
"""A shorter name is not looked for: chance would find it."""
SURE = 5
"""A name with fewer letters and digits counts only as a string of its own."""
JOINT = re.compile(r"[\s_-]+")


class NameOwner(enum.StrEnum):
    """Which board a name belongs to."""

    OWN = "this board"
    OTHER = "another variant"
    UNSURE = "not clear"


@dataclass(frozen=True, slots=True)
class Mention:
    """A name in the image, as it is written there. `count`: how often it was found; `listed`: a look-alike of the record."""

    text: str
    whose: NameOwner
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
    found: dict[tuple[str, NameOwner], Mention] = {}
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
    lead, rest = text_before(data, hit.start, hit.step), text_after(data, hit.end, hit.step)
    if lead[-1:].isalnum():
        return None
    text = data[hit.start : hit.end].decode("utf-8" if hit.step == 1 else "utf-16-le", "replace")
    if sum(letter.isalnum() for letter in text) < SURE and (lead or rest):
        return None
    more, certain = name_goes_on(rest, board)
    if not hit.own:
        return Mention(text + more, NameOwner.OTHER, hit.start, listed=not more)
    if more and certain is None:
        return Mention(text + more, NameOwner.OWN, hit.start)
    if more:
        listed = any(_joined(other).endswith(_joined(text + more)) for other in board.look_alikes)
        return Mention(text + more, NameOwner.OTHER if certain or listed else NameOwner.UNSURE, hit.start, listed=listed)
    return Mention(text, NameOwner.UNSURE if hit.bare else NameOwner.OWN, hit.start)
