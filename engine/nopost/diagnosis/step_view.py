"""The view of a step: everything that a face shows of a diagnosis, decided here once. A face only formats it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from nopost.diagnosis.advice.adviser import Step, StepKind
from nopost.diagnosis.cautions import CautionView, cautions_of, is_confirmation
from nopost.diagnosis.diagnose import (
    Diagnosis,
    Diagnostician,
    PredictedAnswer,
    cause_given_repair_success,
    diagnose,
    diagnostician_for,
    predicted_answers,
)
from nopost.diagnosis.firmware_offer import PlanOffer, look_command, plan_offer, record_words
from nopost.diagnosis.history import (
    EventKind,
    History,
    Person,
    finding_place,
    minute_rate,
    possible_answers,
    second_look_effort,
)
from nopost.diagnosis.history_words import answer_words
from nopost.diagnosis.inventory import EntryView, inventory_view, latest_answers, person_here
from nopost.diagnosis.parts_facts import facts_of
from nopost.diagnosis.workplace import fix_effort, look_effort, ready_after
from nopost.knowledge.model import UNKNOWN, Action, Effort, Finding, Knowledge
from nopost.text import minutes, percent

SAVING_SAID = 2.0
"""From so many saved minutes on it is said what a look saves (judgement)."""
ANSWERS_IN_WHY = 2
WITHOUT_POWER = "Leave it switched off and unplugged. Look at it once more, or at what you noted down; do not try it out."


@dataclass(frozen=True, slots=True)
class StepChoice:
    """One thing that can be chosen for a step: its id, and the text that is shown."""

    id: str
    text: str


@dataclass(frozen=True, slots=True)
class LookView:
    """One look of a round: the finding's id and question, where to look, and what can be answered."""

    id: str
    title: str
    look: str
    choices: tuple[StepChoice, ...]


@dataclass(frozen=True, slots=True)
class CauseView:
    """A cause with its probability; the last of all, without an id, is what nobody wrote down."""

    id: str
    title: str
    probability: float


@dataclass(frozen=True, slots=True)
class AreaView:
    """An area with the probability that something in it is still wrong."""

    id: str
    title: str
    probability: float


@dataclass(frozen=True, slots=True)
class ToolView:
    """A tool or spare that a step needs."""

    id: str
    title: str
    at_hand: bool


@dataclass(frozen=True)
class StepView:
    """A step of a history, with all around it.

    `number`: place of the step, from 1. `nothing_known`: nothing was told yet, not even the parts.
    `step`: what is proposed, or was chosen; `title`: as the person reads it; `why`: one or two sentences.
    `looks`: of a round, each look with its choices, answered in any order, each or none; empty for one question.
    `also`: titles of the fixes that are done before the machine is tried once, after `title`.
    `test`: title of the test that a question needs, if any; `look`: where to look when there is none; `instructions`: how, step
    by step. `effort`, with `tools`. `choices`: what can be answered, or come of it. `cautions`: stops first.
    `causes`: falling, what is not listed among them. `doubts`: sentences on answers to check again.
    `predicted`: for a question, each answer with what leads then; `repaired`: for a fix, (cause, share) if it works.
    `board`: what the board's record says to the step; `look_command`: what looks at a file or stick in the person's place.
    `offer`: the firmware plan while firmware is in question. `others`: other good steps with their titles.
    `record_problems`: why the record of a part is left out. `spent`: effort of all steps so far; `expected`: expected cost of
    getting it running from here, in money. `areas`: falling; `inventory`: what is there, as far as it is known.
    """

    number: int
    nothing_known: bool
    step: Step
    title: str
    why: str
    looks: tuple[LookView, ...]
    also: tuple[str, ...]
    test: str
    look: str
    instructions: tuple[str, ...]
    effort: Effort
    tools: tuple[ToolView, ...]
    choices: tuple[StepChoice, ...]
    cautions: tuple[CautionView, ...]
    causes: tuple[CauseView, ...]
    doubts: tuple[str, ...]
    predicted: tuple[PredictedAnswer, ...]
    repaired: tuple[tuple[str, float], ...]
    board: str
    look_command: str
    offer: PlanOffer | None
    others: tuple[tuple[Step, str], ...]
    record_problems: tuple[str, ...]
    spent: Effort
    expected: float
    areas: tuple[AreaView, ...]
    inventory: tuple[EntryView, ...]

    @property
    def told(self) -> frozenset[str]:
        """The hazards that are told with this step, in full or in short; a face gives them back as `told` with a later step."""
        return frozenset(caution.hazard.id for caution in self.cautions)


def step_view(
    diagnostician: Diagnostician,
    history: History,
    diagnosis: Diagnosis,
    step: Step | None = None,
    *,
    told: frozenset[str] = frozenset(),
    kb: str = "",
) -> StepView:
    """The view of the advised step, or of `step` when the person chose another.

    `told`: hazards whose cautions this face has shown before. `kb`: folder of the knowledge base when it is not the shipped one,
    for the commands that are named.
    """
    knowledge, records = diagnostician.knowledge, facts_of(history.parts, diagnostician.knowledge)
    person = person_here(knowledge, history.parts, diagnosis.seen.facts)
    step = step or diagnosis.advice.step
    asks = step.kind is StepKind.ASK
    predicted = predicted_answers(diagnostician.model, diagnosis, step.id, again=step.again) if asks else []
    test, look, instructions = _how(knowledge, step)
    return StepView(
        number=1 + sum(1 for event in history.events if event.kind is not EventKind.END),
        nothing_known=not history.events and not diagnosis.seen.facts,
        step=step,
        title=step_title(knowledge, step),
        why=_why(knowledge, diagnosis, step, predicted, person),
        looks=_looks(knowledge, step),
        also=tuple(knowledge.actions[name].title for name in step.together) if step.kind is StepKind.DO else (),
        test=test,
        look=look,
        instructions=instructions,
        effort=step_effort(knowledge, step, diagnosis.seen.ready, person),
        tools=tuple(_tools(knowledge, step, person)),
        choices=choices_of(knowledge, step),
        cautions=tuple(cautions_of(knowledge, diagnosis, step, told)),
        causes=cause_views(knowledge, diagnosis),
        doubts=tuple(_doubts(knowledge, diagnosis)),
        predicted=tuple(predicted),
        repaired=cause_given_repair_success(knowledge, diagnosis, (step.id, *step.together)) if step.kind is StepKind.DO else (),
        board=record_words(knowledge, history.parts, step.kind, step.id),
        look_command=look_command(knowledge, history.parts, step.kind, step.id, kb),
        offer=plan_offer(knowledge, history, diagnosis, kb),
        others=tuple((other, step_title(knowledge, other)) for other in diagnosis.advice.others),
        record_problems=records.problems,
        spent=spent_effort(knowledge, history, person),
        expected=step.expected_total_cost,
        areas=area_views(knowledge, diagnosis),
        inventory=inventory_view(knowledge, history.parts, latest_answers(diagnosis.seen.reports), records.facts),
    )


def view_step(knowledge: Knowledge, history: History) -> StepView:
    """The view of the step that comes next, with everything that there is to show: title, reason, choices, cautions, effort.

    Arguments, purity and errors are those of `nopost.diagnose`.

    >>> import nopost
    >>> view = nopost.view_step(nopost.load(), nopost.History())
    >>> view.number, view.step.kind.value, view.title.endswith("?")
    (1, 'ask', True)
    """
    return step_view(diagnostician_for(knowledge), history, diagnose(knowledge, history))


def step_title(knowledge: Knowledge, step: Step) -> str:
    """A step as the person reads it."""
    if step.kind is StepKind.ASK:
        finding = knowledge.findings[step.id]
        if is_confirmation(step):
            return f"Make sure, without power: {finding.title}"
        return f"Look again: {finding.question}" if step.again else finding.question
    return knowledge.actions[step.id].title if step.kind is StepKind.DO else knowledge.base.shop.title


def step_effort(knowledge: Knowledge, step: Step, ready: frozenset[str], person: Person) -> Effort:
    """What a step takes: all that is done in one go, with tests, tools that are not at hand, preparations that are not made, and
    trying the machine or answering the screen.

    `ready`: preparations that are made. A second look takes neither its test nor getting tools.
    """
    if step.kind is StepKind.LAST_RESORT:
        return knowledge.base.shop.effort
    if step.again:
        return second_look_effort(knowledge.findings[step.id]) + knowledge.base.exchange
    total = knowledge.base.exchange if step.kind is StepKind.ASK else knowledge.base.trial
    for name in (step.id, *step.together):
        if step.kind is StepKind.ASK:
            total = total + look_effort(knowledge, name, ready, person)
            ready = ready | finding_place(knowledge, knowledge.findings[name])
        else:
            total = total + fix_effort(knowledge, name, ready, person)
            ready = ready | knowledge.base.closure(knowledge.actions[name].at)
    return total


def spent_effort(knowledge: Knowledge, history: History, person: Person) -> Effort:
    """Effort of all that was asked and done so far. Codes and readings count nothing: somebody had them."""
    total, base, ready = Effort(0.0), knowledge.base, frozenset[str]()
    for event in history.events:
        if event.kind is EventKind.ANSWER:
            total = total + look_effort(knowledge, event.item, ready, person) + base.exchange
        elif event.kind is EventKind.LOOKED_AGAIN:
            total = total + second_look_effort(knowledge.findings[event.item]) + base.exchange
        elif event.kind is EventKind.TRIED:
            total = total + fix_effort(knowledge, event.item, ready, person) + base.trial
        ready = ready_after(knowledge, ready, event)
    return total


def choices_of(knowledge: Knowledge, step: Step) -> tuple[StepChoice, ...]:
    """What can be answered to a question, or come of a fix."""
    words = knowledge.base.words
    if step.kind is StepKind.LAST_RESORT:
        return (StepChoice("shop", "Take it to a shop and show what to tell them"),)
    if step.kind is StepKind.DO:
        return (
            StepChoice("starts", f"{words.works} now"),
            StepChoice("same", "Nothing has changed"),
            StepChoice("changed", f"{words.fails}, but something else is seen now"),
            StepChoice("cannot", "I cannot do this, or do not have what it needs"),
        )
    return _answer_choices(knowledge.findings[step.id])


def _looks(knowledge: Knowledge, step: Step) -> tuple[LookView, ...]:
    """The looks of a round."""
    if step.kind is not StepKind.ASK or not step.together:
        return ()
    findings = [knowledge.findings[name] for name in (step.id, *step.together)]
    return tuple(LookView(f.id, f.question, f.look, _answer_choices(f)) for f in findings)


def _answer_choices(finding: Finding) -> tuple[StepChoice, ...]:
    return tuple(StepChoice(a, finding.answer_text(a)) for a in possible_answers(finding) if a != UNKNOWN)


# -- explanation ------------------------------------------------------------------------------------------------------


def area_views(knowledge: Knowledge, diagnosis: Diagnosis) -> tuple[AreaView, ...]:
    """All areas by falling probability."""
    return tuple(AreaView(area, knowledge.base.area_titles[area], p) for area, p in diagnosis.areas)


def cause_views(knowledge: Knowledge, diagnosis: Diagnosis) -> tuple[CauseView, ...]:
    """All causes by the falling probability that they are still there, with what is not listed among them."""
    views = [CauseView(cause, knowledge.causes[cause].title, p) for cause, p in diagnosis.remaining]
    views.append(CauseView("", "Something that is not listed", diagnosis.unlisted))
    return tuple(sorted(views, key=lambda view: -view.probability))


def _why(knowledge: Knowledge, diagnosis: Diagnosis, step: Step, predicted: Sequence[PredictedAnswer], person: Person) -> str:
    """One or two sentences: what the step would settle, and what is gained by it."""
    if step.again:
        return _why_again(knowledge, diagnosis, step, predicted)
    if step.rule:
        return f"Before anything else. {knowledge.rules[step.rule].because}"
    if step.kind is StepKind.DO:
        return f"It has a {percent(step.success_probability)} chance to get the machine going, the best for what it takes."
    if step.kind is StepKind.LAST_RESORT:
        return "No question or fix that is left is worth its effort any more."
    if step.opening:
        return "Asked first for every machine."
    if step.spares:
        return f"A look before the work. It shows whether this is needed: {knowledge.actions[step.spares].title}."
    if step.together:
        return "These looks go together: made in one go, they tell more than one by one."
    told = [_predicted_sentence(knowledge, step.id, each) for each in predicted[:ANSWERS_IN_WHY]]
    saved = (diagnosis.advice.expected_cost_of_repair_now - step.expected_total_cost) / minute_rate(knowledge, person)
    if saved >= SAVING_SAID:
        told.append(f"On average this look saves {minutes(saved)} of work or its worth.")
    return " ".join(told)


def _why_again(knowledge: Knowledge, diagnosis: Diagnosis, step: Step, predicted: Sequence[PredictedAnswer]) -> str:
    """What was said before, and what hangs on it."""
    finding = knowledge.findings[step.id]
    said = f"You said “{finding.answer_text(diagnosis.inference.reported[step.id])}”."
    if step.rule:
        return f"{said} {knowledge.rules[step.rule].because} Everything that needs power waits; make sure of this first."
    others = [p for p in predicted if p.answer != diagnosis.inference.reported[step.id]]
    hangs = "The next step is dear or cannot be undone, and much of it rests on this."
    return " ".join((said, hangs, *(_predicted_sentence(knowledge, step.id, other) for other in others[:1])))


def _predicted_sentence(knowledge: Knowledge, finding: str, predicted: PredictedAnswer) -> str:
    answer = knowledge.findings[finding].answer_text(predicted.answer)
    cause, p = predicted.leading[0]
    title = knowledge.causes[cause].title
    return f"If “{answer}” ({percent(predicted.probability)}), what leads is: {title} ({percent(p)})."


def _how(knowledge: Knowledge, step: Step) -> tuple[str, str, tuple[str, ...]]:
    """Title of the test, where to look, and the instructions."""
    if step.kind is StepKind.DO:
        return "", "", tuple(line for name in (step.id, *step.together) for line in knowledge.actions[name].steps)
    if step.kind is StepKind.LAST_RESORT:
        return "", "", knowledge.base.shop.hand_over
    finding = knowledge.findings[step.id]
    if is_confirmation(step):
        return "", WITHOUT_POWER, ()
    if finding.action:
        test = knowledge.actions[finding.action]
        return test.title, "", test.steps
    return "", finding.look, ()


def _tools(knowledge: Knowledge, step: Step, person: Person) -> Iterator[ToolView]:
    each = () if step.kind is StepKind.LAST_RESORT or is_confirmation(step) else (step.id, *step.together)
    for name in dict.fromkeys(tool for item in each for tool in _needs(knowledge, step.kind, item)):
        yield ToolView(name, knowledge.base.tools[name].title, name in person.at_hand)


def _needs(knowledge: Knowledge, kind: StepKind, name: str) -> tuple[str, ...]:
    """Tools of a look or fix, and of its test."""
    item: Finding | Action = knowledge.actions[name] if kind is StepKind.DO else knowledge.findings[name]
    test = knowledge.actions[item.action].needs if isinstance(item, Finding) and item.action else ()
    return (*item.needs, *test)


def _doubts(knowledge: Knowledge, diagnosis: Diagnosis) -> Iterator[str]:
    """Answers to check again: those that cannot both be, else the one without which the others go together."""
    reported = diagnosis.inference.reported
    for pair in diagnosis.inconsistent:
        both = [f"“{answer_words(knowledge, f, reported[f])}”" for f in (pair.finding, pair.other) if f in reported]
        yield f"{' and '.join(both)} cannot both be."
    found = diagnosis.conflict
    if found is not None and not diagnosis.inconsistent:
        yield f"“{answer_words(knowledge, found.finding, found.answer)}” does not go well with your other answers."
