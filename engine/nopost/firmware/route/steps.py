"""A route as steps for hands: check before, action, what to see, check after, what can go wrong and the way back, cautions."""

from __future__ import annotations

from dataclasses import dataclass

from nopost.firmware.route import step_words as words
from nopost.firmware.route.search import Route
from nopost.firmware.route.state import EMPTY, WRITES, Move, State, Task, Way
from nopost.knowledge.model import Effort

WRITING = ("no-power-cut", "data-loss")
INSIDE_WORK = ("unplug", "esd")
CPU_WORK = ("unplug", "esd", "hot-parts", "pressure", "socket-contacts")
HAZARDS = {
    Way.INSIDE: WRITING,
    Way.BUTTON: (*WRITING, "unplug"),
    Way.RECOVERY: (*WRITING, "unplug"),
    Way.SHOP: (*CPU_WORK, "data-loss"),
    Way.CHIP: (*INSIDE_WORK, "no-metal-lever", "data-loss"),
    Way.SECOND: (*INSIDE_WORK, "data-loss"),
    Way.SWAP: CPU_WORK,
    Way.BORROW: CPU_WORK,
}
"""Way -> hazards of the knowledge base."""


@dataclass(frozen=True, slots=True)
class Step:
    """One move in words. `wrong`: what can go wrong, each with its way back."""

    title: str
    way: Way
    to: str
    effort: Effort
    before: tuple[str, ...]
    action: tuple[str, ...]
    see: tuple[str, ...]
    after: tuple[str, ...]
    wrong: tuple[str, ...]
    hazards: tuple[str, ...]


def steps_of(task: Task, route: Route, button_minutes: float) -> list[Step]:
    """All steps of a route, in order. `button_minutes`: how long the button writes when the record does not say."""
    states = (task.start, *(move.after for move in route.moves))
    return [_step(task, state, move, button_minutes) for state, move in zip(states, route.moves, strict=False)]


def _step(task: Task, state: State, move: Move, button_minutes: float) -> Step:
    if move.way in WRITES:
        return _write_step(task, state, move, button_minutes)
    return _second_step(task, state, move) if move.way is Way.SECOND else _swap_step(task, state, move)


def _write_step(task: Task, state: State, move: Move, button_minutes: float) -> Step:
    assert isinstance(move.to, int)
    board, release = task.board, task.board.releases[move.to]
    title = f"{words.WRITE_TITLES[move.way]}: {release.version} over {task.version(state.release)}"
    before = [words.image_words(board, release), *words.WRITE_BEFORE[move.way]]
    if move.way is Way.BUTTON:
        before += words.button_words(board)
    if release.notes:
        before.append(f"The record notes of {release.version}: {release.notes}")
    for cpu in _lost(task, state, move.to):
        before.append(f"It drops family {task.family(cpu)}: {task.title(cpu)} does not start this board after it.")
    if release.one_way:
        before.append(f"{release.version} is one-way: be sure that you want it, there is no way back to an older one.")
    see = list(words.WRITE_SEE[move.way])
    if move.way is Way.BUTTON:
        see.insert(0, words.blink_words(board, button_minutes))
    first_start = move.way in words.ENDS_SWITCHED_OFF and task.runs(move.after)
    return Step(
        title=title,
        way=move.way,
        to=release.version,
        effort=move.effort,
        before=tuple(before),
        action=(*words.WRITE_ACTION[move.way], *(words.START if first_start else ())),
        see=(*see, *(words.START_SEE if first_start else ())),
        after=_after_write(task, state, move.after),
        wrong=(*words.WRITE_WRONG[move.way], words.way_back(task, state, move.after)),
        hazards=HAZARDS[move.way],
    )


def _lost(task: Task, state: State, to: int) -> list[str]:
    """CPUs, fitted or at hand, that the present release knows and this one does not."""
    lost = task.knows[state.release] - task.knows[to]
    return [cpu for cpu in (state.cpu, *sorted(state.have)) if task.family(cpu) in lost]


def _after_write(task: Task, state: State, after: State) -> tuple[str, ...]:
    version = task.version(after.release)
    if task.runs(after):
        return (f"The setup menu shows {version} and the name of the CPU.", words.RESET)
    if after.owes:
        lost = task.title(state.cpu)
        return (f"{version} no longer knows {lost}: the machine does not start with it now. Go on with the next step at once.",)
    return (f"The machine still does not start with {task.title(state.cpu) or 'this CPU'}: that is right at this point.",)


def _second_step(task: Task, state: State, move: Move) -> Step:
    version = task.version(move.after.release)
    return Step(
        title=f"Start from the second chip, which holds {version}",
        way=move.way,
        to=version,
        effort=move.effort,
        before=("Read in the manual how the board changes chips: a switch, a jumper, or by itself after failed starts.",),
        action=("Switch off, unplug, wait, and set the board to its second chip.", "Plug in and start."),
        see=("One to three restarts are normal, and several minutes of dark screen while memory is trained anew.",),
        after=_after_write(task, state, move.after),
        wrong=(f"Nothing starts: unplug and set it back to the first chip, which still holds {task.version(state.release)}.",),
        hazards=HAZARDS[move.way],
    )


def _swap_step(task: Task, state: State, move: Move) -> Step:
    new, old = task.title(move.after.cpu), task.title(state.cpu)
    before = [f"{task.version(state.release)} knows family {task.family(move.after.cpu)}, by the record."]
    if move.way is Way.BORROW:
        before.insert(0, f"Borrow or buy {new}; read family and socket ({task.board.socket}) on its label before you pay.")
    if not task.board.video_outputs:
        before.append("The board has no sockets for a monitor: a graphics card has to be fitted.")
    fit = f"Fit {new}" if state.cpu == EMPTY else f"Take {old} out and fit {new}"
    back = "Unplug, open the socket, look for a bent contact or paste under the CPU with a lamp, and set it in again."
    if state.cpu != EMPTY and task.runs(state):
        back += f" {old} still runs with this release, so it can go back in."
    return Step(
        title=fit,
        way=move.way,
        to=move.after.cpu or "",
        effort=move.effort,
        before=tuple(before),
        action=words.SWAP_ACTION,
        see=words.SWAP_SEE,
        after=(f"The setup menu shows {new}, and its temperature stays steady for five minutes.", words.RESET),
        wrong=(f"It does not start within fifteen minutes: {back}",),
        hazards=HAZARDS[move.way],
    )
