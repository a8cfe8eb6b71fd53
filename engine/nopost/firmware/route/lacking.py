"""When no route leads there: what exactly is missing, and how people get it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from nopost.firmware.facts import is_told
from nopost.firmware.route.moves import Prices
from nopost.firmware.route.search import routes
from nopost.firmware.route.state import BORROWED, Task, Way


@dataclass(frozen=True, slots=True)
class Lacking:
    """One thing that would open a route by itself, and the ways people get it."""

    kind: str
    what: str
    ways: tuple[str, ...]


DONOR_WAYS = (
    "Ask the seller of the board or of the CPU: many lend one for this, or write the release at the counter.",
    "Buy the cheapest used one of the family and sell it again; look for one with graphics if the board needs it for a picture.",
    "Ask a repair café, a school or a club nearby whether you may bring the board and use theirs for an hour.",
)
FIRST_WAY = (
    "Look at the board's CPU list from which release it names this CPU: if from the first, write its family under first_families "
    "in the record, else under adds of that release. Then plan anew."
)
RELEASE_WAYS = (
    "Look at the support page for exactly this variant and revision; a test release may stand on a page of its own.",
    "Ask the maker of the board whether a release for this family is planned. If it is not, this CPU will not run here.",
    "Take a CPU of a family that the board knows, or another board.",
)
SHOP_WAYS = (
    "A repair workshop with a programmer for firmware chips can write it without a CPU; ask for the price before you bring it.",
    "The maker of the board may do it under warranty.",
)
SOCKET_WAYS = ("No firmware changes the socket. Take a CPU made for it, or another board.",)


def lacking(task: Task, prices: Prices, target_socket: str = "") -> list[Lacking]:
    """What is missing, the nearest first; empty when there is a route."""
    board, family = task.board, task.family(task.target)
    if target_socket and target_socket != board.socket:
        what = f"{task.title(task.target)} is made for socket {target_socket}; {board.variant} has {board.socket}"
        return [Lacking("socket", what, SOCKET_WAYS)]
    knowing = [index for index, known in enumerate(task.knows) if family in known]
    if not knowing:
        what = f"a release of {board.variant} that knows family {family}; none in the record does"
        if not is_told(board, family):
            what += ", but it does not say what the oldest one knows"
            return [Lacking("record", what, (FIRST_WAY, *RELEASE_WAYS))]
        return [Lacking("release", what, RELEASE_WAYS)]
    if task.to is not None and task.to not in knowing:
        versions = ", ".join(task.version(index) for index in knowing)
        what = f"a release that knows family {family}: {task.version(task.to)} does not; {versions} would"
        return [Lacking("release", what, ("Leave the wanted release out, or want one of those.",))]
    if routes(task, prices):
        return []
    return list(_opening(task, prices)) or [_everything(task)]


def _opening(task: Task, prices: Prices) -> Iterator[Lacking]:
    """Each single thing that would open a route."""
    donors = [family for family in task.all_families if _with_donor(task, prices, family)]
    if donors:
        yield Lacking("donor", f"a CPU to lend of family {' or '.join(donors)}", DONOR_WAYS)
    if routes(replace(task, without=task.without - {Way.SHOP}), prices):
        yield Lacking("shop", "someone who writes the chip from outside", SHOP_WAYS)


def _with_donor(task: Task, prices: Prices, family: str) -> bool:
    start = replace(task.start, have=task.start.have | {f"{BORROWED}{family}"})
    return bool(routes(replace(task, start=start, without=task.without - {Way.SWAP}), prices))


def _everything(task: Task) -> Lacking:
    knowing = [task.version(i) for i, known in enumerate(task.knows) if task.family(task.target) in known]
    passed = [r.version for r in task.board.releases[: task.start.release + 1] if r.one_way]
    if passed and all(i < task.start.release for i, known in enumerate(task.knows) if task.family(task.target) in known):
        what = f"a newer release that knows it again: {passed[-1]} is one-way, and only {', '.join(knowing)} knew it"
        return Lacking("release", what, RELEASE_WAYS)
    return Lacking("several", f"more than one thing at once: a way to get {' or '.join(knowing)} on the board", SHOP_WAYS)
