"""What the records of the parts add to a step: the firmware plan while firmware is in question, and what the board's record says
of names, sockets and files.
"""

from __future__ import annotations

import shlex
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from nopost.diagnosis.advice.adviser import StepKind
from nopost.diagnosis.diagnose import Diagnosis
from nopost.diagnosis.history import EventKind, History, Parts
from nopost.diagnosis.inventory import person_here
from nopost.diagnosis.parts_facts import in_one_line
from nopost.errors import NopostError, RecordError
from nopost.firmware.route.moves import prices_of
from nopost.firmware.route.route_plan import FirmwarePlan, make_plan
from nopost.firmware.route.task import OLD_CPU, SECOND_MACHINE, SPARE_CPU, STICK, Way, make_task
from nopost.knowledge.model import Knowledge
from nopost.knowledge.reference_records import Board

NEEDED = {"board": "the board's record", "firmware": "the release on the board", "cpu": "the record of the CPU"}
"""What a plan is made from: name of the record -> what it is. The names are those of the options too."""
OPTIONS = {
    Way.INSIDE: "inside",
    Way.BUTTON: "button",
    Way.RECOVERY: "recovery",
    Way.SHOP: "shop",
    Way.BORROW: "borrow",
}
"""Ways that can be left out one by one, and their names on the command line."""


@dataclass(frozen=True, slots=True)
class PlanOffer:
    """`plan` is None when something keeps it from being made: `lacks` (names of records to give), or `problem` in one line."""

    command: str
    plan: FirmwarePlan | None = None
    lacks: tuple[str, ...] = ()
    problem: str = ""

    @property
    def reachable(self) -> bool:
        """Whether a route leads there."""
        return self.plan is not None and bool(self.plan.routes)


def plan_offer(knowledge: Knowledge, history: History, diagnosis: Diagnosis, kb: str = "") -> PlanOffer | None:
    """The plan for the CPU that is fitted; None when firmware is not in question, when the release knows that CPU already, or
    when too little is known of the parts to speak of a plan.

    `kb`: folder of the knowledge base when it is not the shipped one, for the command.
    """
    named, has_old_cpu = history.parts.named(), _has_old_cpu(knowledge, history.parts, diagnosis)
    lacks = tuple(name for name in NEEDED if not named.get(name) and not (name == "firmware" and has_old_cpu))
    if len(lacks) > 1 or not in_question(knowledge, diagnosis):
        return None
    without = _without(knowledge, history)
    have = (*_tools(knowledge, history.parts), *((OLD_CPU,) if has_old_cpu else ()))
    command = _command(history.parts, have, without, kb)
    if lacks:
        return PlanOffer(command, lacks=lacks)
    try:
        plan = _plan(knowledge, history.parts, have, without)
    except NopostError as error:
        return PlanOffer(command, problem=in_one_line(error))
    return None if plan.ready else PlanOffer(command, plan)


def in_question(knowledge: Knowledge, diagnosis: Diagnosis) -> bool:
    """Whether a step of a firmware route is proposed or among the offers, or is what mends the leading cause best."""
    advice = diagnosis.advice
    actions = [step.id for step in (advice.step, *advice.others) if step.kind is StepKind.DO]
    fixes = knowledge.causes[diagnosis.remaining[0][0]].fixes if diagnosis.remaining else {}
    if fixes:
        actions.append(max(fixes, key=lambda action: fixes[action]))
    return any(knowledge.actions[action].route for action in actions)


def _has_old_cpu(knowledge: Knowledge, parts: Parts, diagnosis: Diagnosis) -> bool:
    """Whether a CPU that ran in this board is there: what is there says so, or it lies at hand."""
    tool = knowledge.base.roles.tools.get(SPARE_CPU)
    return tool in person_here(knowledge, parts, diagnosis.seen.facts).at_hand


def _plan(knowledge: Knowledge, parts: Parts, have: tuple[str, ...], without: tuple[Way, ...]) -> FirmwarePlan:
    """The plan from the records. Raises NopostError for a record that is not there or does not fit."""
    for name, known in (("board", knowledge.boards), ("cpu", knowledge.cpus)):
        if (record := getattr(parts, name)) not in known:
            raise RecordError(f"the record {record} is not there any more, or cannot be read")
    board, cpu = knowledge.boards[parts.board], knowledge.cpus[parts.cpu]
    fitted = cpu if cpu.socket == board.socket else None
    donors, tools = [each for each in have if each == OLD_CPU], [each for each in have if each != OLD_CPU]
    task = make_task(board, parts.firmware, cpu, fitted, donors, tools, without=without)
    return make_plan(task, prices_of(knowledge.base, parts.minute_rate), cpu.socket)


def _tools(knowledge: Knowledge, parts: Parts) -> list[str]:
    """What a route needs and the person has, as a route calls it."""
    tools = knowledge.base.roles.tools
    return [role for role in (STICK, SECOND_MACHINE) if tools.get(role) in parts.at_hand]


def _without(knowledge: Knowledge, history: History) -> tuple[Way, ...]:
    """The ways of actions that the person cannot do."""
    skipped = [event.item for event in history.of_kind(EventKind.SKIPPED)]
    ways = {way for action in skipped for way in knowledge.actions[action].route}
    return tuple(way for way in OPTIONS if way in ways)


def _command(parts: Parts, have: tuple[str, ...], without: tuple[Way, ...], kb: str) -> str:
    """The command that makes the same plan; what is not known stands in capitals."""
    words = ["nopost", "plan"]
    for name in NEEDED:
        if name != "firmware" or parts.firmware or OLD_CPU not in have:
            words += [f"--{name}", parts.named().get(name) or ("VERSION" if name == "firmware" else "NAME")]
    if have:
        words += ["--have", ",".join(have)]
    if without:
        words += ["--without", ",".join(OPTIONS[way] for way in without)]
    if parts.minute_rate is not None:
        words += ["--per-minute", f"{parts.minute_rate:g}"]
    if kb:
        words += ["--kb", kb]
    return shlex.join(words)


def offer_lines(offer: PlanOffer) -> list[str]:
    """The offer in words, without its command: the steps in one line, or what is missing."""
    if offer.problem:
        return [f"The way to newer firmware cannot be planned: {offer.problem}"]
    if offer.plan is None:
        lacking = " and ".join(f"{NEEDED[name]} (--{name})" for name in offer.lacks)
        return [f"The way to firmware that knows the CPU can be planned once this is given: {lacking}."]
    if not offer.reachable:
        return ["No way leads there with what there is.", *(f"Missing: {each.what}." for each in offer.plan.missing)]
    steps = offer.plan.steps
    titles = "  ".join(f"{number} {step.title}." for number, step in enumerate(steps, 1))
    return [f"{len(steps)} step{'s' if len(steps) > 1 else ''}, {offer.plan.routes[0].effort.minutes:.0f} min:  {titles}"]


def offer_data(offer: PlanOffer | None) -> dict[str, Any] | None:
    """The offer as plain data."""
    if offer is None:
        return None
    plan = offer.plan
    effort = plan.routes[0].effort if plan and plan.routes else None
    return {
        "reachable": offer.reachable,
        "steps": [step.title for step in plan.steps] if plan else [],
        "effort": {"minutes": effort.minutes, "money": effort.money, "risk": effort.risk} if effort else None,
        "missing": [{"kind": each.kind, "what": each.what, "ways": list(each.ways)} for each in plan.missing] if plan else [],
        "lacks": list(offer.lacks),
        "problem": offer.problem,
        "command": offer.command,
    }


PLUGS = {"main": "the main plug", "cpu": "the CPU plug"}


def _variant(board: Board) -> str:
    alike = f", not {' or '.join(board.look_alikes)}" if board.look_alikes else ""
    return f"files for exactly {board.variant}{alike}"


WORDS: dict[str, Callable[[Board], str]] = {
    "variant": _variant,
    "button_needs": lambda board: f"plugged in {' and '.join(PLUGS[plug] for plug in board.recovery['button_needs'])}",
    "button_socket": lambda board: f"the stick in {board.recovery['button_socket']}",
    "button_file": lambda board: f"file name {board.recovery['button_file']}, letter for letter",
    "button_file_systems": lambda board: f"file system {' or '.join(board.recovery['button_file_systems'])}",
    "button_minutes": lambda board: f"the lamp blinks for about {board.recovery['button_minutes']:g} minutes",
}
"""What a step can show of the record -> how it is said."""


def record_words(knowledge: Knowledge, parts: Parts, kind: StepKind, name: str) -> str:
    """What the board's record says to a step, in one line; empty without a record or when the step asks for none of it."""
    wanted, board = _wanted(knowledge, kind, name), knowledge.boards.get(parts.board)
    if not wanted or board is None:
        return ""
    said = [WORDS[key](board) for key in wanted if key == "variant" or (board.recovery["button"] and board.recovery.get(key))]
    text = "; ".join(said if "variant" in wanted else [board.variant, *said])
    return f"{text[:1].upper()}{text[1:]}." if said else ""


def look_command(knowledge: Knowledge, parts: Parts, kind: StepKind, name: str, kb: str = "") -> str:
    """The command that looks at stick or image instead of the person, in words; empty without a record of the board."""
    wanted, board = _wanted(knowledge, kind, name), shlex.quote(parts.board)
    if parts.board not in knowledge.boards:
        return ""
    if kb:
        board += f" --kb {shlex.quote(kb)}"
    if "button_file" in wanted or "button_file_systems" in wanted:
        return f"To have the stick looked at: nopost stick PATH --board {board}"
    return f"To have the file looked at: nopost image FILE --board {board}" if "variant" in wanted else ""


def _wanted(knowledge: Knowledge, kind: StepKind, name: str) -> tuple[str, ...]:
    if kind is StepKind.ASK:
        return knowledge.findings[name].record
    return knowledge.actions[name].record if kind is StepKind.DO else ()
