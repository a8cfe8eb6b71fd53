"""A board record put together: from answers given one by one, or from a record that is there."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from nopost.errors import KnowledgeError, UnknownNameError
from nopost.firmware.notes.families import family_id
from nopost.knowledge.kinds import KINDS
from nopost.knowledge.model import Knowledge
from nopost.knowledge.schema import schema_problems
from nopost.knowledge.yaml_file import read_yaml
from nopost.paths import data_dir

INDICATORS = ("stage_lamps", "code_display", "speaker", "standby_lamp")
_TOP = ("revision", "identifiers", "look_alikes", "socket")


def assembled(answers: Mapping[str, Any]) -> dict[str, Any]:
    """A record in its usual order of keys; what was left empty is left out."""
    record: dict[str, Any] = {"id": answers["id"], "title": answers["title"], "variant": answers["variant"]}
    record |= {name: answers[name] for name in _TOP if answers.get(name)}
    record["memory"] = {"type": answers["memory_type"], "slots": answers["slots"], "order": answers["order"]}
    if answers.get("cpu_power"):
        record["cpu_power"] = answers["cpu_power"]
    record |= {"video_outputs": answers["video_outputs"], "indicators": dict(answers["indicators"])}
    if answers.get("code_table"):
        record["code_table"] = answers["code_table"]
    first = answers.get("first_families")
    record["firmware"] = {**({"first_families": list(first)} if first else {}), "releases": list(answers["releases"])}
    return {**record, "recovery": dict(answers["recovery"]), "source": answers["source"]}


def suggested_id(variant: str) -> str:
    """An id for a board from its variant; "" when there is nothing to make one of."""
    return family_id(variant)


def base_record(name: str, knowledge: Knowledge, kb: Path | None) -> dict[str, Any]:
    """The data of a board record, by file or by id. Raises UnknownNameError or KnowledgeError."""
    path = (kb or data_dir("kb")) / "boards" / f"{name}.yaml" if name in knowledge.boards else Path(name)
    if path.suffix not in (".yaml", ".yml") and not path.is_file():
        raise UnknownNameError("board", name, knowledge.boards)
    document, problems = read_yaml(path)
    problems = problems or schema_problems(document, KINDS["boards"].schema)
    if problems:
        raise KnowledgeError(problems)
    data: dict[str, Any] = document.data
    return data
