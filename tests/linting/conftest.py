"""The tiny good knowledge base, with the last loose end tied up: a check has nothing to say of it."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

BAD = Path(__file__).resolve().parent / "bad"
GOOD = BAD.parents[1] / "bad_kb" / "_good"


@pytest.fixture
def tidy_kb(tmp_path: Path) -> Path:
    """A copy of it."""
    folder = Path(shutil.copytree(GOOD, tmp_path / "kb"))
    return Path(shutil.copytree(BAD / "_good", folder, dirs_exist_ok=True))


@pytest.fixture
def good_kb(tmp_path: Path) -> Path:
    """A copy of the tiny good knowledge base as the loader's tests have it."""
    return Path(shutil.copytree(GOOD, tmp_path / "kb"))
