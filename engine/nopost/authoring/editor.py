"""What lets a text editor complete and underline while a person writes: copied schemas, and which file has which."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path

from nopost.knowledge.kinds import BASE, KINDS
from nopost.paths import data_dir

SCHEMAS = ".schemas"
"""Folder of the copied schemas within a knowledge base; the loader passes hidden names over."""
BESIDE = {"checklist.yaml": "checklist.schema.json", "exceptions.yaml": "exceptions.schema.json"}
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
max_line_length = 105
"""


def modeline(root: Path, schema: str, depth: int) -> str:
    """The comment by which the open YAML language server finds a file's schema; "" when the base has no schemas of its own.

    `depth`: folders between the file and the base.
    """
    if not (root / SCHEMAS / schema).is_file():
        return ""
    return f"# yaml-language-server: $schema={'../' * depth}{SCHEMAS}/{schema}\n"


def patterns() -> dict[str, str]:
    """Schema -> the files that it is for, from the base's folder on."""
    of_folders = {kind.schema: f"{folder}/*.yaml" for folder, kind in KINDS.items()}
    return {BASE.schema: "base.yaml", **of_folders, **{schema: name for name, schema in BESIDE.items()}}


def schema_of(name: str) -> str:
    """Schema of a file by its path within the base, with forward slashes; "" when it has none."""
    if "/" in name:
        kind = KINDS.get(name.partition("/")[0])
        return kind.schema if kind and name.count("/") == 1 else ""
    return {"base.yaml": BASE.schema, **BESIDE}.get(name, "")


def editor_files() -> Mapping[str, bytes]:
    """Path within a base -> content: the schemas and the settings."""
    schemas = {f"{SCHEMAS}/{path.name}": path.read_bytes() for path in sorted(data_dir("schemas").glob("*.schema.json"))}
    mapping = {f"./{SCHEMAS}/{schema}": pattern for schema, pattern in patterns().items()}
    settings = {"yaml.schemas": mapping, "yaml.schemaStore.enable": False, "yaml.validate": True, "yaml.completion": True}
    return {
        **schemas,
        ".vscode/settings.json": f"{json.dumps(settings, indent=2)}\n".encode(),
        ".editorconfig": EDITORCONFIG.encode(),
    }
