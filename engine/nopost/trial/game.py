"""One game: a strategy against a simulated machine, under the same rules for all."""

from __future__ import annotations

from dataclasses import dataclass, field

from nopost.advice.observations import Observations
from nopost.advice.offers import Offers
from nopost.cases.session import Event, EventKind, Session, observations
from nopost.rules.outcome import Outcome
from nopost.trial.bench import Bench, Kind, Move
from nopost.trial.machine import DeadMachine


@dataclass
class Game:
    """What one strategy did with one machine so far. `spent`: money; `moves`: in order, with what came of each."""

    bench: Bench
    machine: DeadMachine
    spent: float = 0.0
    moves: list[tuple[Move, str]] = field(default_factory=list)
    _events: list[Event] = field(default_factory=list)
    _seen: Observations | None = None

    @property
    def seen(self) -> Observations:
        """What the strategy knows, as a session would know it."""
        if self._seen is None:
            session = Session("", "", "", "", "", facts=self.machine.facts, events=tuple(self._events))
            self._seen = observations(session, self.bench.knowledge)
        return self._seen

    @property
    def outcome(self) -> Outcome:
        """What the rules say of what the strategy knows."""
        return self.bench.outcome(self.seen.current(), self.seen.facts)

    def offers(self) -> Offers:
        """What the strategy may choose from, by what it knows."""
        return Offers(self.bench.knowledge, self.seen, self.outcome)

    def make(self, move: Move) -> str:
        """Make a move and pay for it: the answer, or what came of the fix, or `shop`."""
        self.spent += self.bench.price(move)
        came = "shop"
        if move.kind is Kind.LOOK:
            came = self.machine.look(move.id)
            self._note(EventKind.ANSWER, move.id, came)
        elif move.kind is Kind.DO:
            came = self.machine.do(move.id)
            self._note(EventKind.TRIED, move.id, came)
        self.moves.append((move, came))
        return came

    def is_possible(self, move: Move) -> bool:
        """Whether a strategy that looks at no conditions can make a move: they hold in truth, and nothing that it knows
        closes it or forbids power."""
        if move.kind is Kind.SHOP:
            return True
        item = self.bench.item(move)
        known = self.outcome
        if item.powered and self.bench.stops(known):
            return False
        key = ("finding" if move.kind is Kind.LOOK else "action", move.id)
        if key in known.closed or (item.closed and key not in known.opened):
            return False
        test = self.bench.knowledge.findings[move.id].action if move.kind is Kind.LOOK else ""
        return self.machine.holds(item.when) and (not test or self.is_possible(Move(Kind.DO, test)))

    def skip(self, move: Move) -> None:
        """An impossible fix is passed over and costs nothing."""
        self._note(EventKind.SKIPPED, move.id, "")

    def _note(self, kind: EventKind, item: str, value: str) -> None:
        self._events.append(Event(kind, item, value, ""))
        self._seen = None
