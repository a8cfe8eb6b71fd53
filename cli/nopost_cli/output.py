"""Results written to files: never over one that is there unless asked, whole or not at all."""

from __future__ import annotations

from pathlib import Path

from nopost.errors import OutputError
from nopost.files import write_atomically


def refuse_existing(out: Path | str, force: bool = False) -> None:
    """Raise OutputError when the file is there already; before the work, so that none is done in vain."""
    if not force and Path(out).exists():
        raise OutputError(f"{out}: is there already; name another file, or say --force")


def write_result(out: Path | str, content: str | bytes) -> None:
    """Write it. Raises OutputError when the disk refuses; then what was there still stands."""
    try:
        write_atomically(Path(out), content.encode() if isinstance(content, str) else content)
    except OSError as error:
        raise OutputError(f"{out}: cannot be written: {error.strerror}") from None
