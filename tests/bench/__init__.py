"""Benchmarks: each measures the project and a reference side by side in the same run. See `python -m tests.bench --help`."""

from __future__ import annotations

import os
import sys
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
ROOT = Path(__file__).resolve().parents[2]
if str(ROOT / "tests") not in sys.path:
    # The references (networks, plain rules, exact optima) are those that the tests compare with.
    sys.path.append(str(ROOT / "tests"))
