"""Stage lamps while the words about them go by: which are lit, and what is lit at the end of each step."""

from __future__ import annotations

from dataclasses import dataclass, field

from nopost.codes.event import Event
from nopost.codes.timestamps import Line

STAGES = ("cpu", "memory", "graphics", "boot")


@dataclass(slots=True)
class Lamps:
    """Lamps while the words go by. `lit`: now; `ever`: at any time; `dark`: said to be off; `set_now`: changed in this step."""

    lit: set[str] = field(default_factory=set)
    ever: list[str] = field(default_factory=list)
    dark: set[str] = field(default_factory=set)
    set_now: set[str] = field(default_factory=set)
    pending: list[str] = field(default_factory=list)
    last: list[str] = field(default_factory=list)
    fresh: bool = False
    early: bool = False
    negated: bool = False
    never: bool = False
    blinks: bool = False
    turns: bool = False
    some: bool = False
    spoke: bool = False
    events: list[Event] = field(default_factory=list)
    where: Line = field(default_factory=lambda: Line(0, ""))

    def name(self, stage: str) -> None:
        """A lamp is named."""
        if self.pending and self.last == self.pending:
            self.pending = []
        self.pending.append(stage)
        if self.early:
            self.early = False
            self.state(True)

    def state(self, on: bool) -> None:
        """What the named lamps do."""
        on, self.negated = on and not self.negated, False
        if not self.pending and not self.last:
            self.early, self.some = on, self.some or on
            return
        stages = self.pending or self.last
        if any(s in self.set_now and (s in self.lit) is not on for s in stages):
            self.step()
        if self.fresh and on and self.lit - set(stages):
            self.lit, self.turns = set(), True
        self.fresh, self.spoke = False, True
        self.lit = self.lit | set(stages) if on else self.lit - set(stages)
        self.dark |= set() if on else set(stages)
        self.set_now |= set(stages)
        self.ever += [s for s in stages if on and s not in self.ever]
        self.last, self.pending = stages, []

    def step(self, fresh: bool = False) -> None:
        """One step ends; after `then` or an arrow (`fresh`) a new lamp puts the earlier ones out."""
        if self.set_now:
            code = _code(self.lit)
            if not self.events or self.events[-1].code != code:
                self.events.append(Event(code, self.where.at, line=self.where.number))
        self.set_now = set()
        self.fresh = self.fresh or fresh


def _code(lit: set[str]) -> str:
    if not lit:
        return "none"
    return next(iter(lit)) if len(lit) == 1 else "several"
