"""The shipped code tables, made ready."""

from __future__ import annotations

import pytest

from nopost.codes.tables import TableSet
from nopost.knowledge.model import Knowledge


@pytest.fixture(scope="session")
def tables(knowledge: Knowledge) -> TableSet:
    """All of them."""
    return TableSet(knowledge.codes, knowledge.base.roles)
