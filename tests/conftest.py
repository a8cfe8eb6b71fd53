"""What all tests share: a home of their own for each test, and the shipped knowledge, loaded once."""

from __future__ import annotations

import itertools
import os
import signal
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

from nopost.diagnosis.diagnose import Diagnostician
from nopost.knowledge.model import Knowledge
from shipped import shipped_knowledge

# `ci` draws the same examples each time, so more of them find a mistake once at best; rare ones are what `nightly` is for.
settings.register_profile(
    "ci",
    max_examples=200,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
settings.register_profile("nightly", parent=settings.get_profile("ci"), max_examples=20_000, derandomize=False)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "ci"))
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:  # begun in the background: what tests start must hear Ctrl-C all the same
    signal.signal(signal.SIGINT, signal.default_int_handler)

NUMBERS = itertools.count(1)


@pytest.fixture(scope="session")
def homes(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the data folders of all tests would lie; most tests never make theirs."""
    return tmp_path_factory.mktemp("homes")


@pytest.fixture(autouse=True)
def home(homes: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A data folder that belongs to this test alone."""
    folder = homes / f"home-{next(NUMBERS)}"
    monkeypatch.setenv("NOPOST_HOME", str(folder))
    return folder


@pytest.fixture(scope="session")
def knowledge() -> Knowledge:
    """The shipped knowledge base, read from its files."""
    return shipped_knowledge()


@pytest.fixture(scope="session")
def diagnostician(knowledge: Knowledge) -> Diagnostician:
    """The shipped knowledge base, compiled."""
    return Diagnostician(knowledge)
