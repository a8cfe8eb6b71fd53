"""What nopost is built from: its requirements, with a reason for each in supply.yaml, and the scripts in `.ci/`."""

from __future__ import annotations

import ast
import datetime
import os
import re
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from importlib.metadata import PackageNotFoundError, files, metadata, packages_distributions, requires
from pathlib import Path
from typing import Any

import pytest
import yaml
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parents[1]
PROJECT: dict[str, Any] = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
OURS = {"nopost", "nopost_cli", "bench"}
USE = ("run", "draw", "parquet")
"""Purposes of those who use nopost; all others are those of whoever develops it."""
NEED_NOT_BE_THERE = {"bench", "fuzz"}
"""Extras that `pip install -e '.[dev]'` leaves out."""
BY_EXPERTA = {"frozendict"}
"""Imported by the adapter as well, but in the release that experta asks for."""
LICENCES = ("LGPL", "GPL", "MPL", "Apache", "BSD", "PSF|Python Software", "HPND", "MIT")
"""Families of licences, the one with more duties first where a name holds another."""


@dataclass(frozen=True)
class Row:
    """One entry of supply.yaml: `places` where we ask for it ourselves, or `by` the requirements that bring it along."""

    requirement: str
    why: str
    licence: str
    newest: str
    released: datetime.date
    places: frozenset[str] = frozenset()
    by: frozenset[str] = frozenset()
    without: str = ""
    program: bool = False
    module: str = ""

    @property
    def name(self) -> str:
        """The project's name as indexes write it."""
        return canonicalize_name(Requirement(self.requirement).name)

    @property
    def imported_as(self) -> str:
        """The module, where the package itself is not there to tell."""
        return self.module or self.name.replace("-", "_")


@cache
def supply() -> tuple[Row, ...]:
    """What supply.yaml says."""
    data = yaml.safe_load((ROOT / "tests" / "supply.yaml").read_text(encoding="utf-8"))
    rows = [Row(places=frozenset(entry.pop("for")), **entry) for entry in data["requirements"]]
    rows += [Row(by=frozenset(entry.pop("by")), **entry) for entry in data["brought"]]
    return tuple(rows)


def asked_for() -> list[Row]:
    """The requirements of our own."""
    return [row for row in supply() if not row.by]


def declared() -> dict[str, frozenset[str]]:
    """Requirement as pyproject.toml writes it -> what it is for: to run, to build, or an extra."""
    places = {"build": PROJECT["build-system"]["requires"], "run": PROJECT["project"]["dependencies"]}
    places |= PROJECT["project"]["optional-dependencies"]
    every = {requirement for listed in places.values() for requirement in listed}
    return {one: frozenset(place for place, listed in places.items() if one in listed) for one in every}


def installed(name: str) -> bool:
    """Whether it is there."""
    try:
        return bool(metadata(name))
    except PackageNotFoundError:
        return False


def needs(name: str) -> Iterator[Requirement]:
    """What an installed project asks for here, without its extras; nothing of one that is not there."""
    for requirement in map(Requirement, (requires(name) if installed(name) else None) or ()):
        if requirement.marker is None or requirement.marker.evaluate({"extra": ""}):
            yield requirement


def imported(*folders: str) -> set[str]:
    """Names of projects whose modules the Python files of some folders import."""
    own = OURS | {path.stem for path in (ROOT / "tests").rglob("*.py")} | {path.name for path in (ROOT / "tests").iterdir()}
    modules = {module.split(".")[0] for folder in folders for module in modules_of(folder)} - own - sys.stdlib_module_names
    known = packages_distributions()
    optional = {row.imported_as for row in asked_for() if row.places <= NEED_NOT_BE_THERE}
    assert modules - set(known) <= optional, "not installed, so nobody knows whose they are"
    return {canonicalize_name(known[one][0]) for one in modules if one in known}


@cache
def modules_of(folder: str) -> frozenset[str]:
    """Every module that the files of a folder import."""
    return frozenset().union(*map(modules_of_file, (ROOT / folder).rglob("*.py")))


@cache
def modules_of_file(path: Path) -> frozenset[str]:
    """Every module that a file imports."""
    return frozenset(_modules(ast.parse(path.read_text(encoding="utf-8"))))


def _modules(tree: ast.AST) -> Iterator[str]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            yield str(node.module)
        elif isinstance(node, ast.Call) and ast.unparse(node.func) in {"pytest.importorskip", "importlib.import_module"}:
            yield from (str(one.value) for one in node.args if isinstance(one, ast.Constant))


def names(*places: str) -> set[str]:
    """Projects that are required for some purposes."""
    return {canonicalize_name(Requirement(one).name) for one, where in declared().items() if where & set(places)}


def family(text: str) -> str:
    """First family that a text names."""
    return next((one for one in LICENCES if re.search(one, text)), "")


def own_family(name: str) -> str:
    """Family that an installed project itself names: as an expression, in words, by its classifiers, or atop its text."""
    told = metadata(name)
    classes = " ".join(one for one in told.get_all("Classifier") or () if one.startswith("License"))
    texts = [
        file.read_text()[:200] for file in files(name) or () if file.name.startswith("LICENSE") and ".dist-info" in str(file)
    ]
    places = (told["License-Expression"] or "", (told["License"] or "")[:200], classes, *texts)
    return next(filter(None, map(family, places)), "")


def test_every_requirement_is_explained_and_no_other() -> None:
    """To the letter, bounds and purposes too."""
    assert {row.requirement: row.places for row in asked_for()} == declared()
    assert len({row.name for row in supply()}) == len(supply())


def test_what_the_requirements_bring_is_explained() -> None:
    """What comes along when nopost is installed for use is listed with what brings it, and nothing that nobody brings."""
    rows = supply()
    reached, waiting = set(direct := names(*USE)), sorted(direct)
    while waiting:
        new = {canonicalize_name(one.name) for one in needs(waiting.pop())} - reached
        reached |= new
        waiting.extend(new)
    assert reached <= {row.name for row in rows}
    for by in {by for row in rows for by in row.by}:
        asked = {canonicalize_name(Requirement(text).name) for text in (requires(by) if installed(by) else None) or ()}
        newest = next(row.newest for row in rows if row.name == by)
        if installed(by) and metadata(by)["Version"] == newest:
            assert {row.name for row in rows if by in row.by} <= asked, f"{by} {newest} does not ask for all of these"
    exact = {row.requirement for row in rows if "experta" in row.by}
    assert exact == {str(one) for one in needs("experta")}


@pytest.mark.parametrize("row", supply(), ids=lambda row: row.name)
def test_entry_is_filled(row: Row) -> None:
    """A reason, and a release with its day."""
    assert len(row.why) > 10
    assert re.fullmatch(r"\S+", row.newest)
    assert isinstance(row.released, datetime.date)


def test_licences_are_those_of_the_installed_packages() -> None:
    """As their metadata says, by family; nothing that is installed for use is under the GPL."""
    for row in supply():
        assert family(row.licence), row
        if row.by or row.places & set(USE):
            assert family(row.licence) != "GPL", row
        if installed(row.name):
            assert own_family(row.name) in {one for one in LICENCES if re.search(one, row.licence)}, row


@pytest.mark.slow
def test_what_is_imported_is_required() -> None:
    """By the engine and the commands for use, by benchmarks and tests for development; nothing comes in by luck."""
    assert imported("engine", "cli") <= names(*USE) | BY_EXPERTA
    assert imported("tests/bench") <= names("run", "bench", "fuzz", "dev")
    assert imported("tests") <= names("run", "dev", "bench", "fuzz") | {"packaging"}, "pytest brings packaging"


@pytest.mark.slow
def test_what_is_required_is_used() -> None:
    """Every requirement is imported where its purpose says, or is a program."""
    used = imported("engine", "cli")
    assert {one for one in names(*USE) if installed(one)} <= used
    programs = {row.name for row in asked_for() if row.program}
    asked = {one for one in names("dev", "bench", "fuzz") - programs if installed(one)}
    assert asked <= imported("engine", "tests")


@pytest.mark.parametrize("requirement", sorted(declared()))
def test_requirement_has_a_lowest_version(requirement: str) -> None:
    """`.ci/lowest` tries them; only what is no longer kept is pinned."""
    found = Requirement(requirement)
    assert [one.operator for one in found.specifier] == (["=="] if found.name == "experta" else [">="])


def test_extras_and_development_agree() -> None:
    """What both ask for they ask for alike."""
    by_name: dict[str, set[str]] = {}
    for one in declared():
        by_name.setdefault(canonicalize_name(Requirement(one).name), set()).add(one)
    assert [found for found in by_name.values() if len(found) > 1] == []


@pytest.mark.skipif(shutil.which("bash") is None, reason="the scripts are for bash")
@pytest.mark.parametrize("path", sorted(path for path in (ROOT / ".ci").iterdir() if not path.suffix), ids=lambda path: path.name)
def test_script_can_be_run(path: Path) -> None:
    """It may be run, bash understands it, and it stops at the first failure."""
    assert os.access(path, os.X_OK)
    lines = path.read_text(encoding="utf-8").splitlines()
    assert lines[0] == "#!/usr/bin/env bash"
    assert "set -euo pipefail" in lines
    done = subprocess.run(["bash", "-n", str(path)], capture_output=True, encoding="utf-8")
    assert (done.returncode, done.stderr) == (0, "")
