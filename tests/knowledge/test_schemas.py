"""The schemas: valid, closed, and every property explained."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from nopost.knowledge.build import BASE, KINDS, ItemKind
from schema_walk import SCHEMAS, follow, subschemas

EVERY = [pytest.param(name, schema, id=name.removesuffix(".schema.json")) for name, schema in SCHEMAS.items()]
BAD = Path(__file__).resolve().parents[1] / "bad_kb"


@pytest.mark.parametrize(("name", "schema"), EVERY)
def test_it_is_a_schema(name: str, schema: dict[str, Any]) -> None:
    """Valid by the metaschema of JSON Schema 2020-12, and its $id is its file name."""
    Draft202012Validator.check_schema(schema)
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert schema["$id"] == name


@pytest.mark.parametrize(("name", "schema"), EVERY)
def test_every_property_is_described(name: str, schema: dict[str, Any]) -> None:
    """By its own description, or by that of what it refers to."""
    silent = [
        f"{where}/{key}"
        for where, inner in subschemas(schema)
        for key, of_key in inner.get("properties", {}).items()
        if "description" not in of_key and "description" not in follow(of_key, name)
    ]
    assert silent == []


@pytest.mark.parametrize(("name", "schema"), EVERY)
def test_objects_are_closed(name: str, schema: dict[str, Any]) -> None:
    """An object with named properties takes no others."""
    places = subschemas(schema)
    assert [where for where, inner in places if "properties" in inner and inner.get("additionalProperties") is not False] == []


@pytest.mark.parametrize(("name", "schema"), EVERY)
def test_what_is_required_is_known(name: str, schema: dict[str, Any]) -> None:
    """A required property is one of the properties."""
    for where, inner in subschemas(schema):
        if "properties" in inner:
            assert set(inner.get("required", ())) <= set(inner["properties"]), where


@pytest.mark.parametrize("kind", [BASE, *KINDS.values()], ids=lambda kind: kind.name)
def test_each_kind_has_a_bad_example(kind: ItemKind) -> None:
    """Among the broken knowledge bases there is one whose file of this kind breaks the schema."""
    wanted = f"{kind.folder}/" if kind.folder else "base.yaml:"
    lines = [line for path in BAD.glob("schema-*/expected.txt") for line in path.read_text().splitlines()]
    assert any(line.startswith(wanted) for line in lines)
