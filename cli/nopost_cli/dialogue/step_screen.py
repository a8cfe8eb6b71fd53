"""The screen of a step, and the pages beside it: help, why, all causes. They format a step view and decide nothing."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.text import Text

from nopost import amounts
from nopost.diagnosis.advice.adviser import StepKind
from nopost.diagnosis.diagnose import Diagnosis, Diagnostician
from nopost.diagnosis.history_words import evidence_words
from nopost.diagnosis.step_view import StepView
from nopost.knowledge.effects import EFFECTS
from nopost.knowledge.model import Knowledge
from nopost_cli.dialogue.plan_screen import offer_parts
from nopost_cli.shared import screens
from nopost_cli.shared.terminal import clean

KEYS = {
    "?": "help",
    "s": "skip: can't tell or do",
    "u": "undo",
    "w": "why",
    "c": "causes",
    "o": "other steps",
    "t": "tell something else",
    "q": "leave and keep",
}
PLAN_KEY = {"p": "firmware plan in full"}
"""One more key while there is a plan."""
NOTHING_YET = "Nothing is known yet. These are the most common causes; each answer ranks them anew."
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
        screens.ranking(console, view.causes),
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
    yield screens.line("Effort", amounts.effort(view.effort, currency) + (f"; needs: {needs}" if needs else ""))


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
        leading = "; ".join(f"{knowledge.causes[c].title} ({amounts.percent(p)})" for c, p in predicted.leading)
        yield screens.line("If", f"{finding.answer_text(predicted.answer)}: {leading}")


def _repaired_lines(knowledge: Knowledge, view: StepView) -> Iterator[RenderableType]:
    yield Text(clean(f"If {knowledge.base.words.it_works} after this, it was most probably:"))
    for cause, share in view.repaired[:REPAIRED_SHOWN]:
        yield screens.line(amounts.percent(share), knowledge.causes[cause].title)


def why_page(console: Console, diagnostician: Diagnostician, diagnosis: Diagnosis) -> RenderableType:
    """Weights of evidence for the leading causes, and the rules that say something."""
    knowledge = diagnostician.knowledge
    columns = []
    for cause, _ in diagnosis.ranking[: screens.LEADING]:
        weights = [(evidence_words(knowledge, weight), weight.decibans) for weight in diagnostician.weights(diagnosis, cause)]
        columns.append((knowledge.causes[cause].title, weights))
    return Group(screens.evidence_table(console, columns), rule_chain(console, knowledge, diagnosis))


def causes_page(console: Console, knowledge: Knowledge, diagnosis: Diagnosis, view: StepView) -> RenderableType:
    """Every cause that is not negligible, with the explanation of the leading ones."""
    shown = [(c, p) for c, p in diagnosis.ranking if p >= LEAST_SHOWN]
    parts: list[RenderableType] = [screens.heading(console, "Causes"), screens.ranking(console, view.causes, len(shown) + 1)]
    for cause, p in shown[: screens.LEADING]:
        parts += [Text(f"\n{clean(knowledge.causes[cause].title)} ({amounts.percent(p)})", style="bold")]
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
