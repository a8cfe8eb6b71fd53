"""The kinds of item, each with its folder and schema, and how data that passed its schema becomes a value of `model`.

No checks here: the schema made them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from nopost.knowledge import model as m
from nopost.knowledge.meter_limits import build_limits
from nopost.knowledge.roles import build_roles

Data = Mapping[str, Any]
MAX_BYTES = 512 * 1024
"""Bytes of a file: no item written by people is that long."""


def effort(data: Data) -> m.Effort:
    """An effort."""
    return m.Effort(float(data["minutes"]), float(data.get("money", 0)), float(data.get("risk", 0)))


def conditions(data: Data | None) -> m.Conditions:
    """A pair of condition lists; none of them when the data is missing."""
    if data is None:
        return m.Conditions()
    return m.Conditions(*(tuple(_condition(c) for c in data.get(key, ())) for key in ("all", "none")))


def _condition(data: Data) -> m.Condition:
    of_fact = "fact" in data
    values = data["is"]
    return m.Condition(of_fact, data["fact" if of_fact else "finding"], (values,) if isinstance(values, str) else tuple(values))


def finding(data: Data) -> m.Finding:
    """A finding."""
    reads = data.get("reads")
    return m.Finding(
        id=data["id"],
        title=data["title"],
        part=data["part"],
        answers=tuple(m.Answer(a["id"], a["text"]) for a in data["answers"]),
        question=data.get("question", ""),
        look=data.get("look", ""),
        absent=data.get("absent", ""),
        combine=m.Combine(data["combine"]) if "combine" in data else None,
        baseline=data.get("baseline", {}),
        unnamed=data.get("unnamed"),
        reads=m.Instrument(reads["finding"], reads["table"]) if reads else None,
        misreport=data.get("misreport", 0.03),
        effort=effort(data["effort"]) if "effort" in data else m.Effort(0.0),
        at=tuple(data.get("at", ())),
        needs=tuple(data.get("needs", ())),
        action=data.get("action", ""),
        hazards=tuple(data.get("hazards", ())),
        powered=data.get("powered", False),
        when=conditions(data.get("when")),
        closed=data.get("closed", False),
        record=tuple(data.get("record", ())),
        source=data["source"],
        parent=data.get("parent", ""),
        given=data.get("given", {}),
    )


def cause(data: Data) -> m.Cause:
    """A cause."""
    return m.Cause(
        id=data["id"],
        title=data["title"],
        part=data["part"],
        weight=float(data["weight"]),
        shows=data["shows"],
        fixes=data["fixes"],
        proof=data["proof"],
        explanation=data["explanation"],
        alone=data.get("alone", False),
        hazards=tuple(data.get("hazards", ())),
        source=data["source"],
        shows_given=data.get("shows_given", {}),
        changes=data.get("changes", {}),
        area=data.get("area", ""),
    )


def action(data: Data) -> m.Action:
    """An action."""
    return m.Action(
        id=data["id"],
        title=data["title"],
        kind=data["kind"],
        part=data["part"],
        steps=tuple(data["steps"]),
        effort=effort(data["effort"]),
        at=tuple(data.get("at", ())),
        needs=tuple(data.get("needs", ())),
        hazards=tuple(data.get("hazards", ())),
        powered=data["powered"],
        when=conditions(data.get("when")),
        closed=data.get("closed", False),
        resets=data.get("resets", False),
        after=tuple(data.get("after", ())),
        tells=data.get("tells", {}),
        route=tuple(data.get("route", ())),
        record=tuple(data.get("record", ())),
        source=data["source"],
        changes=data.get("changes"),
        look_first=data.get("look_first", ""),
    )


def rule(data: Data) -> m.Rule:
    """A rule."""
    return m.Rule(
        id=data["id"],
        title=data["title"],
        when=conditions(data["when"]),
        then=tuple(_consequence(entry) for entry in data["then"]),
        because=data["because"],
        source=data["source"],
    )


def _consequence(entry: Data) -> m.Consequence:
    (word, value), *_ = entry.items()
    effect = m.Effect(word)
    if effect is m.Effect.DERIVE:
        return m.Consequence(effect, value["finding"], answer=value["answer"])
    if effect is m.Effect.WEIGH:
        return m.Consequence(effect, value["cause"], decibans=float(value["decibans"]))
    if effect is m.Effect.KEEP_UNPOWERED:
        return m.Consequence(effect, "", exceptions=tuple(value.get("except", ())), until=tuple(value.get("until", ())))
    return m.Consequence(effect, value)


def hazard(data: Data) -> m.Hazard:
    """A hazard."""
    applies = tuple(_threat(threat) for threat in data.get("applies", ()))
    return m.Hazard(data["id"], data["title"], data["caution"], data.get("stop", False), applies, data["source"])


def _threat(data: Data) -> m.Threat:
    words, needs, parts = (tuple(data.get(key, ())) for key in ("words", "needs", "parts"))
    return m.Threat(words, needs, parts, data.get("powered"))


def base(data: Data) -> m.Base:
    """The base."""
    shop = data["shop"]
    return m.Base(
        name=data["name"],
        edition=data["edition"],
        minute_rate=float(data["minute_rate"]),
        shop=m.Shop(shop["title"], effort(shop["effort"]), tuple(shop["hand_over"])),
        two_faults=float(data["two_faults"]),
        unlisted_share=float(data["unlisted"]["share"]),
        unlisted_spread=float(data["unlisted"]["spread"]),
        opening=tuple(data["opening"]),
        parts=data["parts"],
        tools={name: m.Tool(tool["title"], effort(tool["effort"])) for name, tool in data["tools"].items()},
        proof=tuple(data["proof"]),
        reset_settings=tuple(data.get("reset_settings", ())),
        route_effort=_route_effort(data["route_effort"]) if "route_effort" in data else None,
        words=m.Words(**data.get("words", {})),
        roles=build_roles(data.get("roles", {})),
        preparations={name: _preparation(each) for name, each in data.get("preparations", {}).items()},
        trial=effort(data["trial"]) if "trial" in data else m.Effort(0.0),
        exchange=effort(data["exchange"]) if "exchange" in data else m.Effort(0.0),
        coupled=tuple(_coupling(each) for each in data.get("coupled", ())),
        areas=data.get("areas", {}),
        inventory={name: _entry(entry) for name, entry in data.get("inventory", {}).items()},
    )


def _coupling(data: Data) -> m.Coupling:
    first, second = data["causes"]
    return m.Coupling(first, second, float(data["share"]), data["because"], data["source"])


def _preparation(data: Data) -> m.Preparation:
    return m.Preparation(data["title"], effort(data["effort"]), tuple(data.get("needs", ())), data.get("stays", False))


def _entry(data: Data) -> m.InventoryEntry:
    choices = {
        name: m.EntryChoice(
            choice["text"], tuple(_condition(c) for c in choice.get("told_by", ())), tuple(choice.get("tools", ()))
        )
        for name, choice in data["choices"].items()
    }
    return m.InventoryEntry(data["question"], choices)


def _route_effort(data: Data) -> m.RouteEffort:
    return m.RouteEffort({way: effort(value) for way, value in data["ways"].items()}, float(data["button_minutes"]))


def board(data: Data) -> m.Board:
    """A board record."""
    memory, firmware = data["memory"], data["firmware"]
    return m.Board(
        id=data["id"],
        title=data["title"],
        variant=data["variant"],
        revision=data.get("revision", ""),
        identifiers=tuple(data.get("identifiers", ())),
        look_alikes=tuple(data.get("look_alikes", ())),
        socket=data["socket"],
        memory_type=memory["type"],
        slots=tuple(memory["slots"]),
        slot_order={int(count): tuple(slots) for count, slots in memory["order"].items()},
        cpu_power=tuple(data.get("cpu_power", ())),
        video_outputs=data["video_outputs"],
        indicators=data["indicators"],
        code_table=data.get("code_table", ""),
        first_families=tuple(firmware.get("first_families", ())),
        releases=tuple(_release(r) for r in firmware["releases"]),
        recovery=data["recovery"],
    )


def _release(data: Data) -> m.Release:
    return m.Release(
        version=data["version"],
        date=data["date"],
        adds=tuple(data.get("adds", ())),
        drops=tuple(data.get("drops", ())),
        requires=data.get("requires", ""),
        accepts_from=data.get("accepts_from", ""),
        size=data.get("size", 0),
        sha256=data.get("sha256", ""),
        file=data.get("file", ""),
        one_way=data.get("one_way", False),
        notes=data.get("notes", ""),
    )


def cpu(data: Data) -> m.Cpu:
    """A CPU record."""
    return m.Cpu(
        id=data["id"],
        title=data["title"],
        family=data["family"],
        socket=data["socket"],
        cores=data["cores"],
        threads=data["threads"],
        graphics=data["graphics"],
        memory=tuple(data["memory"]),
    )


def code_table(data: Data) -> m.CodeTable:
    """A code table."""
    codes = tuple(
        m.Code(
            code=c["code"],
            phase=c["phase"],
            kind=c["kind"],
            meaning=c["meaning"],
            stage=c.get("stage", ""),
            repeats=c.get("repeats", False),
            symbol=c.get("symbol", ""),
            status=c.get("status", ""),
            about=c.get("about", ""),
            suspects=tuple(c.get("suspects", ())),
            note=c.get("note", ""),
        )
        for c in data["codes"]
    )
    return m.CodeTable(
        id=data["id"],
        title=data["title"],
        family=data["family"],
        form=data["form"],
        weight=float(data["weight"]),
        codes=codes,
        low_byte=data.get("low_byte", False),
        generic=data.get("generic", False),
        source=data["source"],
    )


def case(data: Data) -> m.Case:
    """A case."""
    return m.Case(
        id=data["id"],
        title=data["title"],
        story=data.get("story", ""),
        records=data.get("records", {}),
        answers=data.get("answers", {}),
        tried=tuple((t["action"], t["outcome"]) for t in data.get("tried", ())),
        expect=data.get("expect", {}),
        resolution=data.get("resolution", ""),
        source=data["source"],
        codes=data.get("codes", ""),
        causes=(data["cause"],) if isinstance(data.get("cause"), str) else tuple(data.get("cause", ())),
    )


def renamed(data: Data) -> m.Renamed:
    """The ids that were split or renamed."""
    ids = {kind: _new_ids(data.get(kind, {})) for kind in m.RenamedKind}
    return m.Renamed(ids, {finding: _new_ids(answers) for finding, answers in data.get("answers", {}).items()})


def _new_ids(data: Data) -> m.NewIds:
    return {old: tuple(new) for old, new in data.items()}


@dataclass(frozen=True, slots=True)
class ItemKind:
    """One kind of item: `folder` under kb/, schema name, and the function that turns data into the item."""

    name: str
    folder: str
    build: Callable[[Any], Any]

    @property
    def schema(self) -> str:
        """File name of the schema."""
        return f"{self.name}.schema.json"


BASE = ItemKind("base", "", base)
RENAMED = ItemKind("renamed", "", renamed)
RENAMED_FILE = "renamed.yaml"
"""Beside base.yaml; it need not be there."""

KINDS = MappingProxyType(
    {
        kind.folder: kind
        for kind in (
            ItemKind("finding", "findings", finding),
            ItemKind("cause", "causes", cause),
            ItemKind("action", "actions", action),
            ItemKind("rule", "rules", rule),
            ItemKind("hazard", "hazards", hazard),
            ItemKind("codes", "codes", code_table),
            ItemKind("board", "boards", board),
            ItemKind("cpu", "cpus", cpu),
            ItemKind("case", "cases", case),
            ItemKind("limits", "limits", build_limits),
        )
    }
)
"""Folder -> kind."""
