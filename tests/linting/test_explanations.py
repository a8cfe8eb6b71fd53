"""The table of codes: each code that can be printed is explained, and nothing else is."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from knowledge.test_bad_kb import MADE, codes_in_source, rules_in_schemas
from nopost.knowledge.problem import Severity
from nopost.knowledge.schema import SCHEMA_CODES
from nopost.linting.problem_codes import CLOSER_LOOK_CODES, EXCEPTION_CODES, EXPLANATIONS, LOADER_CODES
from schema_walk import SCHEMAS, subschemas

LOADER_BAD = Path(__file__).resolve().parents[1] / "bad_kb"


def test_every_code_of_the_loader_is_explained() -> None:
    """Those in its source, and those with a broken knowledge base."""
    folders = {path.name for path in LOADER_BAD.iterdir() if not path.name.startswith("_")}
    loader = {code for code in {*folders, *MADE, *codes_in_source()} if not code.startswith("schema-")}
    assert loader == set(LOADER_CODES)


def test_every_rule_of_the_schemas_is_explained() -> None:
    """Those that files of the knowledge base can break, with those of the schema of exceptions."""
    of_exceptions = {keyword for _, inner in subschemas(SCHEMAS["exceptions.schema.json"]) for keyword in inner}
    says_nothing = {"$schema", "$id", "$ref", "$defs", "title", "description", "properties", "items"}
    assert {f"schema-{rule}" for rule in {*rules_in_schemas(), *of_exceptions} - says_nothing} <= set(SCHEMA_CODES)


def test_no_code_is_explained_twice() -> None:
    """The parts of the table do not overlap, and the table is in order."""
    parts = (LOADER_CODES, SCHEMA_CODES, CLOSER_LOOK_CODES, EXCEPTION_CODES)
    assert sum(map(len, parts)) == len(EXPLANATIONS)
    assert list(EXPLANATIONS) == sorted(EXPLANATIONS)


@pytest.mark.parametrize("code", EXPLANATIONS)
def test_an_explanation_is_whole(code: str) -> None:
    """A short line without a stop, two texts that end with one, and an error whenever it keeps the base from loading."""
    known = EXPLANATIONS[code]
    assert re.fullmatch("[a-zA-Z]+(-[a-zA-Z]+)*", code)
    assert 8 <= len(known.short) <= 80
    assert not known.short.endswith(".")
    assert known.why.endswith(".")
    assert known.mend.endswith(".")
    assert known.severity is Severity.ERROR or code in CLOSER_LOOK_CODES
