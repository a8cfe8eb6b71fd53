"""The moves of a state, where each leads, and what it takes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from nopost.firmware.route.refusals import candidates, why_not
from nopost.firmware.route.state import EMPTY, SECOND_MACHINE, STICK, WRITES, Move, State, Task, Way
from nopost.knowledge.model import Base, Effort

STICK_EFFORT, MACHINE_EFFORT, CPU_EFFORT = Effort(5, 3), Effort(15), Effort(90, 20)
"""Getting what is not at hand, when the knowledge base does not say."""
EFFORTS = {
    Way.INSIDE: Effort(20, 0, 3),
    Way.BUTTON: Effort(20, 0, 3),
    Way.RECOVERY: Effort(35, 0, 6),
    Way.SHOP: Effort(90, 60, 1),
    Way.CHIP: Effort(40, 25, 4),
    Way.SECOND: Effort(15, 0, 2),
    Way.SWAP: Effort(40, 0, 4),
    Way.BORROW: Effort(40, 0, 4),
}
"""What each way takes by itself. Judgement; borrowing adds what the knowledge base says of getting a CPU."""
BUTTON_MINUTES = 8.0
"""How long the button writes when the record does not say."""
NEEDS = {
    Way.INSIDE: (STICK,),
    Way.BUTTON: (STICK, SECOND_MACHINE),
    Way.RECOVERY: (STICK, SECOND_MACHINE),
}
"""What has to be at hand; on a machine that runs the image can be fetched with itself."""


@dataclass(frozen=True, slots=True)
class Prices:
    """What a minute is worth, and what it takes to get what is not at hand."""

    minute_rate: float
    stick: Effort = STICK_EFFORT
    second_machine: Effort = MACHINE_EFFORT
    cpu: Effort = CPU_EFFORT

    def getting(self, tool: str) -> Effort:
        """Effort of getting a tool."""
        return self.stick if tool == STICK else self.second_machine


def prices_of(base: Base, minute_rate: float | None = None) -> Prices:
    """Prices from the knowledge base, where it has them."""
    plain = Prices(base.minute_rate if minute_rate is None else minute_rate)
    found = {name: base.tools[name].effort for name in ("memory-stick", "second-machine", "spare-cpu") if name in base.tools}
    return Prices(
        plain.minute_rate,
        found.get("memory-stick", plain.stick),
        found.get("second-machine", plain.second_machine),
        found.get("spare-cpu", plain.cpu),
    )


def moves(task: Task, prices: Prices, state: State) -> Iterator[Move]:
    """Every move that can be made in this state."""
    for way, to in candidates(task, state, task.stops):
        if not why_not(task, state, way, to):
            yield make_move(task, prices, state, way, to)


def make_move(task: Task, prices: Prices, state: State, way: Way, to: int | str) -> Move:
    """A move, whether it is allowed or not."""
    effort, have = EFFORTS[way], state.have
    if way is Way.BUTTON:
        effort = effort + Effort(float(task.board.recovery.get("button_minutes", BUTTON_MINUTES)))
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
