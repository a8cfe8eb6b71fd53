"""Work for the workers that some logs end: run in processes of their own, which import it from here."""

from __future__ import annotations

import os
import signal

from nopost.batch.log_row import LogRow
from nopost.batch.log_sources import Log


def rows(chunk: list[Log]) -> list[LogRow]:
    """A row that says the length of each log; a log called "deadly" kills the process."""
    if any(log.name == "deadly" for log in chunk):
        os.kill(os.getpid(), signal.SIGKILL)
    return [LogRow(log.name, boots=len(log.content)) for log in chunk]
