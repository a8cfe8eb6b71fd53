"""The moves of a state, where each leads, and what it takes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from nopost.errors import RecordError
from nopost.firmware.route.refusals import candidates, why_not
from nopost.firmware.route.state import EMPTY, SECOND_MACHINE, STICK, WRITES, Move, State, Task, Way
from nopost.knowledge.model import Base, Effort

NOTHING = Effort(0.0)
NEEDS = {
    Way.INSIDE: (STICK,),
    Way.BUTTON: (STICK, SECOND_MACHINE),
    Way.RECOVERY: (STICK, SECOND_MACHINE),
}
"""What has to be at hand; on a machine that runs the image can be fetched with itself."""


@dataclass(frozen=True, slots=True)
class Prices:
    """What a minute is worth, what each way takes by itself, and what it takes to get what is not at hand. `button_minutes`: how
    long the button writes when the record does not say."""

    minute_rate: float
    ways: Mapping[Way, Effort]
    button_minutes: float
    stick: Effort = NOTHING
    second_machine: Effort = NOTHING
    cpu: Effort = NOTHING

    def getting(self, tool: str) -> Effort:
        """Effort of getting a tool."""
        return self.stick if tool == STICK else self.second_machine


def prices_of(base: Base, minute_rate: float | None = None) -> Prices:
    """Prices from the knowledge base. Raises RecordError when it says nothing of routes."""
    effort = base.route_effort
    if effort is None:
        raise RecordError("the knowledge base does not say what a firmware route takes: add route_effort to base.yaml")

    def getting(tool: str) -> Effort:
        return base.tools[tool].effort if tool in base.tools else NOTHING

    return Prices(
        minute_rate=base.minute_rate if minute_rate is None else minute_rate,
        ways={way: effort.ways[way] for way in Way},
        button_minutes=effort.button_minutes,
        stick=getting("memory-stick"),
        second_machine=getting("second-machine"),
        cpu=getting("spare-cpu"),
    )


def moves(task: Task, prices: Prices, state: State) -> Iterator[Move]:
    """Every move that can be made in this state."""
    for way, to in candidates(task, state):
        if not why_not(task, state, way, to):
            yield make_move(task, prices, state, way, to)


def make_move(task: Task, prices: Prices, state: State, way: Way, to: int | str) -> Move:
    """A move, whether it is allowed or not."""
    effort, have = prices.ways[way], state.have
    if way is Way.BUTTON:
        effort = effort + Effort(float(task.board.recovery.get("button_minutes", prices.button_minutes)))
    for tool in NEEDS.get(way, ()):
        if tool not in have:
            effort, have = effort + prices.getting(tool), have | {tool}
    if isinstance(to, str):
        beside = (have - {to}) | ({state.cpu} - {EMPTY})
        after = State(state.release, to, beside, state.other)
        return Move(way, to, after, effort + prices.cpu if way is Way.BORROW else effort)
    other = state.other if way in WRITES else state.release
    landed = State(to, state.cpu, have, other)
    owes = task.runs(state) and not task.runs(landed)
    return Move(way, to, State(to, state.cpu, have, other, owes), effort)
