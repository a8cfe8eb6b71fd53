"""Check data against the JSON Schemas (2020-12), say in plain words what to type instead, and what each broken rule means.

The code of such a problem is schema-<rule of JSON Schema that is broken>.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import cache
from typing import Any

from jsonschema import Draft202012Validator
from jsonschema.exceptions import ValidationError, best_match
from referencing import Registry, Resource

from nopost.files import data_dir
from nopost.knowledge.problem import Problem, ProblemCode, nearest_hint
from nopost.knowledge.yaml_reader import Document

_LIMITS = {
    "minimum": ("is out of range", "it must be at least {}"),
    "maximum": ("is out of range", "it must be at most {}"),
    "exclusiveMinimum": ("is out of range", "it must be more than {}"),
    "exclusiveMaximum": ("is out of range", "it must be less than {}"),
    "minLength": ("is too short", "use at least {} characters"),
    "maxLength": ("is too long", "use at most {} characters"),
    "minItems": ("is too short a list", "name at least {}"),
    "maxItems": ("is too long a list", "name at most {}"),
    "minProperties": ("holds too few keys", "write at least {}"),
    "maxProperties": ("holds too many keys", "write at most {}"),
}
"""Rule of a schema -> message and hint."""
_ANNOTATIONS = frozenset(("title", "description"))
"""Keywords by which nothing is checked."""


@cache
def _registry() -> Registry[Any]:
    resources = []
    for path in sorted(data_dir("schemas").glob("*.schema.json")):
        resources.append((path.name, Resource.from_contents(json.loads(path.read_text(encoding="utf-8")))))
    return Registry().with_resources(resources)


@cache
def validator(schema: str) -> Draft202012Validator:
    """The validator of a schema file, by its name."""
    return Draft202012Validator(_inlined(_registry().contents(schema), _registry().resolver(schema)))


def _inlined(part: Any, resolver: Any) -> Any:
    """A part of a schema with what each $ref leads to in its place; none leads back to itself. `resolver`: of its file.

    The validator would look up each $ref again for each value, which takes a third of the time of a whole load.
    """
    if isinstance(part, list):
        return [_inlined(each, resolver) for each in part]
    if not isinstance(part, dict):
        return part
    rest = {key: _inlined(each, resolver) for key, each in part.items() if key not in ("$ref", "$defs")}
    if "$ref" not in part:
        return rest
    target = resolver.lookup(part["$ref"])
    found = _inlined(target.contents, target.resolver)
    return {**rest, "allOf": [found]} if rest.keys() - _ANNOTATIONS else found


def schema_problems(document: Document, schema: str) -> list[Problem]:
    """All places where the document breaks its schema."""
    found = [_problem(document, error) for error in validator(schema).iter_errors(document.data)]
    return sorted(set(found))


def _problem(document: Document, error: ValidationError) -> Problem:
    deep = best_match([error]) or error
    if deep.context and not _names_wanted(deep):
        deep = deep.context[0]  # none of several forms fits: speak of the first
    where = tuple(deep.absolute_path)
    place = ".".join(str(step) for step in where) or "the file"
    message, hint = _message_and_hint(deep)
    line = document.line((*where, _unknown_keys(deep)[0]) if deep.validator == "additionalProperties" else where)
    return CODE_OF_RULE[str(deep.validator)].at(document.path, line, f"{place}: {message}", hint)


def _message_and_hint(error: ValidationError) -> tuple[str, str]:
    """Message and hint for one schema error."""
    rule, limit, value = _parts(error)
    shown = _shown(value)
    if rule == "additionalProperties":
        return _unknown_key(error)
    if rule == "required":
        missing = [name for name in limit if name not in value]
        return f"{', '.join(missing)} is missing", f"add {missing[0]}: {_wanted(error, missing[0])}".rstrip()
    if rule == "dependentRequired":
        missing = [name for key in limit if key in value for name in limit[key] if name not in value]
        return f"{', '.join(key for key in limit if key in value)} without {', '.join(missing)}", f"add {missing[0]}:"
    if (rule == "type" and limit == "string" and isinstance(value, int | float | None)) or (rule == "enum" and shown in limit):
        return f"{shown} is not text", f'quote it: "{shown}"'
    if rule == "type":
        return f"{shown} is not of the type {limit}", f"write {_example(str(limit))}"
    if rule == "enum":
        return f"{shown} is not allowed", f"one of: {', '.join(map(str, limit))}"
    if rule == "pattern":
        return f"{shown} is not written as it must be", _description(error) or f"it must match {limit}"
    if rule == "uniqueItems":
        return f"{shown} names something twice", "name each once"
    if rule in _LIMITS:
        message, hint = _LIMITS[rule]
        return f"{shown} {message}", hint.format(limit)
    if names := _names_wanted(error):
        return f"one of {', '.join(names)} must stand here", f"write one of them{', not both' if rule == 'oneOf' else ''}"
    return error.message[:200], _description(error)


def _wanted(error: ValidationError, key: str) -> str:
    """What is to stand behind a key, where the schema allows only a few words."""
    schema = error.schema.get("properties", {}).get(key, {}) if isinstance(error.schema, Mapping) else {}
    return "true or false" if schema.get("type") == "boolean" else " or ".join(map(str, schema.get("enum", ())))


def _names_wanted(error: ValidationError) -> list[str]:
    """The keys of which one is wanted, where the schema says so with oneOf or anyOf."""
    rule, options, _ = _parts(error)
    return [name for option in options for name in option.get("required", ())] if rule in ("oneOf", "anyOf") else []


def _parts(error: ValidationError) -> tuple[str, Any, Any]:
    """Rule, its value and the offending value."""
    value: Any = error.instance
    return str(error.validator), error.validator_value, value


def _known_keys(error: ValidationError) -> list[str]:
    schema: Any = error.schema
    return list(schema.get("properties", {}))


def _unknown_keys(error: ValidationError) -> list[str]:
    return [key for key in _parts(error)[2] if key not in _known_keys(error)]


def _unknown_key(error: ValidationError) -> tuple[str, str]:
    known, extra = _known_keys(error), _unknown_keys(error)
    return f"{', '.join(extra)} is not known here", nearest_hint(extra[0], known, f"known here: {', '.join(known)}")


def _shown(value: Any) -> str:
    text = value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)
    return (text if len(text) <= 60 else text[:57] + "...") or '""'


def _description(error: ValidationError) -> str:
    schema = error.schema
    text = schema.get("description", "") if isinstance(schema, dict) else ""
    return str(text)


def _example(kind: str) -> str:
    return {
        "object": "key: value pairs",
        "array": "a list: [one, two]",
        "string": "text, in quotes if in doubt",
        "number": "a number such as 0.5",
        "integer": "a whole number",
        "boolean": "true or false",
    }.get(kind, kind)


_WHY_SCHEMA = (
    "Each kind of file has a schema in schemas/, where every key is described. A file that breaks it is not read further."
)
_SCHEMA_RULES = (
    ("additionalProperties", "A key that the schema does not know", "Correct the key; the nearest known one is named."),
    ("anyOf", "None of several allowed forms fits", "Write it in one of the forms that the hint names."),
    ("enum", "Not one of the allowed words", "Use one of the words that the hint lists."),
    ("exclusiveMaximum", "A number that is too large", "Stay below the limit in the hint."),
    ("exclusiveMinimum", "A number that is too small", "Go above the limit in the hint."),
    ("maxItems", "A list that is too long", "Shorten the list, or split the item in two."),
    ("maxLength", "A text that is too long", "Shorten it; a title must fit on one line of a screen."),
    ("maxProperties", "Too many keys", "Write each thing as an entry of its own."),
    ("maximum", "A number that is too large", "Stay within the limit in the hint; a probability is at most 1."),
    ("minItems", "A list that is too short", "Name at least as many as the hint says, or leave the key out."),
    ("minLength", "A text that is too short", "Write a full line."),
    ("minProperties", "Too few keys", "Fill it in, or leave the whole key out."),
    ("minimum", "A number that is too small", "Stay within the limit in the hint."),
    ("oneOf", "Not exactly one of several forms", "Keep one of the forms, such as finding: or fact:, not both."),
    (
        "pattern",
        "A text of the wrong shape",
        "Ids have small letters, digits and single hyphens; codes and dates as the hint says.",
    ),
    ("required", "A key is missing", "Add the key that is named; every item needs a source."),
    (
        "type",
        "A value of the wrong kind",
        "Write text, a number, a list or key: value as the hint says; quote text that looks like a number.",
    ),
    ("uniqueItems", "A list that names something twice", "Keep one of them."),
    ("dependentRequired", "A key without the key it belongs to", "Add the other key, or take both out."),
    ("const", "Not the one allowed value", "Write the value in the hint."),
    ("not", "Something that is not allowed here", "Take it out, as the hint says."),
)
CODE_OF_RULE = {rule: ProblemCode(f"schema-{rule}", short, _WHY_SCHEMA, fix) for rule, short, fix in _SCHEMA_RULES}
"""Rule of JSON Schema that a file can break -> code."""
SCHEMA_CODES = tuple(CODE_OF_RULE.values())
"""What can be wrong with the data of a file."""
