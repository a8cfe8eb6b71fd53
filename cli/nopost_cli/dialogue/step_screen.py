"""The screen of a step, and the pages beside it: help, why, all causes. They format a step view and decide nothing. Also a
firmware plan on screen: in full, and as a line beside a step.
"""

from __future__ import annotations

import shlex
from collections.abc import Iterator, Sequence

from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from nopost import text
from nopost.diagnosis.advice.adviser import StepKind
from nopost.diagnosis.diagnose import Diagnosis, Diagnostician
from nopost.diagnosis.firmware_offer import PlanOffer, offer_lines
from nopost.diagnosis.history_words import evidence_words
from nopost.diagnosis.step_view import StepView
from nopost.firmware.route.route_plan import FirmwarePlan
from nopost.firmware.route.task import WRITES, Way
from nopost.knowledge.effects import EFFECTS
from nopost.knowledge.model import Knowledge
from nopost.render.route_checklist import checklist_blocks, plan_title
from nopost_cli.shared import screens
from nopost_cli.shared.terminal import clean


def offer_parts(offer: PlanOffer | None) -> Iterator[RenderableType]:
    """The offer in a few lines, with the command that makes the plan."""
    if offer is not None:
        for line in offer_lines(offer):
            yield screens.line("Plan", line)
        yield screens.line("", offer.command)


def plan_parts(
    console: Console, knowledge: Knowledge, plan: FirmwarePlan, currency: str, with_nopost: Sequence[str] = ()
) -> Iterator[RenderableType]:
    """The whole checklist; `with_nopost`: command lines that check what was done."""
    yield Text(clean(plan_title(plan)), style="bold")
    for block in checklist_blocks(knowledge, plan, currency=currency):
        yield Text()
        if block.level == 1:
            yield _heading(console, block.title)
        else:
            yield Text(clean(block.title), style="bold yellow" if block.title == "Caution" else "bold")
        yield from (_marked("[ ]" if block.ticked else "-", line) for line in block.lines)
    if with_nopost:
        yield Text()
        yield screens.heading(console, "Check with nopost")
        yield from (_marked("-", line) for line in with_nopost)


def check_lines(plan: FirmwarePlan, board: str, cpu: str, kb: str) -> Iterator[str]:
    """What to type before and after the steps; when nothing has to be written, what goes on from there."""
    more = ["--kb", kb] if kb else []
    if plan.ready:
        version = plan.task.version(plan.task.start.release)
        words = ["nopost", "diagnose", "--board", board, "--cpu", cpu, "--firmware", version, *more]
        yield f"If it does not start all the same: {shlex.join(words)}"
        return
    written = [step for step in plan.steps if step.way in WRITES]
    for step in written:
        words = ["nopost", "image", "FILE", "--board", board, "--release", step.to, *more]
        yield f"The image of {step.to}: {shlex.join(words)}"
    if any(step.way is Way.BUTTON for step in written):
        yield f"The stick: {shlex.join(['nopost', 'stick', 'DEVICE', '--board', board, *more])}"
    if plan.steps:
        end = plan.task.version(plan.routes[0].moves[-1].after.release)
        words = ["nopost", "verify", "--board", board, "--cpu", cpu, "--firmware", end, *more]
        yield f"The machine, when it starts again: {shlex.join(words)}"


def _heading(console: Console, title: str) -> RenderableType:
    """A heading; one that does not fit on a line is not cut but wrapped."""
    if len(title) + 4 <= console.width:
        return screens.heading(console, title)
    return Text(clean(title), style="bold")


def _marked(mark: str, text: str) -> RenderableType:
    grid = Table.grid(padding=(0, 1))
    grid.add_column(no_wrap=True, width=3, justify="right")
    grid.add_column(ratio=1, overflow="fold")
    grid.add_row(Text(mark), Text(clean(text)))
    return grid


KEYS = {
    "?": "help",
    "s": "skip: can't tell or do",
    "u": "undo",
    "w": "why",
    "c": "causes",
    "o": "other steps",
    "t": "tell something else",
    "m": "what is there",
    "q": "leave and keep",
}
PLAN_KEY = {"p": "firmware plan in full"}
"""One more key while there is a plan."""
NOTHING_YET = "Nothing is known yet. These are the most common causes; each answer ranks them anew."
CAUSES_BESIDE_STEP = 2
"""The line of areas stands above them, and the step needs the rows; c shows all."""
REPAIRED_SHOWN = 4
LEAST_SHOWN = 0.005
"""A cause of a smaller probability is not on the page of all causes."""


def keys_of(view: StepView) -> dict[str, str]:
    """The keys that can be used now."""
    return {**KEYS, **PLAN_KEY} if view.offer is not None and view.offer.plan is not None else KEYS


def step_screen(console: Console, name: str, view: StepView, currency: str) -> RenderableType:
    """Ranking, cautions, the step with why and how, the choices and the keys. `name`: of the session."""
    return Group(
        screens.heading(console, f"{name}, step {view.number}"),
        *([Text(NOTHING_YET, style="dim")] if view.nothing_known else []),
        screens.areas(view.areas),
        screens.ranking(console, view.causes, CAUSES_BESIDE_STEP),
        Text(),
        *doubt_lines(view),
        *screens.cautions(view.cautions),
        *step_lines(view, currency),
        *board_lines(view),
        *offer_parts(view.offer),
        screens.numbered([choice.text for choice in view.choices]),
        screens.packed([f"{key} {meaning}" for key, meaning in keys_of(view).items()], console.width),
    )


def doubt_lines(view: StepView) -> Iterator[RenderableType]:
    """Answers to check again, and records that are left out."""
    for doubt in view.doubts:
        yield screens.line("Check", doubt, style="bold")
    for problem in view.record_problems:
        yield screens.line("Record", problem, style="bold")


def step_lines(view: StepView, currency: str) -> Iterator[RenderableType]:
    """The step: what, why now, how, effort."""
    yield Text(clean(view.title), style="bold")
    yield screens.line("Why now", view.why)
    if view.test:
        yield screens.line("Test", view.test)
    if view.look:
        yield screens.line("Look", view.look)
    if view.instructions:
        yield Padding(screens.ordered(view.instructions), screens.INDENT)
    needs = ", ".join(tool.title + (" (at hand)" if tool.at_hand else "") for tool in view.tools)
    yield screens.line("Effort", text.effort(view.effort, currency) + (f"; needs: {needs}" if needs else ""))


def board_lines(view: StepView) -> Iterator[RenderableType]:
    """What the board's record says to the step."""
    if view.board:
        yield screens.line("Board", view.board, style="bold")
        if view.look_command:
            yield screens.line("", view.look_command)


def help_page(console: Console, knowledge: Knowledge, view: StepView) -> RenderableType:
    """What each answer would point to, or what a fix mends, and the keys."""
    parts: list[RenderableType] = [screens.heading(console, "Help")]
    if view.step.kind is StepKind.ASK:
        parts += _predicted_lines(knowledge, view)
    elif view.step.kind is StepKind.DO:
        parts += _repaired_lines(knowledge, view)
    parts.append(Text("\nType the number of a choice or its first letters, then Enter. One key does the rest:"))
    parts += [screens.line(f"  {key}", meaning) for key, meaning in keys_of(view).items()]
    return Group(*parts)


def _predicted_lines(knowledge: Knowledge, view: StepView) -> Iterator[RenderableType]:
    finding = knowledge.findings[view.step.id]
    if finding.look:
        yield screens.line("Look", finding.look)
    for predicted in view.predicted:
        leading = "; ".join(f"{knowledge.causes[c].title} ({text.percent(p)})" for c, p in predicted.leading)
        yield screens.line("If", f"{finding.answer_text(predicted.answer)}: {leading}")


def _repaired_lines(knowledge: Knowledge, view: StepView) -> Iterator[RenderableType]:
    yield Text(clean(f"If {knowledge.base.words.it_works} after this, it was most probably:"))
    for cause, share in view.repaired[:REPAIRED_SHOWN]:
        yield screens.line(text.percent(share), knowledge.causes[cause].title)


def why_page(console: Console, diagnostician: Diagnostician, diagnosis: Diagnosis) -> RenderableType:
    """Weights of evidence for the leading causes, and the rules that say something."""
    knowledge = diagnostician.knowledge
    columns = []
    for cause, _ in diagnosis.remaining[: screens.LEADING]:
        weights = [(evidence_words(knowledge, weight), weight.decibans) for weight in diagnostician.weights(diagnosis, cause)]
        columns.append((knowledge.causes[cause].title, weights))
    return Group(screens.evidence_table(console, columns), rule_chain(console, knowledge, diagnosis))


def causes_page(console: Console, knowledge: Knowledge, diagnosis: Diagnosis, view: StepView) -> RenderableType:
    """Every cause that is not negligible, with the explanation of the leading ones."""
    shown = [(c, p) for c, p in diagnosis.remaining if p >= LEAST_SHOWN]
    parts: list[RenderableType] = [screens.heading(console, "Causes"), screens.areas(view.areas)]
    parts += [screens.ranking(console, view.causes, len(shown) + 1)]
    for cause, p in shown[: screens.LEADING]:
        parts += [Text(f"\n{clean(knowledge.causes[cause].title)} ({text.percent(p)})", style="bold")]
        parts += [Padding(Text(clean(knowledge.causes[cause].explanation)), screens.INDENT)]
    if diagnosis.inference.ruled_out:
        names = ", ".join(knowledge.causes[c].title for c in diagnosis.inference.ruled_out)
        parts += [Text("\nRuled out", style="bold"), Padding(Text(clean(names)), screens.INDENT)]
    return Group(*parts)


def rule_chain(console: Console, knowledge: Knowledge, diagnosis: Diagnosis) -> RenderableType:
    """The rules that fired and say something about causes or findings, with what held and why."""
    parts: list[RenderableType] = [screens.heading(console, "Why: rules that apply")]
    saying = [f for f in diagnosis.inference.firings if _says_something(knowledge, f.rule)]
    for firing in saying:
        rule = knowledge.rules[firing.rule]
        held = ", ".join(f"{_finding_title(knowledge, name)} = {value}" for name, value in firing.support)
        parts += [Text(clean(f"{rule.title}  ({held})")), Padding(Text(clean(rule.because), style="dim"), screens.INDENT)]
    if not saying:
        parts.append(Text("None yet."))
    if quiet := len(diagnosis.inference.firings) - len(saying):
        only = "rule only opens, closes or puts" if quiet == 1 else "rules only open, close or put"
        parts.append(Text(f"{quiet} more {only} first what can be asked or done.", style="dim"))
    return Group(*parts)


def _says_something(knowledge: Knowledge, rule: str) -> bool:
    return any(EFFECTS[consequence.effect].as_evidence for consequence in knowledge.rules[rule].then)


def _finding_title(knowledge: Knowledge, name: str) -> str:
    return knowledge.findings[name].title if name in knowledge.findings else name


CAUSES_SHOWN = 6
OTHERS_SHOWN = 3


def diagnosis_screen(console: Console, knowledge: Knowledge, diagnosis: Diagnosis, view: StepView, currency: str) -> None:
    """A diagnosis of given answers, printed: causes, the next step, and the steps after it."""
    parts: list[RenderableType] = [
        screens.heading(console, "Causes"),
        screens.areas(view.areas),
        screens.ranking(console, view.causes, CAUSES_SHOWN),
        *doubt_lines(view),
    ]
    if diagnosis.inference.firings:
        parts.append(rule_chain(console, knowledge, diagnosis))
    parts += [
        screens.heading(console, "Next step"),
        *screens.cautions(view.cautions),
        *step_lines(view, currency),
        *board_lines(view),
    ]
    if view.offer is not None:
        parts += [screens.heading(console, "Firmware plan"), *offer_parts(view.offer)]
    if diagnosis.advice.plan:
        parts.append(screens.heading(console, "If nothing more is asked: fixes in this order"))
        parts.append(screens.ordered(_fixes_in_order(knowledge, diagnosis.advice.plan)))
    if view.others:
        parts.append(screens.heading(console, "Other good steps"))
        parts.append(screens.ordered([title for _, title in view.others[:OTHERS_SHOWN]]))
    for part in parts:
        console.print(part)


def _fixes_in_order(knowledge: Knowledge, plan: Sequence[tuple[str, float]]) -> list[str]:
    """Each fix with how often one gets as far as this in the plan."""
    reached = {action: "" if share > 0.995 else f" (in {share * 100:.0f} of 100 such cases)" for action, share in plan}
    return [f"{knowledge.actions[action].title}{often}" for action, often in reached.items()]
