"""The firmware plan that goes with a session: offered when firmware is in question and the records of the parts are there."""

from __future__ import annotations

import shlex
from dataclasses import dataclass
from typing import Any

from nopost.advice.assess import Assessment
from nopost.advice.step import StepKind
from nopost.cases.session import EventKind, Session
from nopost.errors import KnowledgeError, NopostError
from nopost.firmware.records import find_board, find_cpu
from nopost.firmware.route.moves import prices_of
from nopost.firmware.route.plan import Plan, make_plan
from nopost.firmware.route.state import SECOND_MACHINE, STICK, Way, make_task
from nopost.knowledge.model import Knowledge

NEEDED = {"board": "the board's record", "firmware": "the release on the board", "cpu": "the record of the CPU"}
"""What a plan is made from: name of the record -> what it is. The names are those of the options too."""
TOOLS = {"memory-stick": STICK, "second-machine": SECOND_MACHINE}
"""Tool of the knowledge base -> what a route calls it."""
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
    plan: Plan | None = None
    lacks: tuple[str, ...] = ()
    problem: str = ""

    @property
    def reachable(self) -> bool:
        """Whether a route leads there."""
        return self.plan is not None and bool(self.plan.routes)


def plan_offer(knowledge: Knowledge, session: Session, assessment: Assessment) -> PlanOffer | None:
    """The plan for the CPU that is fitted; None when firmware is not in question, when the release knows that CPU already, or
    when too little is known of the parts to speak of a plan."""
    lacks = tuple(name for name in NEEDED if not session.records.get(name))
    if len(lacks) > 1 or not in_question(knowledge, assessment):
        return None
    without = _without(knowledge, session)
    command = _command(session, without)
    if lacks:
        return PlanOffer(command, lacks=lacks)
    try:
        plan = _plan(knowledge, session, without)
    except NopostError as error:
        return PlanOffer(command, problem=_in_one_line(error))
    return None if plan.ready else PlanOffer(command, plan)


def _in_one_line(error: NopostError) -> str:
    if isinstance(error, KnowledgeError):
        return str(error.problems[0])
    return str(error).splitlines()[0]


def in_question(knowledge: Knowledge, assessment: Assessment) -> bool:
    """Whether a step of a firmware route is proposed or among the offers, or is what mends the leading cause best."""
    advice = assessment.advice
    actions = [step.id for step in (advice.step, *advice.others) if step.kind is StepKind.DO]
    fixes = knowledge.causes[assessment.ranking[0][0]].fixes if assessment.ranking else {}
    if fixes:
        actions.append(max(fixes, key=lambda action: fixes[action]))
    return any(knowledge.actions[action].route for action in actions)


def _plan(knowledge: Knowledge, session: Session, without: tuple[Way, ...]) -> Plan:
    """The plan from the records. Raises NopostError for a record that is gone or does not fit."""
    board, cpu = find_board(session.records["board"], knowledge), find_cpu(session.records["cpu"], knowledge)
    fitted = cpu if cpu.socket == board.socket else None
    task = make_task(board, session.records["firmware"], cpu, fitted, tools=_tools(session), without=without)
    return make_plan(task, prices_of(knowledge.base, session.person.minute_rate), cpu.socket)


def _tools(session: Session) -> list[str]:
    return [tool for name, tool in TOOLS.items() if name in session.person.at_hand]


def _without(knowledge: Knowledge, session: Session) -> tuple[Way, ...]:
    """The ways of actions that the person cannot do."""
    skipped = [event.item for event in session.events if event.kind is EventKind.SKIPPED]
    ways = {way for action in skipped for way in knowledge.actions[action].route}
    return tuple(way for way in OPTIONS if way in ways)


def _command(session: Session, without: tuple[Way, ...]) -> str:
    """The command that makes the same plan; what is not known stands in capitals."""
    words = ["nopost", "plan"]
    for name in NEEDED:
        words += [f"--{name}", session.records.get(name) or ("VERSION" if name == "firmware" else "NAME")]
    if tools := _tools(session):
        words += ["--have", ",".join(tools)]
    if without:
        words += ["--without", ",".join(OPTIONS[way] for way in without)]
    if session.person.minute_rate is not None:
        words += ["--per-minute", f"{session.person.minute_rate:g}"]
    if session.records.get("kb"):
        words += ["--kb", session.records["kb"]]
    return shlex.join(words)


def offer_lines(offer: PlanOffer) -> list[str]:
    """The offer in words, without its command: the steps in one line, or what is missing."""
    if offer.problem:
        return [f"The way to newer firmware cannot be planned: {offer.problem}"]
    if offer.plan is None:
        lacking = " and ".join(f"{NEEDED[name]} (--{name})" for name in offer.lacks)
        return [f"The way to firmware that knows the CPU can be planned once this is given: {lacking}."]
    if not offer.reachable:
        return ["No way leads there with what there is.", *(f"Missing: {each.what}." for each in offer.plan.lacking)]
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
        "missing": [{"kind": each.kind, "what": each.what, "ways": list(each.ways)} for each in plan.lacking] if plan else [],
        "lacks": list(offer.lacks),
        "problem": offer.problem,
        "command": offer.command,
    }
