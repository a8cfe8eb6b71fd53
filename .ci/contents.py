"""What must and what must not be in the wheel and the sdist: `python .ci/contents.py WHEEL SDIST`."""

from __future__ import annotations

import sys
import tarfile
import zipfile
from email import message_from_string
from email.message import Message
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
FOLDERS = {"engine/nopost": "nopost", "cli/nopost_cli": "nopost_cli", "kb": "nopost/_data/kb", "schemas": "nopost/_data/schemas"}
"""Folder of the tree -> its place in the wheel; nothing else is installed."""
WHOLE = (".ci", "cli", "engine", "kb", "schemas", "tests")
SINGLE = ("README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", ".gitignore", ".pre-commit-hooks.yaml", "PKG-INFO")
FIELDS = ("Name", "Version", "Summary", "License-Expression", "License-File", "Keywords", "Classifier", "Requires-Python")


def files(folder: str) -> set[str]:
    """Files of a folder of the tree, caches left out."""
    found = (path for path in (ROOT / folder).rglob("*") if path.is_file())
    return {path.relative_to(ROOT).as_posix() for path in found if not {"__pycache__", ".hypothesis"} & set(path.parts)}


def wheel_faults(path: Path) -> list[str]:
    """The four folders and the metadata, to the file; the licence to the letter."""
    with zipfile.ZipFile(path) as wheel:
        names = wheel.namelist()
        info = next(name.split("/")[0] for name in names if name.endswith(".dist-info/METADATA"))
        metadata = message_from_string(wheel.read(f"{info}/METADATA").decode())
        licence = wheel.read(f"{info}/licenses/LICENSE")
    wanted = {place + name.removeprefix(folder) for folder, place in FOLDERS.items() for name in files(folder)}
    wanted |= {f"{info}/{name}" for name in ("METADATA", "WHEEL", "RECORD", "entry_points.txt", "licenses/LICENSE")}
    same = licence == (ROOT / "LICENSE").read_bytes()
    return differences(wanted, names) + metadata_faults(metadata) + ([] if same else ["another licence text"])


def sdist_faults(path: Path) -> list[str]:
    """All that the tree has, and its top folder named by the standard."""
    top = path.name.removesuffix(".tar.gz")
    with tarfile.open(path) as sdist:
        names = [member.name for member in sdist if not member.isdir()]
    return differences({f"{top}/{name}" for name in {*SINGLE, *(name for folder in WHOLE for name in files(folder))}}, names)


def differences(wanted: set[str], found: list[str]) -> list[str]:
    """What lacks, what is too much, what is there twice."""
    twice = {name for name in found if found.count(name) > 1} if len(found) != len(set(found)) else set()
    return [
        *(f"lacks {name}" for name in sorted(wanted - set(found))),
        *(f"should not hold {name}" for name in sorted(set(found) - wanted)),
        *(f"holds {name} twice" for name in sorted(twice)),
    ]


def metadata_faults(metadata: Message) -> list[str]:
    """What a package index shows must be there, and the README with it."""
    lacking = [f"METADATA lacks {field}" for field in FIELDS if not metadata.get(field)]
    readme = (ROOT / "README.md").read_text(encoding="utf-8").strip()
    return lacking + ([] if str(metadata.get_payload()).strip() == readme else ["METADATA has another README"])


def main() -> int:
    """Print the faults; 1 when there are any."""
    wheel, sdist = map(Path, sys.argv[1:3])
    found = [(wheel, fault) for fault in wheel_faults(wheel)] + [(sdist, fault) for fault in sdist_faults(sdist)]
    told = "\n".join(f"{path.name}: {fault}" for path, fault in found)
    print(told or f"{wheel.name}, {sdist.name}: all that should be there, and nothing else")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
