"""On what it was measured."""

from __future__ import annotations

import os
import platform
from importlib import metadata
from pathlib import Path

PACKAGES = ("numpy", "experta", "pyagrum", "clipspy")


def environment(seed: int) -> dict[str, str]:
    """Machine, Python, versions, threads, load and seed, as words."""
    return {
        "machine": f"{processor()}, {os.cpu_count()} cores, {memory()}, {platform.system()} {platform.release()}",
        "load before": load(),
        "python": f"{platform.python_implementation()} {platform.python_version()}",
        "packages": ", ".join(f"{name} {version(name)}" for name in ("nopost", *PACKAGES)),
        "threads of linear algebra": os.environ.get("OPENBLAS_NUM_THREADS", "all"),
        "seed": str(seed),
    }


def version(package: str) -> str:
    """Its version, or that it is not there."""
    try:
        return metadata.version(package)
    except metadata.PackageNotFoundError:
        return "not installed"


def processor() -> str:
    """What the system calls it."""
    info = Path("/proc/cpuinfo")
    lines = info.read_text(encoding="utf-8").splitlines() if info.exists() else []
    names = [line.split(":", 1)[1].strip() for line in lines if line.startswith("model name")]
    return names[0] if names else platform.processor() or platform.machine()


def memory() -> str:
    """How much there is."""
    try:
        return f"{os.sysconf('SC_PAGE_SIZE') * os.sysconf('SC_PHYS_PAGES') / 2**30:.0f} GiB"
    except (AttributeError, ValueError, OSError):
        return "memory unknown"


def load() -> str:
    """Processes that were running, averaged over 1 and 5 minutes; timings on a busy machine are longer."""
    try:
        return "{:.1f}, {:.1f}".format(*os.getloadavg()[:2])
    except (AttributeError, OSError):
        return "unknown"
