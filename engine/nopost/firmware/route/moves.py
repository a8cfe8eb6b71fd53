"""The moves of a state: where each leads, what it takes, and why the others cannot be made.

The search takes the moves for which `why_not` gives no reason, so search and refusals never disagree.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from nopost.errors import RecordError
from nopost.firmware.record_facts import release_index
from nopost.firmware.route.task import (
    BORROWED,
    EMPTY,
    SECOND_MACHINE,
    SPARE_CPU,
    STICK,
    WRITES,
    RouteMove,
    RouteState,
    RouteTask,
    Way,
)
from nopost.knowledge.model import Base, Effort

MOST_BORROWED = 2
"""Nobody borrows more CPUs than this for one board (judgement)."""


@dataclass(frozen=True, slots=True)
class Refusal:
    """In a state, by one way, to these releases or CPUs: why not."""

    state: RouteState
    way: Way
    targets: tuple[int | str, ...]
    reason: str


OUTSIDE = (Way.SHOP, Way.CHIP)
"""The whole chip is written from outside; nothing on it is asked."""


def candidates(task: RouteTask, state: RouteState, every: bool = False) -> Iterator[tuple[Way, int | str]]:
    """The moves that someone might think of here, with the releases worth writing, or with every release."""
    for way in WRITES:
        if every:
            found = tuple(release for release in range(len(task.knows)) if release != state.release)
        else:
            found = task.worth_writing(state.release, way not in OUTSIDE)
        for release in found:
            yield way, release
    yield Way.SECOND, state.other
    for cpu in sorted(item for item in state.have if task.family(item)):
        yield Way.SWAP, cpu
    at_hand = {task.family(item) for item in (*state.have, state.cpu)}
    for family in task.all_families:
        if family not in at_hand:
            yield Way.BORROW, f"{BORROWED}{family}"


def why_not(task: RouteTask, state: RouteState, way: Way, to: int | str) -> str:
    """The reason, or nothing when the move can be made."""
    if way in task.without:
        return "it is ruled out"
    reason = _swap(task, state, way, str(to)) if isinstance(to, str) else _write(task, state, way, to)
    return reason or _stranded(task, state, way, to)


def refusals(task: RouteTask, states: Iterable[RouteState]) -> list[Refusal]:
    """All refused moves of these states, those of one way and one reason together."""
    found: dict[tuple[RouteState, Way, str], list[int | str]] = {}
    for state in states:
        for way, to in candidates(task, state, every=True):
            if reason := why_not(task, state, way, to):
                found.setdefault((state, way, reason), []).append(to)
    return [Refusal(state, way, tuple(targets), reason) for (state, way, reason), targets in found.items()]


def _write(task: RouteTask, state: RouteState, way: Way, to: int) -> str:
    recovery = task.board.recovery
    if way is Way.SECOND:
        if not recovery["second_chip"]:
            return "the board has no second firmware chip"
        return "" if state.other >= 0 else "nobody knows which release is on the second chip"
    if way is Way.CHIP and not recovery.get("socketed_chip"):
        return "the firmware chip is not in a socket"
    if way is Way.BUTTON and not recovery["button"]:
        return "the board has no button that writes firmware"
    if way is Way.RECOVERY:
        if not recovery.get("recovery_block"):
            return "the record names no recovery block"
        if task.runs(state):
            return "the machine starts, so the recovery block does not come in"
        if task.family(state.cpu) not in task.board.first_families:
            return f"the recovery block is as old as the board and does not know {task.title(state.cpu)}"
    if way is Way.INSIDE and not task.runs(state):
        if state.cpu == EMPTY:
            return "there is no CPU in the socket"
        return f"{task.version(state.release)} does not know {task.title(state.cpu)}, so the machine does not start"
    return _order(task, state, way, to)


def _order(task: RouteTask, state: RouteState, way: Way, to: int) -> str:
    releases = task.board.releases
    for passed in range(to + 1, state.release + 1):
        if releases[passed].one_way:
            return f"{releases[passed].version} is one-way: no release before it can be written once it is on the board"
    if way in OUTSIDE:
        return ""
    for needed in (releases[to].requires, releases[to].accepts_from):
        if needed and not _has_reached(task, state, needed):
            return f"{needed} or a later release has to be on the board before it"
    return ""


def _has_reached(task: RouteTask, state: RouteState, version: str) -> bool:
    versions = [release.version for release in task.board.releases]
    return version in versions and release_index(task.board, version) <= state.release


def _swap(task: RouteTask, state: RouteState, way: Way, to: str) -> str:
    if task.family(to) not in task.knows[state.release]:
        return (
            f"{task.version(state.release)} does not know family {task.family_words(to)}, so the machine would not start with it"
        )
    borrowed = sum(item.startswith(BORROWED) and item not in task.start.have for item in (*state.have, state.cpu))
    if way is Way.BORROW and borrowed >= MOST_BORROWED:
        return f"{MOST_BORROWED} CPUs are borrowed already"
    return ""


def _stranded(task: RouteTask, state: RouteState, way: Way, to: int | str) -> str:
    """A write that stops the machine is refused when nothing mends it at once, and so is anything that puts the mending off."""
    if isinstance(to, str) or task.family(state.cpu) in task.knows[to]:
        return ""
    if state.must_run_next:
        return f"the machine does not start with {task.title(state.cpu)} now, and would not start after this either"
    if not task.runs(state):
        return ""
    fits = {task.family(item) for item in state.have} & task.knows[to]
    at_hand = fits and Way.SWAP not in task.without
    if at_hand or (task.knows[to] and Way.BORROW not in task.without) or _written_on(task, state, way, to):
        return ""
    return f"it does not know {task.title(state.cpu)}, which is fitted, and no CPU that it knows is at hand"


def _written_on(task: RouteTask, state: RouteState, way: Way, to: int) -> bool:
    """Whether a machine that is stopped by this write runs again by the next one, or from its second chip.

    Only releases count that could not be written before: to any other one leads a shorter way.
    """
    family = task.family(state.cpu)
    if way is Way.SECOND or way in OUTSIDE:
        return False
    other = state.other >= 0 and family in task.knows[state.other]
    if other and task.board.recovery["second_chip"] and Way.SECOND not in task.without:
        return True
    landed = RouteState(to, state.cpu, state.have, state.other)
    opened = [
        index
        for index, needed in enumerate(task.prerequisite_index)
        if state.release < needed <= to and family in task.knows[index]
    ]
    ways = [each for each in (Way.BUTTON, Way.RECOVERY) if each not in task.without]
    return any(not _write(task, landed, each, index) for each in ways for index in opened)


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
    hazards: Mapping[Way, tuple[str, ...]] = field(default_factory=dict)

    def getting(self, tool: str) -> Effort:
        """Effort of getting a tool (STICK or SECOND_MACHINE) that is not at hand."""
        return self.stick if tool == STICK else self.second_machine


def prices_of(base: Base, minute_rate: float | None = None) -> Prices:
    """Prices from the knowledge base. Raises RecordError when it says nothing of routes."""
    effort = base.route_effort
    if effort is None:
        raise RecordError("the knowledge base does not say what a firmware route takes: add route_effort to base.yaml")

    def getting(role: str) -> Effort:
        return base.tools[base.roles.tools[role]].effort if role in base.roles.tools else NOTHING

    return Prices(
        minute_rate=base.minute_rate if minute_rate is None else minute_rate,
        ways={way: effort.ways[way] for way in Way},
        button_minutes=effort.button_minutes,
        hazards={way: base.roles.hazards.get(way, ()) for way in Way},
        stick=getting(STICK),
        second_machine=getting(SECOND_MACHINE),
        cpu=getting(SPARE_CPU),
    )


def moves(task: RouteTask, prices: Prices, state: RouteState) -> Iterator[RouteMove]:
    """Every move that can be made in this state."""
    for way, to in candidates(task, state):
        if not why_not(task, state, way, to):
            yield make_move(task, prices, state, way, to)


def make_move(task: RouteTask, prices: Prices, state: RouteState, way: Way, to: int | str) -> RouteMove:
    """One move with its effort and the state it leads to, whether it is allowed or not; `why_not` says that."""
    effort, have = prices.ways[way], state.have
    if way is Way.BUTTON:
        effort = effort + Effort(float(task.board.recovery.get("button_minutes", prices.button_minutes)))
    for tool in NEEDS.get(way, ()):
        if tool not in have:
            effort, have = effort + prices.getting(tool), have | {tool}
    if isinstance(to, str):
        beside = (have - {to}) | ({state.cpu} - {EMPTY})
        after = RouteState(state.release, to, beside, state.other)
        return RouteMove(way, to, after, effort + prices.cpu if way is Way.BORROW else effort)
    other = state.other if way in WRITES else state.release
    landed = RouteState(to, state.cpu, have, other)
    must_run_next = task.runs(state) and not task.runs(landed)
    return RouteMove(way, to, RouteState(to, state.cpu, have, other, must_run_next), effort)
