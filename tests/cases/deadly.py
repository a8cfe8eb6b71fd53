"""Work for the workers that some logs end: run in processes of their own, which import it from here."""

from __future__ import annotations

import os
import signal

from nopost.cases.batch_log import Log
from nopost.cases.batch_row import Row


def rows(chunk: list[Log]) -> list[Row]:
    """A row that says the length of each log; a log called "deadly" kills the process."""
    if any(log.name == "deadly" for log in chunk):
        os.kill(os.getpid(), signal.SIGKILL)
    return [Row(log.name, boots=len(log.content)) for log in chunk]
