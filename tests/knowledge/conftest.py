"""A tiny good knowledge base to spoil."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

GOOD = Path(__file__).resolve().parents[1] / "bad_kb" / "_good"


@pytest.fixture
def good_kb(tmp_path: Path) -> Path:
    """A copy of the tiny good knowledge base."""
    return Path(shutil.copytree(GOOD, tmp_path / "kb"))
