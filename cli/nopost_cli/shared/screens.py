"""What several commands draw: headings, bars, causes, cautions, a step, weights of evidence, numbers in words.

Functions take values and return rich renderables; nothing here decides anything.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.box import HORIZONTALS
from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.panel import Panel
from rich.rule import Rule
from rich.table import Table
from rich.text import Text

from nopost.diagnosis.advice.adviser import Step, StepKind
from nopost.diagnosis.diagnose import Diagnosis
from nopost.diagnosis.effort import Person
from nopost.diagnosis.predictions import PredictedAnswer
from nopost.diagnosis.step_view import step_effort, step_hazards, step_title
from nopost.knowledge.model import Effect, Effort, Hazard, Knowledge
from nopost_cli.shared.terminal import clean, glyphs


def money(amount: float, currency: str) -> str:
    """An amount with its currency, or in units."""
    number = f"{amount:.0f}" if amount >= 10 or amount == int(amount) else f"{amount:.1f}"
    return f"{number} {currency or ('unit' if number == '1' else 'units')}"


def minutes(count: float) -> str:
    """A working time."""
    if count < 1:
        return f"{round(count * 60)} s"
    return f"{count:.0f} min" if count < 120 else f"{count / 60:.1f} h"


def effort(value: Effort, currency: str) -> str:
    """An effort: time, money, and a word on risk when it is worth one."""
    parts = [minutes(value.minutes)]
    if value.money:
        parts.append(money(value.money, currency))
    if value.risk >= 1:
        parts.append(f"risk worth {money(value.risk, currency)}")
    return ", ".join(parts)


def percent(probability: float) -> str:
    """A probability; the ends are never said to be certain."""
    if probability >= 0.995:
        return ">99 %"
    if 0 < probability <= 0.005:
        return "<1 %"
    return f"{probability * 100:.0f} %"


def decibans(value: float) -> str:
    """A weight of evidence with its sign."""
    return f"{value:+.0f}" if abs(value) > 0.5 else "0"


BAR = 16
LEADING = 3
INDENT = (0, 0, 0, 2)
SHOWN_VERBS = (Effect.DERIVE, Effect.RULE_OUT, Effect.WEIGH, Effect.CAUTION)
"""What a rule must do to be shown: opening and closing questions goes without saying."""


def heading(console: Console, text: str) -> RenderableType:
    """A line across the screen with a title."""
    return Rule(Text(clean(text)), align="left", characters=glyphs(console).dash, style="dim")


def line(label: str, text: str, style: str = "") -> RenderableType:
    """A label and text that wraps beside it."""
    grid = Table.grid(padding=(0, 1))
    grid.add_column(style="bold", no_wrap=True, width=9)
    grid.add_column(ratio=1, overflow="fold")
    grid.add_row(label, Text(clean(text), style=style))
    return grid


def bar(console: Console, probability: float, width: int = BAR) -> Text:
    """A bar that is also told apart without colour."""
    marks = glyphs(console)
    filled = min(width, round(probability * width))
    return Text(marks.full * filled, style="cyan") + Text(marks.rest * (width - filled), style="dim")


def ranking(console: Console, knowledge: Knowledge, assessment: Diagnosis, count: int = LEADING) -> RenderableType:
    """The leading causes with bars, and what nobody wrote down when it is among them."""
    rows = [(knowledge.causes[c].title, p) for c, p in assessment.ranking]
    rows.append(("Something that is not listed", assessment.unlisted))
    rows.sort(key=lambda row: -row[1])
    table = Table.grid(padding=(0, 1), expand=True)
    table.add_column(width=BAR if console.width >= 50 else 6, no_wrap=True)
    table.add_column(justify="right", width=5, no_wrap=True)
    table.add_column(ratio=1)
    for title, p in rows[:count]:
        table.add_row(bar(console, p, BAR if console.width >= 50 else 6), percent(p), clean(title))
    return table


def caution(hazard: Hazard, raised: bool) -> RenderableType:
    """A caution that cannot be overlooked, with or without colour; a stop when what was seen raised it."""
    word = "STOP" if hazard.stop and raised else "CAUTION"
    text = Text.assemble((clean(f"{word}: {hazard.title}"), "bold yellow"), "\n", clean(hazard.caution))
    return Panel(text, box=HORIZONTALS, border_style="yellow", padding=0)


def caution_names(knowledge: Knowledge, assessment: Diagnosis, step: Step) -> list[str]:
    """What the step itself needs, and what rules raised: the stops always, the others when hands go near the machine."""
    own = step_hazards(knowledge, step)
    raised = [name for name in assessment.outcome.cautions if own or knowledge.hazards[name].stop]
    return sorted(dict.fromkeys((*raised, *own)), key=lambda name: not knowledge.hazards[name].stop)


def cautions(
    knowledge: Knowledge, assessment: Diagnosis, step: Step, told: frozenset[str] = frozenset()
) -> Iterator[RenderableType]:
    """The step's own cautions in full, those of a rule that puts it first too, and every stop that stands; in one line those told
    before and those that the work around it raised."""
    why = knowledge.rules[step.rule].then if step.rule else ()
    own = {*step_hazards(knowledge, step), *(c.target for c in why if c.verb is Effect.CAUTION)}
    short = []
    for name in caution_names(knowledge, assessment, step):
        hazard, raised = knowledge.hazards[name], name in assessment.outcome.cautions
        if (hazard.stop and raised) or (name in own and name not in told):
            yield caution(hazard, raised)
        else:
            short.append(hazard.title)
    if short:
        yield line("CAUTION", f"also: {'; '.join(short)}.", style="bold")


def numbered(texts: Sequence[str], start: int = 1, mark: str = "") -> RenderableType:
    """Choices with their numbers, or all with the same mark."""
    table = Table.grid(padding=(0, 1))
    table.add_column(justify="right", width=4, style="bold")
    table.add_column()
    for number, text in enumerate(texts, start):
        table.add_row(mark or str(number), Text(clean(text)))
    return table


def packed(items: Sequence[str], width: int) -> RenderableType:
    """Short items in as few lines as the width allows, none of them broken."""
    lines = [""]
    for item in items:
        if lines[-1] and len(lines[-1]) + 3 + len(item) > width:
            lines.append("")
        lines[-1] += ("   " if lines[-1] else "") + item
    return Text("\n".join(lines), style="dim")


def why_now(knowledge: Knowledge, step: Step, prospects: Sequence[PredictedAnswer], now: float, minute_rate: float) -> str:
    """One or two sentences: what it would settle, and what is gained; costs from here `now` are in money."""
    if step.rule:
        return f"Before anything else. {knowledge.rules[step.rule].because}"
    if step.kind is StepKind.DO:
        return f"It has a {percent(step.success_probability)} chance to get the machine going, the best for what it takes."
    if step.kind is StepKind.LAST_RESORT:
        return "No question or fix that is left is worth its effort any more."
    if step.opening:
        return "Asked first for every machine."
    told = [_prospect(knowledge, step, p) for p in prospects[:2]]
    gain = (now - step.expected_total_cost) / minute_rate
    saved = [f"On average this look saves {minutes(gain)} of work or its worth."] if gain >= 2 else []
    return " ".join([*told, *saved])


def _prospect(knowledge: Knowledge, step: Step, prospect: PredictedAnswer) -> str:
    answer = knowledge.findings[step.id].answer_text(prospect.answer)
    cause, p = prospect.leading[0]
    title = knowledge.causes[cause].title
    return f"If “{answer}” ({percent(prospect.probability)}), what leads is: {title} ({percent(p)})."


def step_body(knowledge: Knowledge, step: Step, person: Person, currency: str, why: str) -> Iterator[RenderableType]:
    """The step: what, why now, how, effort."""
    yield Text(clean(step_title(knowledge, step)), style="bold")
    yield line("Why now", why)
    steps: tuple[str, ...] = ()
    if step.kind is StepKind.ASK:
        finding = knowledge.findings[step.id]
        if finding.action:
            steps = knowledge.actions[finding.action].steps
            yield line("Test", knowledge.actions[finding.action].title)
        elif finding.look:
            yield line("Look", finding.look)
    elif step.kind is StepKind.DO:
        steps = knowledge.actions[step.id].steps
    else:
        steps = knowledge.base.shop.hand_over
    if steps:
        yield Padding(ordered(steps), INDENT)
    yield line("Effort", _effort(knowledge, step, person, currency))


def ordered(steps: Sequence[str]) -> RenderableType:
    """Steps with their numbers."""
    table = Table.grid(padding=(0, 1))
    table.add_column(justify="right", width=3)
    table.add_column(ratio=1)
    for number, text in enumerate(steps, 1):
        table.add_row(f"{number}.", Text(clean(text)))
    return table


def _effort(knowledge: Knowledge, step: Step, person: Person, currency: str) -> str:
    needs: tuple[str, ...] = ()
    if step.kind is StepKind.DO:
        needs = knowledge.actions[step.id].needs
    elif step.kind is StepKind.ASK:
        finding = knowledge.findings[step.id]
        needs = (*finding.needs, *(knowledge.actions[finding.action].needs if finding.action else ()))
    got = [knowledge.base.tools[n].title + (" (at hand)" if n in person.at_hand else "") for n in needs]
    return effort(step_effort(knowledge, step, person), currency) + (f"; needs: {', '.join(got)}" if got else "")


def doubts(knowledge: Knowledge, assessment: Diagnosis) -> Iterator[RenderableType]:
    """Answers to check again: those that cannot both be, else the one without which the others go together."""

    def given(finding: str, answer: str) -> str:
        return f"“{knowledge.findings[finding].title}: {knowledge.findings[finding].answer_text(answer)}”"

    answers = assessment.outcome.reported
    for misfit in assessment.misfits:
        pair = [given(name, answers[name]) for name in (misfit.finding, misfit.other) if name in answers]
        yield line("Check", f"{' and '.join(pair)} cannot both be.", style="bold")
    found = assessment.conflict
    if found is not None and not assessment.misfits:
        text = f"{given(found.finding, found.answer)} does not go well with your other answers."
        yield line("Check", text, style="bold")


def all_causes(console: Console, knowledge: Knowledge, assessment: Diagnosis) -> RenderableType:
    """Every cause that is not negligible, with the explanation of the leading ones."""
    shown = [(c, p) for c, p in assessment.ranking if p >= 0.005]
    parts: list[RenderableType] = [heading(console, "Causes"), ranking(console, knowledge, assessment, len(shown) + 1)]
    for cause, p in shown[:LEADING]:
        parts += [Text(f"\n{clean(knowledge.causes[cause].title)} ({percent(p)})", style="bold")]
        parts += [Padding(Text(clean(knowledge.causes[cause].explanation)), INDENT)]
    if assessment.outcome.ruled_out:
        names = ", ".join(knowledge.causes[c].title for c in assessment.outcome.ruled_out)
        parts += [Text("\nRuled out", style="bold"), Padding(Text(clean(names)), INDENT)]
    return Group(*parts)


def evidence_table(console: Console, columns: Sequence[tuple[str, Sequence[tuple[str, float]]]]) -> RenderableType:
    """Weights of evidence: a row for each piece, a column for each leading cause."""
    table = Table(expand=True, box=None, padding=(0, 1))
    table.add_column("Evidence (decibans: 10 is ten to one)", ratio=1)
    for number in range(1, len(columns) + 1):
        table.add_column(f"[{number}]", justify="right", width=5)
    rows = [piece for piece, _ in columns[0][1]] if columns else []
    for k, piece in enumerate(rows):
        table.add_row(Text(clean(piece)), *(decibans(weights[k][1]) for _, weights in columns))
    legend = [Text(f"[{n}] {clean(title)}") for n, (title, _) in enumerate(columns, 1)]
    return Group(heading(console, "Why: weights of evidence"), *legend, Text(), table)


def rule_chain(console: Console, knowledge: Knowledge, assessment: Diagnosis) -> RenderableType:
    """The rules that fired and say something about causes or findings, with what held and why."""
    parts: list[RenderableType] = [heading(console, "Why: rules that apply")]
    for firing in assessment.outcome.firings:
        rule = knowledge.rules[firing.rule]
        if not any(consequence.verb in SHOWN_VERBS for consequence in rule.then):
            continue
        held = ", ".join(f"{_finding_title(knowledge, name)} = {value}" for name, value in firing.support)
        parts += [Text(clean(f"{rule.title}  ({held})")), Padding(Text(clean(rule.because), style="dim"), INDENT)]
    quiet = len(assessment.outcome.firings) - (len(parts) - 1) // 2
    if len(parts) == 1:
        parts.append(Text("None yet."))
    if quiet:
        only = "rule only opens, closes or puts" if quiet == 1 else "rules only open, close or put"
        parts.append(Text(f"{quiet} more {only} first what can be asked or done.", style="dim"))
    return Group(*parts)


def _finding_title(knowledge: Knowledge, name: str) -> str:
    return knowledge.findings[name].title if name in knowledge.findings else name


def bullet_list(console: Console, title: str, texts: Sequence[str]) -> RenderableType:
    """A titled list to tick off."""
    table = Table.grid(padding=(0, 1))
    table.add_column(width=3, no_wrap=True)
    table.add_column(ratio=1)
    for text in texts:
        table.add_row(Text("[ ]"), Text(clean(text)))
    return Group(Text(f"\n{title}", style="bold"), table)
