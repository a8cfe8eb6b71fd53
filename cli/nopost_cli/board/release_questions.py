"""Releases typed one by one, oldest first."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from nopost.firmware.notes.cells import sha_of
from nopost.firmware.notes.dates import day_order, read_as, whole_date
from nopost_cli.board.confirm import family_check
from nopost_cli.board.telling import agreed, asked
from nopost_cli.guided import tell

Release = dict[str, Any]


def ask_releases(first: list[str], begun: list[Release], keep: Callable[[list[Release]], None]) -> list[Release]:
    """At least one release; Enter instead of a version ends. `begun`: those that are there; `keep` is told after each."""
    tell("\nReleases, the oldest first, from the maker's page for exactly this variant.")
    found = list(begun)
    if found:
        tell(f"There are {', '.join(str(each['version']) for each in found)}.")
    known = set(first)
    for each in found:
        known = (known | set(each.get("adds", ()))) - set(each.get("drops", ()))
    while True:
        version = asked(
            f"Version of release {len(found) + 1} (as published; Enter: no more)",
            check=_version([each["version"] for each in found]),
        )
        if not version:
            return found
        found.append(_release(version, [each["version"] for each in found], known))
        known = (known | set(found[-1].get("adds", ()))) - set(found[-1].get("drops", ()))
        keep(found)


def _release(version: str, earlier: list[str], known: set[str]) -> Release:
    release: Release = {"version": version, "date": _iso(asked("  Date", check=_date))}
    release["adds"] = _parts(asked("  CPU families gained (ids, parted by commas; Enter: none)", check=_families(None)))
    if known:
        tell(f"  known so far: {', '.join(sorted(known))}")
        release["drops"] = _parts(asked("  CPU families lost (Enter: none)", check=_families(known)))
    if earlier:
        release["requires"] = asked("  Release that must be on the board before (its notes; Enter: none)", check=_one_of(earlier))
        release["accepts_from"] = asked("  Lowest release from which it is accepted (Enter: any)", check=_one_of(earlier))
        release["one_way"] = agreed("  Can no older release be written afterwards?", default=False)
    if agreed("  Image: size, check sum, file name?", default=False):
        release |= _image()
    release["notes"] = asked(
        "  Notes (Enter: none)", check=lambda t: "" if not t or 3 <= len(t) <= 1500 else "3 to 1500 characters"
    )
    return {name: value for name, value in release.items() if value}


def _image() -> Release:
    size = asked("    Size in bytes (Enter: not known)", check=_size)
    return {
        "size": int(size) if size else 0,
        "file": asked(
            "    File name (Enter: not known)", check=lambda text: "" if len(text) <= 120 else "at most 120 characters"
        ),
        "sha256": sha_of(asked("    SHA-256 (Enter: not known)", check=lambda t: "" if not t or sha_of(t) else "64 hex digits")),
    }


def _size(text: str) -> str:
    return "" if not text or (text.isdecimal() and len(text) < 12 and 0 < int(text) <= 1 << 30) else "a whole number of bytes"


def _version(earlier: list[str]) -> Callable[[str], str]:
    def check(text: str) -> str:
        if not text:
            return "" if earlier else "at least one release is needed"
        return f"{text} stands there already" if text in earlier else "" if len(text) <= 40 else "at most 40 characters"

    return check


def _date(text: str) -> str:
    found = whole_date(text)
    if found is None:
        return "there is no such day" if re.fullmatch(r"\d{4}-\d{2}-\d{2}", text) else "write it as 2031-05-17"
    return f"{text} has two readings: write it as 2031-05-17" if found.open else ""


def _iso(text: str) -> str:
    found = whole_date(text)
    return read_as(found, day_order([found])).isoformat() if found else ""


def _parts(text: str) -> list[str]:
    return [part.strip() for part in text.split(",") if part.strip()]


def _families(known: set[str] | None) -> Callable[[str], str]:
    def check(text: str) -> str:
        wrong = family_check(text) if text else ""
        unknown = [part for part in _parts(text) if known is not None and part not in known]
        return wrong or (f"{unknown[0]} is not known before this release" if unknown else "")

    return check


def _one_of(versions: list[str]) -> Callable[[str], str]:
    return lambda text: "" if not text or text in versions else f"one of {', '.join(versions)}"
