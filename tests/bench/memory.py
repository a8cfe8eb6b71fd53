"""Memory: the most that a process of its own held while it did one thing."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from bench import ROOT
from bench.section import Options, Section

SHIPPED = "from nopost.loading import load_knowledge; k = load_knowledge()"
ASSESS = (
    "from nopost.diagnosis.diagnose import Diagnostician; from nopost.diagnosis.belief.evidence import Observations\n"
    "from belief.generated_base import told\n"
    "a = Diagnostician(k); a.assess(Observations()); a.assess(Observations(told(k, 10, 1).reports))"
)
REPORT = """
import sys
status = [line for line in open('/proc/self/status', encoding='utf-8') if line.startswith('VmHWM')]
print(int(status[0].split()[1]) / 1024)
"""


def sections(options: Options) -> list[Section]:
    """Python alone, the shipped base, pyAgrum on it, and generated bases of each size."""
    table = Section("Most memory held", ("what", "MiB", "over Python with numpy"))
    if not Path("/proc/self/status").exists():
        table.notes.append("Only where the system tells the most memory of a process under /proc.")
        return [table]
    base = held("import numpy")
    for name, code in _cases(options, table.notes).items():
        amount = held(code)
        table.add(name, amount, amount / base)
    table.notes.append(
        "A next step: compiled, one without answers and one with ten. The references of the tests are imported too."
    )
    return [table]


def _cases(options: Options, notes: list[str]) -> dict[str, str]:
    network = (
        f"{SHIPPED}\nfrom belief.generated_base import told\nfrom belief.networks import one_node_network, one_node_posterior\n"
        "one_node_posterior(*one_node_network(k, told(k, 10, 1)))"
    )
    cases = {
        "Python alone": "pass",
        "Python with numpy (reference)": "import numpy",
        "all that the next step imports": "import nopost.diagnosis.diagnose, belief.generated_base",
        "shipped base, read": SHIPPED,
        "shipped base, next step": f"{SHIPPED}\n{ASSESS}",
        "shipped base, pyAgrum's posterior": network,
    }
    for causes, findings in options.sizes(notes):
        made = f"from belief.generated_base import generated; k = generated({causes}, {findings}, {options.seed})"
        cases[f"{causes:,} × {findings:,}, next step"] = f"{made}\n{ASSESS}"
    return cases


def held(code: str) -> float:
    """MiB that a fresh process held at most."""
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(str(ROOT / f) for f in (".", "engine", "cli", "tests"))}
    done = subprocess.run(
        [sys.executable, "-c", f"{code}\n{REPORT}"], env=environment, cwd=ROOT, capture_output=True, encoding="utf-8", check=False
    )
    assert done.returncode == 0, done.stderr[-2000:]
    return float(done.stdout.split()[-1])
