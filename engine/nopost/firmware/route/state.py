"""What a route moves through: the release on the board, the CPU in the socket, and what is at hand."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property

from nopost.errors import RecordError
from nopost.firmware.facts import known_families, release_index
from nopost.knowledge.model import Board, Cpu, Effort

EMPTY = ""
"""The key of an empty socket."""
STICK, SECOND_MACHINE = "stick", "second-machine"
BORROWED = "any:"
"""A CPU of which only the family is known: borrowed, or named by its family."""


class Way(StrEnum):
    """How a move is done."""

    INSIDE = "write-inside"
    BUTTON = "write-button"
    RECOVERY = "write-recovery"
    SHOP = "write-shop"
    CHIP = "fit-chip"
    SECOND = "second-chip"
    SWAP = "swap-cpu"
    BORROW = "borrow-cpu"


WRITES = (Way.INSIDE, Way.BUTTON, Way.RECOVERY, Way.SHOP, Way.CHIP)


@dataclass(frozen=True, slots=True)
class State:
    """`have` holds tools and the keys of CPUs beside the socket; `other`: release on the second chip, -1 when it is not known.
    `owes`: the last move stopped a machine that ran, so the next one has to make it run."""

    release: int
    cpu: str
    have: frozenset[str] = frozenset()
    other: int = -1
    owes: bool = False


@dataclass(frozen=True, slots=True)
class Move:
    """One step: `to` is a release for writes, a CPU's key otherwise."""

    way: Way
    to: int | str
    after: State
    effort: Effort


@dataclass(frozen=True)
class Task:
    """Where it begins, where it shall end, and what is ruled out. `bridged`: as if no release asked for another one before it.
    `knows`: families by release; `stops`: the releases worth writing, of those that are alike in everything the newest."""

    board: Board
    start: State
    target: str
    families: Mapping[str, str]
    titles: Mapping[str, str]
    to: int | None = None
    without: frozenset[Way] = frozenset()
    bridged: bool = False
    knows: tuple[frozenset[str], ...] = field(default=())
    stops: tuple[int, ...] = field(default=())

    def __post_init__(self) -> None:
        known = tuple(known_families(self.board, index) for index in range(len(self.board.releases)))
        object.__setattr__(self, "knows", known)
        object.__setattr__(self, "stops", tuple(_stops(self.board, known, self.to)))

    def family(self, cpu: str) -> str:
        """Family of a CPU by its key; an empty socket has none."""
        return cpu.removeprefix(BORROWED) if cpu.startswith(BORROWED) else self.families.get(cpu, "")

    def title(self, cpu: str) -> str:
        """A CPU in words."""
        if cpu == EMPTY:
            return "no CPU"
        return f"a CPU of family {self.family(cpu)}" if cpu.startswith(BORROWED) else self.titles[cpu]

    def version(self, release: int) -> str:
        """Version text of a release."""
        return self.board.releases[release].version

    def runs(self, state: State) -> bool:
        """Whether the release knows the fitted CPU."""
        return self.family(state.cpu) in self.knows[state.release]

    def done(self, state: State) -> bool:
        """Whether this is where the route shall end."""
        return state.cpu == self.target and self.runs(state) and self.to in (None, state.release)

    @cached_property
    def all_families(self) -> tuple[str, ...]:
        """Every CPU family that some release knows."""
        return tuple(sorted(frozenset().union(*self.knows)))


def _stops(board: Board, knows: tuple[frozenset[str], ...], to: int | None) -> Iterator[int]:
    """Neighbours are alike when they know and ask the same, and nothing asks for, or turns on, the later one."""
    releases = board.releases
    asked = {name for release in releases for name in (release.requires, release.accepts_from)}
    for index, release in enumerate(releases[:-1]):
        later = releases[index + 1]
        alike = (
            knows[index] == knows[index + 1]
            and (release.requires, release.accepts_from) == (later.requires, later.accepts_from)
            and not later.one_way
            and later.version not in asked
        )
        if not alike or index == to:
            yield index
    yield len(releases) - 1


def make_task(
    board: Board,
    firmware: str,
    target: Cpu,
    fitted: Cpu | None,
    donors: Iterable[Cpu | str] = (),
    tools: Iterable[str] = (),
    to: str = "",
    second: str = "",
    without: Iterable[Way] = (),
) -> Task:
    """A task from records; a donor may be told by its family alone. Raises UnknownNameError or RecordError."""
    given: list[Cpu | str] = list(donors)
    records = [cpu for cpu in (fitted, *given) if isinstance(cpu, Cpu)]
    for cpu in records:
        if cpu.socket != board.socket:
            raise RecordError(
                f"{cpu.id} is made for socket {cpu.socket}, {board.variant} has {board.socket}: it cannot be fitted"
            )
    beside = (_keys(given) | {target.id}) - {fitted.id if fitted else EMPTY}
    start = State(
        release_index(board, firmware),
        fitted.id if fitted else EMPTY,
        frozenset(beside) | frozenset(tools),
        release_index(board, second) if second else -1,
    )
    everything = (*records, target)
    return Task(
        board=board,
        start=start,
        target=target.id,
        families={cpu.id: cpu.family for cpu in everything},
        titles={cpu.id: cpu.title.split(",")[0] for cpu in everything},
        to=release_index(board, to) if to else None,
        without=frozenset(without),
    )


def _keys(given: Iterable[Cpu | str]) -> set[str]:
    return {cpu.id if isinstance(cpu, Cpu) else f"{BORROWED}{cpu}" for cpu in given}
