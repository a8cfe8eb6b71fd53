"""The registry of codes: each code that can be printed is explained and has a bad example, and each check is in it."""

from __future__ import annotations

import ast
import importlib
import inspect
import re
from collections.abc import Iterator
from pathlib import Path

import nopost.knowledge
import nopost.linting
from knowledge import test_bad_kb
from linting import test_bad_examples
from nopost.knowledge.problem import ProblemCode, Severity
from nopost.linting.lint_check import Check, Stage
from nopost.linting.runner import CHECKS, CODES_STILL_TO_COME, EXCEPTABLE_CODES, PROBLEM_CODES
from nopost_cli.kb.forms.item_form import NEXT
from schema_walk import SCHEMAS, subschemas

ROOMS = (nopost.knowledge, nopost.linting)
SOURCES = [path for room in ROOMS for path in sorted(Path(str(room.__file__)).parent.glob("*.py"))]
NEVER_MET = {"schema-const", "schema-not", "schema-exclusiveMaximum"}
"""Explained for schemas to come; no file of today's kinds can break these rules."""


def codes_of(path: Path) -> Iterator[ProblemCode]:
    """Each code that a module holds, by itself, in a table or as the code of one of its checks."""
    module = importlib.import_module(f"nopost.{path.parent.name}.{path.stem}")
    for value in vars(module).values():
        if inspect.isclass(value) and issubclass(value, Check) and "code" in vars(value):
            yield value.code
        for code in value if isinstance(value, tuple) else (value,):
            if isinstance(code, ProblemCode):
                yield code


def test_every_code_that_is_raised_is_explained() -> None:
    """Problems are made from codes alone, and each code of reader, schemas and checks is in the registry, under its own name."""
    for path in SOURCES:
        made = {
            node.func.id
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
        }
        assert "Problem" not in made or path.name == "problem.py", path
    codes = {code for path in SOURCES if path.stem != "__init__" for code in codes_of(path)}
    assert codes == set(PROBLEM_CODES.values())
    assert list(PROBLEM_CODES) == sorted(code.name for code in codes)


def test_every_code_has_a_bad_example() -> None:
    """A folder of files that spoil the tiny base, or a function that does; and no example is of another code."""
    folders = {path.name for path in (*test_bad_kb.FOLDERS, *test_bad_examples.FOLDERS)}
    assert folders | set(test_bad_kb.MADE) | set(test_bad_examples.MADE) == set(PROBLEM_CODES) - NEVER_MET


def test_every_rule_of_the_schemas_is_explained() -> None:
    """Those that files of the knowledge base can break, with those of the schema of exceptions."""
    of_exceptions = {keyword for _, inner in subschemas(SCHEMAS["exceptions.schema.json"]) for keyword in inner}
    says_nothing = {"$schema", "$id", "$ref", "$defs", "title", "description", "properties", "items"}
    rules = {*test_bad_kb.rules_in_schemas(), *of_exceptions} - says_nothing
    assert {f"schema-{rule}" for rule in rules} <= PROBLEM_CODES.keys() - NEVER_MET


def test_every_check_is_run() -> None:
    """Each class that can be run is in the registry, once."""
    modules = [importlib.import_module(f"nopost.linting.{path.stem}") for path in SOURCES if path.stem.startswith("check_")]
    classes = {value for module in modules for value in vars(module).values() if inspect.isclass(value)}
    checks = {each for each in classes if issubclass(each, Check) and not inspect.isabstract(each) and hasattr(each, "code")}
    assert len(CHECKS) == len(set(CHECKS))
    assert set(CHECKS) == checks


def test_an_explanation_is_whole() -> None:
    """A short line without a stop, two texts that end with one, and an error whenever it keeps the base from loading."""
    wrong = [
        code.name
        for code in PROBLEM_CODES.values()
        if not re.fullmatch("[a-zA-Z]+(-[a-zA-Z]+)*", code.name)
        or not 8 <= len(code.short) <= 80
        or code.short.endswith(".")
        or not (code.why.endswith(".") and code.fix.endswith("."))
        or not (code.severity is Severity.ERROR or code.name in EXCEPTABLE_CODES)
    ]
    assert wrong == []


def test_what_can_be_excepted_keeps_no_base_from_loading() -> None:
    """A code of the closer look is raised nowhere else."""
    assert not EXCEPTABLE_CODES & {check.code.name for check in CHECKS if check.stage is not Stage.CLOSER}


def test_what_is_still_to_come_is_told() -> None:
    """A person who adds items is told what comes next for each code that another item takes away."""
    assert NEXT.keys() == CODES_STILL_TO_COME
