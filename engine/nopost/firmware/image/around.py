"""What stands around a name in an image: does the name end there, or is it a longer one?"""

from __future__ import annotations

import re

from nopost.knowledge.model import Board

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


def before(data: bytes, at: int, step: int) -> str:
    """The character before, when it is text."""
    raw = data[max(0, at - step) : at]
    return chr(raw[0]) if len(raw) == step and _is_text(raw) else ""


def after(data: bytes, at: int, step: int) -> str:
    """The text that follows without a break."""
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
