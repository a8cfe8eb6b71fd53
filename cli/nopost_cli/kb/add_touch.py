"""Existing files that a new item concerns: a line more in each that the person names, everything else as it was."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from nopost.authoring.edit import add_entry, add_item
from nopost.authoring.items import change_file, item_path
from nopost_cli.guided import ask_number, choose_or_none, confirm, say, tell
from nopost_cli.kb.add_form import Form
from nopost_cli.kb.add_questions import ask_shares


def causes_showing(form: Form, finding: str) -> list[Path]:
    """Causes that the new finding tells apart."""
    if finding not in form.context.findings:
        return []
    rest = {name: title for name, title in form.titles("causes").items() if finding not in form.context.causes[name].shows}
    changed: list[Path] = []
    if rest:
        tell("\nWhich existing causes make it look different? A line is added to their files.")
    while rest and (name := choose_or_none("Cause", rest)):
        shown = ask_shares(form.context.findings[finding])
        changed.append(_add(form, "cause", name, ("shows",), finding, shown))
        del rest[name]
    return changed


def causes_mended(form: Form, action: str) -> list[Path]:
    """Causes that the new fix mends."""
    rest = {name: title for name, title in form.titles("causes").items() if action not in form.context.causes[name].fixes}
    changed: list[Path] = []
    if rest:
        tell("\nWhich existing causes does it mend? It is added to their files.")
    while rest and (name := choose_or_none("Cause", rest)):
        chance = round(ask_number("  It mends it in how many of 100 cases", 0.1, 100) / 100, 4)
        changed.append(_add(form, "cause", name, ("fixes",), action, chance))
        del rest[name]
    return changed


def findings_seen(form: Form, action: str) -> list[Path]:
    """Findings that the new test shows."""
    rest = {name: f.title for name, f in sorted(form.context.findings.items()) if f.question and not f.action}
    changed: list[Path] = []
    if rest:
        tell("\nWhich existing findings are seen only through this test? It is added to their files.")
    while rest and (name := choose_or_none("Finding", rest)):
        changed.append(_add(form, "finding", name, (), "action", action))
        del rest[name]
    return changed


def first_asked(form: Form, finding: str) -> list[Path]:
    """Whether the new finding is one of those that are asked first of all."""
    opening = form.context.base.opening if form.context.base else ()
    if finding in opening or not confirm("\nShall it always be asked first, before anything is weighed?", default=False):
        return []
    path = form.root / "base.yaml"
    change_file(path, lambda text: add_item(text, ("opening",), finding))
    say(f"Added to the opening questions: {path}")
    return [path]


def _add(form: Form, kind: str, name: str, where: tuple[str, ...], key: str, value: Mapping[str, float] | Any) -> Path:
    path = item_path(form.root, kind, name)
    change_file(path, lambda text: add_entry(text, where, key, value))
    say(f"  Added: {path}")
    return path
