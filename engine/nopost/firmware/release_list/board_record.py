"""A board record put together: its firmware part from a release list, the rest from answers given one by one or from
a record that is there; as YAML, with each guess marked by a comment over its line, and checked.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from nopost.firmware.release_list.cell_values import Guess, ReleaseEntry, ReleaseList
from nopost.firmware.release_list.prose import family_id
from nopost.knowledge.problem import Problem
from nopost.knowledge.record_faults import board_problems
from nopost.knowledge.yaml_reader import Document, KeyPath, parse_yaml

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


_REST: Mapping[str, Any] = {
    "id": "part",
    "title": "firmware part alone",
    "variant": "part",
    "socket": "any",
    "memory": {"type": "DDR4", "slots": ["A1"], "order": {"1": ["A1"]}},
    "video_outputs": False,
    "indicators": {"stage_lamps": False, "code_display": False, "speaker": False, "standby_lamp": False},
    "recovery": {"button": False, "second_chip": False},
    "source": "the firmware part alone",
}
"""Stands in for the rest of a record while its firmware part is checked alone."""
Comments = dict[KeyPath, list[str]]


def firmware_part(listed: ReleaseList) -> dict[str, Any]:
    """The `firmware` of a board record, as data, from a release list."""
    families = list(dict.fromkeys([*listed.known_first, *(guess.value for guess in listed.guessed_first)]))
    part: dict[str, Any] = {"first_families": families} if families else {}
    return {**part, "releases": [_clean(entry, families) for entry in listed.releases]}


def _clean(entry: ReleaseEntry, first: Sequence[str]) -> dict[str, Any]:
    """A release without gains that the oldest one has."""
    data = entry.data()
    data["adds"] = [family for family in data.get("adds", ()) if family not in first]
    return {name: value for name, value in data.items() if value != []}


def guess_comments(listed: ReleaseList, part: Mapping[str, Any]) -> Comments:
    """Place in the record -> the guesses that stand there, and what was noticed at a release."""
    found: Comments = {}
    for guess in listed.guessed_first:
        found.setdefault(("firmware", "first_families"), []).append(f"guess: {guess.shown()}")
    places = {release["version"]: index for index, release in enumerate(part["releases"])}
    for entry in listed.releases:
        index = places.get(entry.version)
        for remark in listed.remarks:
            if index is not None and remark.line and remark.line == entry.line:
                found.setdefault(("firmware", "releases", index, "version"), []).append(f"note: {remark.text}")
        for guess in entry.guesses:
            if index is not None and guess.field in part["releases"][index]:
                found.setdefault(("firmware", "releases", index, guess.field), []).append(f"guess: {guess.shown()}")
    return found


def merged(base: Mapping[str, Any], part: Mapping[str, Any], name: str = "") -> dict[str, Any]:
    """The base record with this firmware in place of its own; `name`: another id for it."""
    return {**base, **({"id": name} if name else {}), "firmware": dict(part)}


def record_text(data: Mapping[str, Any], comments: Mapping[KeyPath, Sequence[str]]) -> str:
    """The record as YAML. Each comment stands over the line of its value, indented like it."""
    from nopost.knowledge.edit.canonical_yaml import yaml_text

    text = yaml_text(data)
    document, _ = parse_yaml(text, "record")
    lines = text.split("\n")
    at: dict[int, list[str]] = {}
    for where, said in comments.items():
        at.setdefault(document.line(where), []).extend(said)
    for line, said in sorted(at.items(), reverse=True):
        row = lines[line - 1]
        indent = " " * (len(row) - len(row.lstrip(" ")))
        lines[line - 1 : line - 1] = [f"{indent}# {_comment(each)}" for each in dict.fromkeys(said)]
    return "\n".join(lines)


def _comment(text: str) -> str:
    return " ".join(text.split())


def check_record(text: str, name: str, whole: bool) -> list[Problem]:
    """Problems of a record's text, read back with the one YAML reader. `whole`: not its firmware part alone."""
    document, problems = parse_yaml(text, name)
    if problems:
        return problems
    if not whole:
        document = Document(name, {**_REST, **document.data}, document.lines)
    return board_problems(document)


def list_data(listed: ReleaseList) -> dict[str, Any]:
    """The list as JSON: how it was read, releases with their guesses, remarks."""

    def told(guesses: Sequence[Guess]) -> list[dict[str, str]]:
        return [{"field": each.field, "value": each.value, "words": each.words, "why": each.why} for each in guesses]

    releases = [{"line": entry.line, **entry.data(), "guesses": told(entry.guesses)} for entry in listed.releases]
    remarks = [{"line": remark.line, "text": remark.text} for remark in listed.remarks]
    return {
        "form": listed.form,
        "encoding": listed.encoding,
        "releases": releases,
        "first": told(listed.guessed_first),
        "remarks": remarks,
    }
