"""What a check sees: the built items, and for each the place it came from."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from nopost.knowledge import model as m
from nopost.knowledge.kinds import BASE, KINDS
from nopost.knowledge.problem import Problem, Severity
from nopost.knowledge.source import Source
from nopost.knowledge.yaml_file import Document, Path_


class Context:
    """The items whose files passed their schemas. Of a broken file no more than its name is known."""

    def __init__(self, source: Source) -> None:
        self._source = source
        self.base: m.Base | None = BASE.build(source.base.data) if source.base else None
        built = {folder: self._built(folder) for folder in KINDS}
        self.findings: Mapping[str, m.Finding] = built["findings"]
        self.causes: Mapping[str, m.Cause] = built["causes"]
        self.actions: Mapping[str, m.Action] = built["actions"]
        self.rules: Mapping[str, m.Rule] = built["rules"]
        self.hazards: Mapping[str, m.Hazard] = built["hazards"]
        self.codes: Mapping[str, m.CodeTable] = built["codes"]
        self.boards: Mapping[str, m.Board] = built["boards"]
        self.cpus: Mapping[str, m.Cpu] = built["cpus"]
        self.cases: Mapping[str, m.Case] = built["cases"]
        self.limits: Mapping[str, m.Limits] = built["limits"]

    def _built(self, folder: str) -> dict[str, Any]:
        return {name: KINDS[folder].build(d.data) for name, d in self._source.items[folder].items()}

    def names(self, folder: str) -> frozenset[str] | None:
        """The names of a folder's items, broken ones too; None when the folder could not be looked into."""
        if folder in self._source.unread:
            return None
        return self._source.broken[folder].union(self._source.items[folder])

    def document(self, folder: str, item: str = "") -> Document:
        """The document of an item; of the base when the folder is empty."""
        document = self._source.items[folder][item] if folder else self._source.base
        assert document is not None  # a check speaks only of what it sees
        return document

    def problem(
        self, folder: str, item: str, where: Path_, code: str, message: str, hint: str = "", severity: Severity = Severity.ERROR
    ) -> Problem:
        """A problem at a place in an item's file."""
        document = self.document(folder, item)
        return Problem(document.path, document.line(where), code, message, hint, severity)
