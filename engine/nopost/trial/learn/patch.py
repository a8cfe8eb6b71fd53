"""Accepted proposals as changed files, and as a patch that other tools read."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from pathlib import Path

from nopost.authoring.set_value import set_value
from nopost.knowledge.yaml_file import read_yaml
from nopost.trial.learn.propose import Proposal

MARK = "closed cases"


def changed_files(folder: Path, proposals: Iterable[Proposal], where_from: str) -> dict[Path, tuple[str, str]]:
    """File -> (its text, the text with the proposals). Each kind of number that changed says so in the cause's `source`."""
    found: dict[Path, tuple[str, str]] = {}
    for proposal in proposals:
        path = folder / "causes" / f"{proposal.cause}.yaml"
        old, new = found.get(path) or (path.read_text(encoding="utf-8-sig"),) * 2
        found[path] = old, _said(path, _applied(new, proposal), proposal.kind, where_from)
    return found


def _applied(text: str, proposal: Proposal) -> str:
    if proposal.kind == "weight":
        return set_value(text, ["weight"], proposal.values["weight"])
    if proposal.kind == "fixes":
        return set_value(text, ["fixes", proposal.item], proposal.values[proposal.item])
    return set_value(text, ["shows", proposal.item], proposal.values)


def _said(path: Path, text: str, kind: str, where_from: str) -> str:
    """The source of this kind of number with the cases added, once."""
    document, _ = read_yaml(path)
    before = str(document.data["source"].get(kind, "judgement"))
    plain = before.split(f"; {MARK}")[0]
    return set_value(text, ["source", kind], f"{plain}; {MARK}: {where_from}")


def unified_patch(changed: dict[Path, tuple[str, str]], folder: Path) -> str:
    """All of it as a unified diff, paths from the knowledge base's folder."""
    parts: list[str] = []
    for path, (old, new) in sorted(changed.items()):
        name = path.relative_to(folder).as_posix()
        lines = difflib.unified_diff(old.splitlines(True), new.splitlines(True), f"a/{name}", f"b/{name}")
        parts += lines
    return "".join(line if line.endswith("\n") else f"{line}\n\\ No newline at end of file\n" for line in parts)
