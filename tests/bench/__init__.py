"""Benchmarks, and programs that try to break nopost.

`python -m tests.bench`: tables, each with a reference measured in the same run. A section is a module of its name with a
function `sections(options)`. Work in one process is timed by processor time, work in several by the wall. What a size cannot be
tried for is said in a note. `diagnosis/belief/generated_base.py` makes knowledge bases of any size. Needs the extra `bench`.

`python -m tests.bench.faults`: kills programs, fills disks, and takes things away; see there.

`python -m tests.bench.hostile --inputs 10000`: damages good inputs of every reader and counts crashes and hangs. What it finds
becomes a test beside its reader. A new reader is one more entry in `hostile_readers.py`.

`python -m tests.bench.fuzz READER --seconds 60`: searches for inputs that crash a reader, led by the lines that each input
reaches (`pip install -e '.[fuzz]'`). What it finds is kept in `tests/regressions/READER/` and run by the tests from then on;
`--again FILE` runs one file and needs no atheris; `--corpus DIR` keeps what was learned. For a night, every reader that `fuzz`
names for half an hour each with a corpus, and `HYPOTHESIS_PROFILE=nightly pytest`.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
ROOT = Path(__file__).resolve().parents[2]
if str(ROOT / "tests") not in sys.path:
    # The references (networks, plain rules, exact optima) are those that the tests compare with.
    sys.path.append(str(ROOT / "tests"))
