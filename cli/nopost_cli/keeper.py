"""The session while the dialogue runs, saved after each change."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from nopost.cases.again import again_command
from nopost.cases.session import Session
from nopost.errors import SessionError
from nopost_cli.ending import session_command


class Keeper:
    """Holds the session. `unsaved`: why it is not on disk as it stands; empty when it is."""

    def __init__(self, session: Session, save: Callable[[Session], Session]) -> None:
        self.session, self._save = session, save
        self.unsaved = ""

    def keep(self, session: Session) -> None:
        """Save; when the disk refuses, say so, hold the answers in memory, and try again with the next one."""
        try:
            self.session = self._save(session)
            self.unsaved = ""
        except SessionError as error:
            self.session = session
            self.unsaved = f"Not kept: {error}. Your answers are held here; it is tried again after the next one."

    def parted(self, *, ended: bool = False) -> str:
        """One more try if need be, and the last line: how to go on; empty when it has ended and is kept."""
        if self.unsaved:
            self.keep(replace(self.session))
        if self.unsaved:
            return f"\n{self.unsaved.partition('. Your answers')[0]}.\nTo go on from here: {again_command(self.session)}"
        return "" if ended else f"\nKept. Go on with: {session_command('resume', self.session)}"
