"""The schemas as data, and every schema inside a schema."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).resolve().parents[1] / "schemas"
SCHEMAS: dict[str, dict[str, Any]] = {path.name: json.loads(path.read_text()) for path in sorted(FOLDER.glob("*.json"))}


def subschemas(schema: Any, where: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    """The schema and all schemas inside it, each with its place."""
    if not isinstance(schema, dict):
        return  # true or false
    yield where, schema
    for keyword in ("properties", "$defs"):
        for name, inner in schema.get(keyword, {}).items():
            yield from subschemas(inner, f"{where}/{keyword}/{name}")
    for keyword in ("items", "additionalProperties", "propertyNames", "if", "then", "else", "not"):
        yield from subschemas(schema.get(keyword), f"{where}/{keyword}")
    for keyword in ("oneOf", "anyOf", "allOf"):
        for index, inner in enumerate(schema.get(keyword, ())):
            yield from subschemas(inner, f"{where}/{keyword}/{index}")


def follow(schema: dict[str, Any], name: str) -> dict[str, Any]:
    """What the $ref of a schema in the file `name` leads to; the schema itself when it has none."""
    if "$ref" not in schema:
        return schema
    file, _, pointer = schema["$ref"].partition("#")
    target: Any = SCHEMAS[file or name]
    for step in pointer.strip("/").split("/"):
        target = target[step] if step else target
    return dict(target)
