"""The kinds of item, each with its folder, its schema and its builder."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from nopost.knowledge import build
from nopost.knowledge.limits import limits


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of item: `folder` under kb/, schema name, and the function that turns data into the item."""

    name: str
    folder: str
    build: Callable[[Any], Any]

    @property
    def schema(self) -> str:
        """File name of the schema."""
        return f"{self.name}.schema.json"


BASE = Kind("base", "", build.base)

KINDS = MappingProxyType(
    {
        kind.folder: kind
        for kind in (
            Kind("finding", "findings", build.finding),
            Kind("cause", "causes", build.cause),
            Kind("action", "actions", build.action),
            Kind("rule", "rules", build.rule),
            Kind("hazard", "hazards", build.hazard),
            Kind("codes", "codes", build.code_table),
            Kind("board", "boards", build.board),
            Kind("cpu", "cpus", build.cpu),
            Kind("case", "cases", build.case),
            Kind("limits", "limits", limits),
        )
    }
)
"""Folder -> kind."""
