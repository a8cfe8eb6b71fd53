"""What a route moves through: the release on the board, the CPU in the socket, and what is at hand; and the task,
with its start, its end and what is ruled out.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property
from itertools import accumulate

from nopost.errors import RecordError
from nopost.firmware.record_facts import cpu_name, known_families, release_index
from nopost.knowledge.model import Effort
from nopost.knowledge.reference_records import Board, Cpu

EMPTY = ""
"""The key of an empty socket."""
STICK, SECOND_MACHINE, SPARE_CPU = "stick", "second-machine", "cpu"
"""What a route may need: roles of tools of the knowledge base. The first two can be said to be at hand."""
OLD_CPU = "old-cpu"
"""What is said to be at hand: a CPU that ran in this board with the release that is on it, whatever its family."""
OLD_KEY = "old:cpu"
"""The key of that CPU, and the name of its family: no record has it, for neither may hold a colon."""
BORROWED = "any:"
"""A CPU of which only the family is known: borrowed, or named by its family."""


class Way(StrEnum):
    """How a move is done; the values are those of `route` in the actions of the knowledge base and of JSON."""

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
class RouteState:
    """`release`: place of the release on the board; `cpu`: key of the fitted CPU, EMPTY for none. `have` holds tools and the
    keys of CPUs beside the socket; `other`: release on the second chip, -1 when it is not known. `must_run_next`: the last
    move stopped a machine that ran, so the next one has to make it run."""

    release: int
    cpu: str
    have: frozenset[str] = frozenset()
    other: int = -1
    must_run_next: bool = False


@dataclass(frozen=True, slots=True)
class RouteMove:
    """One step. `to`: place of the release for writes, a CPU's key otherwise; `after`: the state that it leads to."""

    way: Way
    to: int | str
    after: RouteState
    effort: Effort


@dataclass(frozen=True)
class RouteTask:
    """Where it begins, where it shall end, and what is ruled out.

    `target`: key of the CPU that shall run; `to`: the release to end with, None for any that knows the CPU. `families` and
    `titles`: of the CPUs by their keys. `knows`: the families that each release knows. `prerequisite_index`: for each release
    the place of the newest one that has to be on the board before it, -1 for none and one beyond the list for a release that
    the record does not have. `is_release_known`: whether the release on the board was told; else `start` holds the oldest one.

    The CPU that ran in this board (OLD_KEY) is known by the release on it and by all that dropped no family since.
    """

    board: Board
    start: RouteState
    target: str
    families: Mapping[str, str]
    titles: Mapping[str, str]
    to: int | None = None
    without: frozenset[Way] = frozenset()
    knows: tuple[frozenset[str], ...] = field(default=())
    prerequisite_index: tuple[int, ...] = field(default=())
    is_release_known: bool = True

    def __post_init__(self) -> None:
        known = [known_families(self.board, index) for index in range(len(self.board.releases))]
        if OLD_KEY in self.start.have:
            present = known[self.start.release]
            known = [families | {OLD_KEY} if present <= families else families for families in known]
        object.__setattr__(self, "knows", tuple(known))
        object.__setattr__(self, "prerequisite_index", tuple(_prerequisite_index(self.board)))

    def family(self, cpu: str) -> str:
        """Family of a CPU by its key; an empty socket has none."""
        return self.families.get(cpu, "") or (cpu[len(BORROWED) :] if cpu.startswith(BORROWED) else "")

    def title(self, cpu: str) -> str:
        """A CPU in words, by its key."""
        if cpu == EMPTY:
            return "no CPU"
        return f"a CPU of family {self.family(cpu)}" if cpu.startswith(BORROWED) else self.titles[cpu]

    def family_words(self, cpu: str) -> str:
        """The family of a CPU in words, by its key."""
        return "that of the old CPU" if cpu == OLD_KEY else self.family(cpu)

    def version(self, release: int) -> str:
        """Version text of a release."""
        return self.board.releases[release].version

    def runs(self, state: RouteState) -> bool:
        """Whether the release knows the fitted CPU."""
        return self.family(state.cpu) in self.knows[state.release]

    def done(self, state: RouteState) -> bool:
        """Whether this is where the route shall end."""
        return state.cpu == self.target and self.runs(state) and self.to in (None, state.release)

    @cached_property
    def _kinds(self) -> tuple[tuple[int, frozenset[str]], ...]:
        """Releases of one kind know the same families, and none of them stands behind a one-way release that another lacks."""
        passed = accumulate(int(release.one_way) for release in self.board.releases)
        return tuple(zip(passed, self.knows, strict=True))

    @cached_property
    def _worth(self) -> dict[tuple[int, bool], tuple[int, ...]]:
        return {}

    def worth_writing(self, present: int, asked: bool) -> tuple[int, ...]:
        """Releases worth writing over this one, oldest first: of each kind the newest that is accepted, and the wanted one.

        Whatever can be done from an older release of a kind can be done from a newer one for the same effort, so leaving the
        older ones out never makes a route dearer. `asked`: whether the release on the board has to be new enough.
        """
        found = self._worth.get((present, asked))
        if found is None:
            found = self._worth[present, asked] = self._newest(present, asked)
        return found

    def _newest(self, present: int, asked: bool) -> tuple[int, ...]:
        newest: dict[tuple[int, frozenset[str]], int] = {self._kinds[present]: present}
        for index, kind in enumerate(self._kinds):
            if kind[0] >= self._kinds[present][0] and not (asked and self.prerequisite_index[index] > present):
                newest[kind] = max(index, newest.get(kind, 0))
        wanted = {self.to} if self.to is not None else set[int]()
        return tuple(sorted((set(newest.values()) | wanted) - {present}))

    @cached_property
    def all_families(self) -> tuple[str, ...]:
        """Every CPU family that some release knows, by its name."""
        return tuple(sorted(frozenset().union(*self.knows) - {OLD_KEY}))


def _prerequisite_index(board: Board) -> Iterator[int]:
    """For each release the place of the newest one among those it asks for."""
    places = {release.version: place for place, release in enumerate(board.releases)}
    for release in board.releases:
        asked = [name for name in (release.requires, release.accepts_from) if name]
        yield max((places.get(name, len(places)) for name in asked), default=-1)


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
) -> RouteTask:
    """A task from records. Raises UnknownNameError or RecordError.

    `donors`: a record, a family, or OLD_CPU. `firmware` may be "" when OLD_CPU is among them: with that CPU in, the setup shows
    which release it is, so the plan begins with the oldest.
    """
    given: list[Cpu | str] = list(donors)
    records = [cpu for cpu in (fitted, *given) if isinstance(cpu, Cpu)]
    for cpu in records:
        if cpu.socket != board.socket:
            raise RecordError(
                f"{cpu.id} is made for socket {cpu.socket}, {board.variant} has {board.socket}: it cannot be fitted"
            )
    beside = (_keys(given) | {target.id}) - {fitted.id if fitted else EMPTY}
    is_known = bool(firmware) or OLD_CPU not in given
    start = RouteState(
        release_index(board, firmware) if is_known else 0,
        fitted.id if fitted else EMPTY,
        frozenset(beside) | frozenset(tools),
        release_index(board, second) if second else -1,
    )
    everything = (*records, target)
    return RouteTask(
        board=board,
        start=start,
        target=target.id,
        families={cpu.id: cpu.family for cpu in everything} | {OLD_KEY: OLD_KEY},
        titles={cpu.id: cpu_name(cpu) for cpu in everything} | {OLD_KEY: "the old CPU that ran in this board"},
        to=release_index(board, to) if to else None,
        without=frozenset(without),
        is_release_known=is_known,
    )


def _keys(given: Iterable[Cpu | str]) -> set[str]:
    return {cpu.id if isinstance(cpu, Cpu) else OLD_KEY if cpu == OLD_CPU else f"{BORROWED}{cpu}" for cpu in given}
