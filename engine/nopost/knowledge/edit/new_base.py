"""A new knowledge base: a copy of the shipped one, or an empty one to go on from.

With it comes what lets a text editor complete and underline while a person writes: copied schemas, and which file has which.
"""

from __future__ import annotations

import contextlib
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from nopost.errors import OutputError
from nopost.files import data_dir, write_atomically
from nopost.knowledge.build import BASE, KINDS, RENAMED, RENAMED_FILE
from nopost.knowledge.edit.canonical_yaml import yaml_text
from nopost.knowledge.edit.change_yaml import EditableYaml
from nopost.knowledge.model import Words

SCHEMAS = ".schemas"
"""Folder of the copied schemas within a knowledge base; the loader passes hidden names over."""
FILES_BESIDE_BASE = {
    "checklist.yaml": "checklist.schema.json",
    "exceptions.yaml": "exceptions.schema.json",
    RENAMED_FILE: RENAMED.schema,
}
"""Files beside base.yaml that have a schema of their own."""
EDITORCONFIG = """\
root = true

[*.yaml]
charset = utf-8
end_of_line = lf
indent_style = space
indent_size = 2
insert_final_newline = true
trim_trailing_whitespace = true
max_line_length = 130
"""


def modeline(root: Path, schema: str, depth: int) -> str:
    """The comment by which the open YAML language server finds a file's schema; "" when the base has no schemas of its own.

    `depth`: folders between the file and the base.
    """
    if not (root / SCHEMAS / schema).is_file():
        return ""
    return f"# yaml-language-server: $schema={'../' * depth}{SCHEMAS}/{schema}\n"


def schema_patterns() -> dict[str, str]:
    """Schema -> the files that it is for, from the base's folder on."""
    of_folders = {kind.schema: f"{folder}/**/*.yaml" for folder, kind in KINDS.items()}
    return {BASE.schema: "base.yaml", **of_folders, **{schema: name for name, schema in FILES_BESIDE_BASE.items()}}


def schema_of(name: str) -> str:
    """Schema of a file by its path within the base, with forward slashes; "" when it has none."""
    if "/" in name:
        kind = KINDS.get(name.partition("/")[0])
        return kind.schema if kind and name.count("/") <= 2 else ""
    return {"base.yaml": BASE.schema, **FILES_BESIDE_BASE}.get(name, "")


def editor_files() -> Mapping[str, bytes]:
    """Path within a base -> content: the schemas and the settings."""
    schemas = {f"{SCHEMAS}/{path.name}": path.read_bytes() for path in sorted(data_dir("schemas").glob("*.schema.json"))}
    mapping = {f"./{SCHEMAS}/{schema}": pattern for schema, pattern in schema_patterns().items()}
    settings = {"yaml.schemas": mapping, "yaml.schemaStore.enable": False, "yaml.validate": True, "yaml.completion": True}
    return {
        **schemas,
        ".vscode/settings.json": f"{json.dumps(settings, indent=2)}\n".encode(),
        ".editorconfig": EDITORCONFIG.encode(),
    }


@dataclass(frozen=True, slots=True)
class NewBase:
    """What an empty base begins with. Every text is a placeholder until someone says otherwise."""

    name: str = "Why it does not work"
    parts: Mapping[str, str] = field(default_factory=lambda: {"whole": "The whole machine"})
    shop: str = "Give it to a repair workshop"
    shop_minutes: float = 60.0
    shop_money: float = 100.0
    hand_over: Sequence[str] = ("Tell what it does, what it did before, and what was tried. Bring the list of steps.",)
    proof: Sequence[str] = ("It does what it is made for three times in a row, after a pause each time.",)
    minute_rate: float = 0.4
    works: str = Words().works
    fails: str = Words().fails
    machine: str = Words().machine
    machines: str = Words().machines


def refuse_unless_free(folder: Path) -> None:
    """Raises OutputError when there is anything where the new base is to be."""
    if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
        raise OutputError(f"{folder}: is there already and is no folder; name a new one")
    if folder.is_dir() and any(folder.iterdir()):
        raise OutputError(f"{folder}: is not empty; name a new or an empty folder")


def copied_files(name: str = "") -> dict[str, bytes]:
    """Path -> content of a copy of the shipped base, each file with the line that tells editors its schema."""
    return {**editor_files(), **dict(_shipped(name))}


def empty_files(begin: NewBase) -> dict[str, bytes]:
    """Path -> content of an empty base: no items, every entry of base.yaml explained."""
    return {**editor_files(), "base.yaml": (_modeline("base.yaml") + _base_text(begin)).encode()}


def write_base(folder: Path, files: Mapping[str, bytes]) -> None:
    """Write the files, base.yaml last, and the folder of each kind. Raises OutputError."""
    refuse_unless_free(folder)
    try:
        for kind in KINDS:
            (folder / kind).mkdir(parents=True, exist_ok=True)
        for name in sorted(files, key=lambda name: (name == "base.yaml", name)):
            path = folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            write_atomically(path, files[name])
    except OSError as error:
        _take_back(folder, files)
        raise OutputError(f"{error.filename or folder}: cannot be written: {error.strerror}") from None


def _take_back(folder: Path, files: Mapping[str, bytes]) -> None:
    """Leave the folder as free as it was: what was written, and the folders that are empty then."""
    for path in sorted(folder.rglob("*"), reverse=True):
        with contextlib.suppress(OSError):
            if path.is_dir():
                path.rmdir()
            elif path.relative_to(folder).as_posix() in files:
                path.unlink()


def _shipped(name: str) -> Iterator[tuple[str, bytes]]:
    root = data_dir("kb")
    for path in sorted(root.rglob("*.yaml")):
        inside = path.relative_to(root).as_posix()
        text = path.read_text(encoding="utf-8")
        if name and inside == "base.yaml":
            file = EditableYaml(text, inside)
            file.set_value(("name",), name)
            text = file.text()
        yield inside, (_modeline(inside) + text).encode()
    for path in sorted(root.glob("*.csv")):
        yield path.name, path.read_bytes()


def _modeline(inside: str) -> str:
    schema = schema_of(inside)
    return f"# yaml-language-server: $schema={'../' * inside.count('/')}{SCHEMAS}/{schema}\n" if schema else ""


def _yaml_entry(**data: Any) -> str:
    return yaml_text(data).rstrip("\n")


def _base_text(begin: NewBase) -> str:
    """base.yaml with a word on each entry."""
    effort = {"minutes": begin.shop_minutes, "money": begin.shop_money}
    shop = {"title": begin.shop, "effort": effort, "hand_over": list(begin.hand_over)}
    words = {key: getattr(begin, key) for key in ("machine", "machines", "works", "fails")}
    return f"""\
# What holds for the whole knowledge base. Each kind of item has a folder beside this file.

# Shown on screens and reports.
{_yaml_entry(name=begin.name)}
# Yours to choose; raise it when the knowledge changed.
edition: "1"

# What a faulty machine is called in headlines, many of them in a sentence, and what is said when it is mended and when it is not.
{_yaml_entry(words=words)}

# Money that one minute of work is worth. It weighs minutes against money; the user can set another.
{_yaml_entry(minute_rate=begin.minute_rate)}

# The last resort, and what it costs: every fix is compared with it. hand_over: what to tell and bring.
{_yaml_entry(shop=shop)}

# Machines with two faults for each machine with one. 0.07 is 7 in 100.
two_faults: 0.07
# The cause that nobody wrote down: its share of all machines, and how evenly it answers (0 as the others do, 1 any answer alike).
unlisted: {{share: 0.1, spread: 0.5}}

# Findings asked first, in this order, whatever they are worth. Begin with dangers, then with what anyone sees at a glance.
opening: []

# Parts of the machine: id and name. Every cause, finding and action belongs to one.
{_yaml_entry(parts=dict(begin.parts))}

# Tools and spares that a step needs, and what it takes to get one when it is not at hand. One line each:
#   screwdriver: {{title: Screwdriver, effort: {{minutes: 1}}}}
tools: {{}}

# What shows that a machine that works again is really well; shown at the end.
{_yaml_entry(proof=list(begin.proof))}

# Where the numbers above come from: a published source, "common practice, no source", or judgement.
source: judgement
"""
