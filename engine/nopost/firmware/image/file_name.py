"""The file's name against the names of the record: a name proves nothing, but the wrong one is worth a look."""

from __future__ import annotations

from collections.abc import Iterator

from nopost.firmware.remark import Level, Remark
from nopost.knowledge.model import Board, Release


def name_remarks(file: str, board: Board, release: Release | None) -> Iterator[Remark]:
    """What the name says. `release`: the one that it should be, or that it is by its SHA-256."""
    if not file:
        return
    button = board.recovery.get("button_file", "")
    named = next((each for each in board.releases if each.file and each.file.casefold() == file.casefold()), None)
    if button and file == button:
        yield Remark(Level.GOOD, "file-name", f"Its name is the one that the board's button wants, {button}.")
    elif named is not None and release is not None and named.file.casefold() != release.file.casefold():
        text = f"Its name, {file}, is that of release {named.version}, not of {release.version}: see that it is the right file."
        yield Remark(Level.CHECK, "file-name", text)
    elif named is not None and release is not None:
        yield Remark(Level.GOOD, "file-name", f"Its name is that of release {release.version} in the record.")
    elif named is not None:
        yield Remark(Level.NOTE, "file-name", f"By its name it is release {named.version}; a name proves nothing.")
    elif button and file.casefold() == button.casefold():
        yield Remark(Level.CHECK, "file-name", f"The button wants the name {button}, letter for letter; it is {file}.")
    elif release is not None and release.file:
        text = f"In the archive release {release.version} is called {release.file}; this file has another name."
        yield Remark(Level.NOTE, "file-name", text)
