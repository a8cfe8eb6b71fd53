"""No id of the shipped knowledge base stands in the program: what it has to find stands under `roles` in base.yaml."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

from nopost.knowledge.model import ABSENT, UNKNOWN, Knowledge
from nopost.knowledge.reference_records import FACTS
from schema_walk import SCHEMAS, subschemas

ROOT = Path(__file__).resolve().parents[1]
FOLDERS = ("findings", "causes", "actions", "rules", "hazards", "codes", "boards", "cpus", "cases", "limits")
PLAIN_WORDS = {
    "all-passed": "a lamp code: no stage lamp stays lit",
    "bad": "how grave a sentence on readings is",
    "better": "an edition against another",
    "boot": "a lamp code: the boot device",
    "boots": "key of the JSON of decoded codes",
    "fitted": "key of the JSON of a plan",
    "good": "how grave a sentence on readings or a finding of a check is",
    "known": "key of a memory in the simulation",
    "listed": "parameter of a command",
    "memory-type": "code of a check of the machine against its record",
    "message": "key of JSON and of SARIF",
    "missing": "key of the JSON of a plan, and what a check says",
    "normal": "a font weight",
    "not-listed": "code of a check of a stick",
    "nothing": "said for no voltage",
    "off": "the mains, and a machine that is measured",
    "open": "a session, or a diagnosis, without an end",
    "packed": "code of a check of an image or a stick",
    "random": "a strategy of the simulation",
    "restart": "counted in a sentence",
    "right": "a side of a table",
    "runs": "key of JSON and of SARIF, parameter of a command",
    "several": "a phase of a drawing, a lamp code, a kind of missing item",
    "silent": "how a boot ends in a drawing",
    "speed": "a word of an event log that codes are read from",
    "start": "an anchor of text in a drawing",
    "stuck": "how a person says that a lamp stays lit",
    "unclear": "how the codes went, all in all",
    "unsure": "how a person says that they cannot tell",
    "wrong": "key of JSON: wrong fixes, what can go wrong",
}
"""Words that are ids too, mostly of answers, and what else they are in the program."""


def shipped_ids(knowledge: Knowledge) -> set[str]:
    """Ids of items, answers, parts and tools."""
    items = {name for folder in FOLDERS for name in getattr(knowledge, folder)}
    answers = {answer for finding in knowledge.findings.values() for answer in finding.answer_ids}
    return items | answers | set(knowledge.base.parts) | set(knowledge.base.tools)


def schema_words() -> set[str]:
    """Keys and values that the schemas fix: they are the program's own, whatever a knowledge base is about."""
    found: set[str] = set()
    for schema in SCHEMAS.values():
        for _, part in subschemas(schema):
            found |= set(part.get("properties", ())) | {word for word in part.get("enum", ()) if isinstance(word, str)}
    return found


def constants() -> Iterator[tuple[str, str]]:
    """Each text in the program, with its place."""
    for room in ("engine", "cli"):
        for path in sorted((ROOT / room).rglob("*.py")):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, ast.Constant) and isinstance(node.value, str):
                    yield f"{path.relative_to(ROOT)}:{node.lineno}", node.value


@pytest.mark.slow
def test_no_id_in_the_program(knowledge: Knowledge) -> None:
    """Neither of an item nor of an answer; and each word that is let through is needed."""
    own = schema_words() | set(FACTS) | {value for values in FACTS.values() for value in values} | {UNKNOWN, ABSENT}
    ids = shipped_ids(knowledge) - own
    found = [(place, text) for place, text in constants() if text in ids]
    assert [f"{place}: {text}" for place, text in found if text not in PLAIN_WORDS] == []
    assert {text for _, text in found} == set(PLAIN_WORDS)
