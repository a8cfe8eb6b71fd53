"""A route as steps for hands: check before, action, what to see, check after, what can go wrong and the way back,
cautions.

Numbers in the sentences are common practice, no source; a record's own numbers come first.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from nopost.firmware.route.route_search import Route
from nopost.firmware.route.task import EMPTY, OLD_KEY, WRITES, RouteMove, RouteState, RouteTask, Way
from nopost.knowledge.model import Effort
from nopost.knowledge.reference_records import Board, Release

RESET = "Settings are as new after this: set date, start order and drive mode again; leave the rated memory profile off for now."
WRITE_TITLES = {
    Way.INSIDE: "Write from the setup menu",
    Way.BUTTON: "Write with the board's button",
    Way.RECOVERY: "Write through the recovery block",
    Way.SHOP: "Have a workshop write it",
    Way.CHIP: "Fit a firmware chip that holds it",
}
STICK_READY = "The stick has one partition, and on it only the unpacked image under the name that the manual asks for."
FAT32 = "It is formatted as FAT32, which nearly every board reads, unless the manual asks for another kind."
WRITE_BEFORE: dict[Way, tuple[str, ...]] = {
    Way.INSIDE: (
        STICK_READY,
        FAT32,
        "The setup menu opens, and what it says of board and release is what this plan begins with.",
    ),
    Way.BUTTON: (STICK_READY, "The stick is small and plain; large and very new ones are often not read."),
    Way.RECOVERY: (
        STICK_READY,
        FAT32,
        "The manual tells of a recovery block, and which socket and which file name it wants.",
    ),
    Way.SHOP: ("Ask for price and time first, and tell variant, revision and release in writing.",),
    Way.CHIP: ("The seller knows variant and revision letter by letter; the new chip has the same markings as the old one.",),
}
WRITE_ACTION: dict[Way, tuple[str, ...]] = {
    Way.INSIDE: (
        "Note your settings. If the drive is encrypted, have its recovery key on paper.",
        "Open the setup menu, choose its own tool for writing firmware, choose the file on the stick, and confirm.",
        "Hands off until it has restarted by itself.",
    ),
    Way.BUTTON: (
        "Switch off and unplug. Put the stick into the socket for it. Leave the machine off.",
        "Plug in. Hold the button as the manual says, a few seconds, until its lamp begins to blink; then let go.",
        "Hands off until it is done. Then unplug, and take the stick out.",
    ),
    Way.RECOVERY: (
        "Switch off and unplug. Put the stick into the socket that the manual names.",
        "Plug in and switch on, with the keys or the jumper that the manual names. Hands off until it restarts.",
    ),
    Way.SHOP: ("Bring the board in its box or bag, and let them write the release on the chip.",),
    Way.CHIP: (
        "Switch off, unplug, wait. Make a photo of the chip and its mark for pin 1.",
        "Lift the old chip evenly with the tool made for it; keep it. Press the new one in with pin 1 at the mark.",
        "Plug in and start.",
    ),
}
ENDS_SWITCHED_OFF = frozenset({Way.BUTTON, Way.SHOP})
"""Ways after which the machine has still to be started."""
START = ("Clear the settings as the manual says, then plug in and start.",)
START_SEE = (
    "At this first start, one to three restarts and up to fifteen minutes of dark screen are normal: memory is trained anew.",
)
WRITE_SEE: dict[Way, tuple[str, ...]] = {
    Way.INSIDE: (
        "A bar runs for two to ten minutes. One to three restarts by itself are normal, with a dark screen of up to ten minutes.",
    ),
    Way.BUTTON: ("Fans may turn or stand still. A lamp that lights steadily after seconds means: file or stick not accepted.",),
    Way.RECOVERY: ("The stick's lamp flickers, and the screen may stay dark for ten minutes. Up to three restarts are normal.",),
    Way.SHOP: ("They read the chip back and compare it with the image; ask for the release on the bill.",),
    Way.CHIP: ("Up to three restarts, and a dark screen of up to ten minutes, are normal at the first start.",),
}
WRITE_WRONG: dict[Way, tuple[str, ...]] = {
    Way.INSIDE: ("The file is not found or refused: nothing was written. Compare variant, file name and file system.",),
    Way.BUTTON: ("The lamp does not blink, or lights steadily: nothing was written. Check socket, name, file system and plugs.",),
    Way.RECOVERY: ("It does not react: nothing was written. Check socket, name and file system, or go to a workshop.",),
    Way.SHOP: ("They cannot reach the chip: take the board back unchanged.",),
    Way.CHIP: ("Nothing happens: unplug, check pin 1 and the seat; the old chip can go back in.",),
}
SWAP_ACTION = (
    "Switch off, unplug, press the power button once, wait half a minute, and touch bare metal of the case.",
    "Let the cooler get hand-warm. Undo it crosswise, pull its fan plug, twist it gently until it comes free, and lift it.",
    "Open the socket, lift the CPU out by its edges, and lay the new one in, mark to mark, without pressing. Close the socket.",
    "Wipe the old paste off, put new paste on, tighten the cooler crosswise, and plug its fan in.",
    "Plug in and start.",
)
SWAP_SEE = ("One to three restarts are normal, and up to fifteen minutes of dark screen while memory is trained anew.",)


def image_words(board: Board, release: Release) -> str:
    """Which file it is, with what the record says to check it by."""
    alike = f", not for {' or '.join(board.look_alikes)}" if board.look_alikes else ""
    text = f"The image of {release.version} is made for exactly {board.variant}{alike}."
    if release.file:
        text += f" In the archive it is called {release.file}."
    if release.size:
        text += f" It has {release.size} bytes."
    if release.sha256:
        text += f" Its SHA-256 is {release.sha256}."
    return text


def button_words(board: Board) -> list[str]:
    """What the record says of the button: plugs, socket, name and file systems."""
    recovery = board.recovery
    plugs = {"main": "the main plug", "cpu": "the CPU plug"}
    needs = " and ".join(plugs[each] for each in recovery.get("button_needs", ("main", "cpu")))
    found = [f"The supply is switched on at the back; {needs} must be on the board."]
    if recovery.get("button_socket"):
        found.append(f"The socket for it: {recovery['button_socket']}.")
    if recovery.get("button_file"):
        found.append(f"The file is called {recovery['button_file']} on the stick, letter for letter.")
    if recovery.get("button_file_systems"):
        found.append(f"The button reads {', '.join(recovery['button_file_systems'])}; format the stick as one of these.")
    else:
        found.append(FAT32)
    return found


def blink_words(board: Board, usual: float) -> str:
    """How long the lamp blinks; `usual`: minutes when the record does not say."""
    told = board.recovery.get("button_minutes")
    if told is None:
        return f"The lamp blinks for three to ten minutes, about {usual:.0f} as a rule, and goes out when it is done."
    return f"The lamp blinks for about {told:g} minutes and goes out when it is done. Wait twice as long before you doubt it."


def way_back(task: RouteTask, state: RouteState, after: RouteState) -> str:
    """The way back from a write that was broken off or is not wanted."""
    recovery = task.board.recovery
    ways = [
        words
        for there, words in (
            (recovery["button"], "write again with the button"),
            (recovery.get("recovery_block"), "let the recovery block write it"),
            (recovery["second_chip"], "start from the second chip"),
            (recovery.get("socketed_chip"), "fit a chip that holds a release"),
        )
        if there
    ]
    broken = f"It was broken off and nothing starts: {', or '.join((*ways, 'have a workshop write the chip'))}."
    passed = any(release.one_way for release in task.board.releases[state.release + 1 : after.release + 1])
    if passed:
        return f"{broken} Back to {task.version(state.release)}: not possible after this."
    return f"{broken} Back to {task.version(state.release)}: write it as you wrote this one, if the board accepts it."


@dataclass(frozen=True, slots=True)
class RouteStep:
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
    hazards: tuple[str, ...] = ()


def steps_of(task: RouteTask, route: Route, button_minutes: float, hazards: Mapping[Way, tuple[str, ...]]) -> list[RouteStep]:
    """All steps of a route, in order.

    Args:
        task: what the route is for.
        route: its moves.
        button_minutes: how long the button writes when the record does not say.
        hazards: way -> ids of the hazards to warn of; a way that is not there has none.
    """
    states = (task.start, *(move.after for move in route.moves))
    steps = (_step(task, state, move, button_minutes) for state, move in zip(states, route.moves, strict=False))
    return [replace(step, hazards=hazards.get(step.way, ())) for step in steps]


def _step(task: RouteTask, state: RouteState, move: RouteMove, button_minutes: float) -> RouteStep:
    if move.way in WRITES:
        return _write_step(task, state, move, button_minutes)
    return _second_step(task, state, move) if move.way is Way.SECOND else _swap_step(task, state, move)


def _write_step(task: RouteTask, state: RouteState, move: RouteMove, button_minutes: float) -> RouteStep:
    assert isinstance(move.to, int)
    board, release = task.board, task.board.releases[move.to]
    title = f"{WRITE_TITLES[move.way]}: {release.version} over {task.version(state.release)}"
    before = [image_words(board, release), *WRITE_BEFORE[move.way]]
    if move.way is Way.BUTTON:
        before += button_words(board)
    if release.notes:
        before.append(f"The record notes of {release.version}: {release.notes}")
    for cpu in _lost(task, state, move.to):
        before.append(f"It drops family {task.family_words(cpu)}: {task.title(cpu)} does not start this board after it.")
    if release.one_way:
        before.append(f"{release.version} is one-way: be sure that you want it, there is no way back to an older one.")
    see = list(WRITE_SEE[move.way])
    if move.way is Way.BUTTON:
        see.insert(0, blink_words(board, button_minutes))
    first_start = move.way in ENDS_SWITCHED_OFF and task.runs(move.after)
    return RouteStep(
        title=title,
        way=move.way,
        to=release.version,
        effort=move.effort,
        before=tuple(before),
        action=(*WRITE_ACTION[move.way], *(START if first_start else ())),
        see=(*see, *(START_SEE if first_start else ())),
        after=_after_write(task, state, move.after),
        wrong=(*WRITE_WRONG[move.way], way_back(task, state, move.after)),
    )


def _lost(task: RouteTask, state: RouteState, to: int) -> list[str]:
    """CPUs, fitted or at hand, that the present release knows and this one does not."""
    lost = task.knows[state.release] - task.knows[to]
    return [cpu for cpu in (state.cpu, *sorted(state.have)) if task.family(cpu) in lost]


def _after_write(task: RouteTask, state: RouteState, after: RouteState) -> tuple[str, ...]:
    version = task.version(after.release)
    if task.runs(after):
        return (f"The setup menu shows {version} and the name of the CPU.", RESET)
    if after.must_run_next:
        lost = task.title(state.cpu)
        return (f"{version} no longer knows {lost}: the machine does not start with it now. Go on with the next step at once.",)
    return (f"The machine still does not start with {task.title(state.cpu) or 'this CPU'}: that is right at this point.",)


def _second_step(task: RouteTask, state: RouteState, move: RouteMove) -> RouteStep:
    version = task.version(move.after.release)
    return RouteStep(
        title=f"Start from the second chip, which holds {version}",
        way=move.way,
        to=version,
        effort=move.effort,
        before=("Read in the manual how the board changes chips: a switch, a jumper, or by itself after failed starts.",),
        action=("Switch off, unplug, wait, and set the board to its second chip.", "Plug in and start."),
        see=("One to three restarts are normal, and several minutes of dark screen while memory is trained anew.",),
        after=_after_write(task, state, move.after),
        wrong=(f"Nothing starts: unplug and set it back to the first chip, which still holds {task.version(state.release)}.",),
    )


def _known_by(task: RouteTask, state: RouteState, cpu: str) -> str:
    """Why the machine starts with this CPU; and, when nobody knows the release, what the first look in the setup tells."""
    if cpu != OLD_KEY:
        return f"{task.version(state.release)} knows family {task.family(cpu)}, by the record."
    if task.is_release_known or state.release != task.start.release:
        return "It ran in this board, so the release on it knows it."
    return "It ran in this board. With it in, setup shows the release; leave out the writes up to that one."


def _swap_step(task: RouteTask, state: RouteState, move: RouteMove) -> RouteStep:
    new, old = task.title(move.after.cpu), task.title(state.cpu)
    before = [_known_by(task, state, move.after.cpu)]
    if move.way is Way.BORROW:
        before.insert(0, f"Borrow or buy {new}; read family and socket ({task.board.socket}) on its label before you pay.")
    if not task.board.video_outputs:
        before.append("The board has no sockets for a monitor: a graphics card has to be fitted.")
    fit = f"Fit {new}" if state.cpu == EMPTY else f"Take {old} out and fit {new}"
    back = "Unplug, open the socket, look for a bent contact or paste under the CPU with a lamp, and set it in again."
    if state.cpu != EMPTY and task.runs(state):
        back += f" {old} still runs with this release, so it can go back in."
    return RouteStep(
        title=fit,
        way=move.way,
        to=move.after.cpu or "",
        effort=move.effort,
        before=tuple(before),
        action=SWAP_ACTION,
        see=SWAP_SEE,
        after=(f"The setup menu shows {new}, and its temperature stays steady for five minutes.", RESET),
        wrong=(f"It does not start within fifteen minutes: {back}",),
    )
