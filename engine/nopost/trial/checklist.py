"""The fixed checklist of the trade, read from `checklist.yaml` beside a knowledge base: what the advice is measured against."""

from __future__ import annotations

from pathlib import Path

from nopost.errors import KnowledgeError
from nopost.knowledge.model import Knowledge
from nopost.paths import data_dir
from nopost.review.check_checklist import Entry, examine_checklist

__all__ = ["Entry", "read_checklist"]


def read_checklist(knowledge: Knowledge, folder: Path | None = None) -> tuple[Entry, ...]:
    """The checklist in a knowledge base's folder (the shipped one when None); empty when there is none. Raises KnowledgeError."""
    entries, problems = examine_checklist(knowledge, folder or data_dir("kb"))
    if problems:
        raise KnowledgeError(problems)
    return entries
