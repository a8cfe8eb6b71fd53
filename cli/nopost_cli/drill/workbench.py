"""The apprentice at the simulated machine: find a look or a piece of work by a word, do it, see what comes of it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rich.console import Console
from rich.text import Text

from nopost import text
from nopost.diagnosis.advice.adviser import StepKind
from nopost.diagnosis.belief.evidence import UNINFORMATIVE_ANSWERS
from nopost.diagnosis.cautions import step_hazards
from nopost.diagnosis.history import minute_rate
from nopost.knowledge.model import UNKNOWN, Action, Finding
from nopost.training.exercise import STARTS, Attempt, Exercise, reason_against
from nopost_cli.shared import screens
from nopost_cli.shared.terminal import clean

KEYS = {
    "?": "help",
    "k": "what is known",
    "p": "all looks and work, by part",
    "h": "a hint",
    "x": "give it to the shop",
    "q": "leave",
}
HELP = (
    "Type a word of what you want to look at or work on, such as {part}; then the number of one of the lines.",
    "Every step costs its effort: time, and money for what is used up. Asking the owner again costs nothing.",
    "Once {works}, or you give it to the shop, you name the cause; then your way stands beside the advice's.",
    "A real machine hurts and breaks. Read the cautions before each step as you would on the bench.",
)
RESULTS = {
    "starts": "{0.works}.",
    "same": "Nothing has changed; {0.it_fails}.",
    "changed": "{0.fails}, but something is different now.",
}
"""What came of work; a place for the base's words."""
MOST_LINES = 25


@dataclass(frozen=True, slots=True)
class BenchStep:
    """A step that can be chosen."""

    kind: StepKind
    item: Finding | Action

    @property
    def title(self) -> str:
        """What it is called on screen."""
        return self.item.question or self.item.title if isinstance(self.item, Finding) else self.item.title

    def fits(self, word: str) -> bool:
        """Whether it is about this word."""
        return word in f"{self.item.id} {self.item.title} {self.title}".casefold()


class Workbench:
    """One exercise at a terminal. `attempt` is what was done; `named` the cause that the apprentice named."""

    def __init__(self, console: Console, exercise: Exercise) -> None:
        self.console, self.exercise = console, exercise
        self.attempt: Attempt = exercise.attempt
        self.knowledge = self.attempt.knowledge
        self.named = ""
        self.listed: list[BenchStep] = []

    def work(self) -> bool:
        """Until it ends; False when the apprentice leaves before."""
        self._say(screens.heading(self.console, f"{self.knowledge.base.words.machine} comes in"))
        self._known()
        self._say(Text(self._helps()[0]))
        try:
            while not self.attempt.ended:
                if not self._act(self._read()):
                    return False
            self._name()
        except (EOFError, KeyboardInterrupt):
            return False
        return True

    # -- understanding ------------------------------------------------------------------------------------------------

    def _read(self) -> str:
        spent = text.minutes(self.attempt.spent / minute_rate(self.knowledge, self.attempt.person))
        keys = screens.packed([f"{key} {meaning}" for key, meaning in KEYS.items()], self.console.width)
        self._say(
            Text(), keys, Text(f"Step {len(self.attempt.taken) + 1}. Spent so far: {spent} of work or its worth.", style="bold")
        )
        return " ".join(input("> ").split()).casefold()

    def _act(self, typed: str) -> bool:
        """Do what was typed; False to leave."""
        if typed == "q":
            return False
        deeds = {"?": self._help, "k": self._known, "p": self._parts, "h": self._hint, "x": self._shop}
        if typed in deeds:
            deeds[typed]()
        elif typed.isdecimal():
            self._choose(typed)
        elif typed:
            self._list([offer for offer in self._offers() if offer.fits(typed) or self._of_part(offer, typed)], typed)
        else:
            self._say(Text("Type a word, a number of the list, or ? for help."))
        return True

    def _of_part(self, offer: BenchStep, word: str) -> bool:
        return word in self.knowledge.base.parts.get(offer.item.part, "").casefold()

    def _choose(self, typed: str) -> None:
        number = int(typed) if len(typed) < 6 else 0
        if not 1 <= number <= len(self.listed):
            count = len(self.listed)
            self._say(
                Text(f"There is no number {typed[:20]}; type a word first." if not count else f"It goes from 1 to {count}.")
            )
            return
        self._do(self.listed[number - 1])

    def _offers(self) -> Iterator[BenchStep]:
        """Everything that can be looked at or worked on."""
        yield from (BenchStep(StepKind.ASK, f) for f in self.knowledge.findings.values() if f.question)
        yield from (BenchStep(StepKind.DO, a) for a in self.knowledge.actions.values() if a.kind == "fix")

    def _list(self, offers: list[BenchStep], word: str) -> None:
        if not offers:
            self._say(Text(clean(f"Nothing here is about {word[:40]!r}; p shows everything.")))
            return
        if len(offers) > MOST_LINES:
            self._say(Text(f"{len(offers)} lines are about that; the first {MOST_LINES} are shown. A longer word finds fewer."))
        self.listed = offers[:MOST_LINES]
        self._say(screens.numbered([self._line(offer) for offer in self.listed]))

    def _line(self, offer: BenchStep) -> str:
        took = self.attempt.price(offer.kind, offer.item.id) / minute_rate(self.knowledge, self.attempt.person)
        done = " (done)" if any(step.id == offer.item.id for step in self.attempt.taken) else ""
        return f"{'Look' if offer.kind is StepKind.ASK else 'Do  '}  {offer.title} [{text.minutes(took)}]{done}"

    def _parts(self) -> None:
        """All of it by part, numbered through."""
        offers = sorted(self._offers(), key=lambda offer: list(self.knowledge.base.parts).index(offer.item.part))
        self.listed = offers
        start = 1
        for part, title in self.knowledge.base.parts.items():
            lines = [self._line(offer) for offer in offers if offer.item.part == part]
            if lines:
                self._say(Text(clean(title), style="bold"), screens.numbered(lines, start))
            start += len(lines)

    # -- doing ----------------------------------------------------------------------------------------------------------

    def _do(self, offer: BenchStep) -> None:
        """Cautions, then the step, then what comes of it. What goes against a rule or a stop is done only when confirmed."""
        name = offer.item.id
        self._say(screens.heading(self.console, offer.title))
        against = self.attempt.against(offer.kind, name)
        if against:
            self._say(Text(clean(f"STOP: {reason_against(self.knowledge, against)}"), style="bold yellow"))
            if input("Do it all the same? Type yes: ").strip().casefold() != "yes":
                self._say(Text("It was left undone."))
                return
        hazards = step_hazards(self.knowledge, offer.kind, name)
        self._say(*(screens.caution(self.knowledge.hazards[hazard], stops=False) for hazard in hazards))
        self.attempt = self.attempt.take(offer.kind, name)
        result = self.attempt.taken[-1].result
        text = self._result(result) if offer.kind is StepKind.DO else self._answer(name, result)
        self._say(Text(clean(f"→ {text}"), style="bold"))

    def _answer(self, finding: str, answer: str) -> str:
        if answer == UNKNOWN:
            return "There is nothing to see of that on this machine as it is."
        return self.knowledge.findings[finding].answer_text(answer)

    def _result(self, result: str) -> str:
        return RESULTS[result].format(self.knowledge.base.words)

    def _hint(self) -> None:
        """What the advice would do; it counts in the score."""
        step = self.attempt.diagnosis().advice.step
        self.attempt = self.attempt.hinted()
        if step.kind is StepKind.LAST_RESORT:
            self._say(Text("Nothing that is left is worth its effort: the shop."))
            return
        item = self.knowledge.findings[step.id] if step.kind is StepKind.ASK else self.knowledge.actions[step.id]
        self._list([BenchStep(step.kind, item)], step.id)

    def _shop(self) -> None:
        if input("Give it to the shop and name the cause? Type yes: ").strip().casefold() == "yes":
            self.attempt = self.attempt.take(StepKind.LAST_RESORT, "shop")

    def _name(self) -> None:
        """The apprentice names the cause by a word and a number."""
        if self.attempt.ended == STARTS:
            self._say(Text(clean(f"{self.knowledge.base.words.works}. What was it?"), style="bold"))
        found = list(self.knowledge.causes.values())
        while True:
            self._say(Text("The cause: a word, then a number (Enter: I do not know, q: leave)"))
            typed = " ".join(input("> ").split()).casefold()
            if typed == "q":
                raise EOFError
            if not typed:
                return
            if typed.isdecimal() and len(typed) < 6 and 1 <= int(typed) <= len(found):
                self.named = found[int(typed) - 1].id
                return
            near = [c for c in self.knowledge.causes.values() if typed in f"{c.id} {c.title}".casefold()]
            found = near or found
            self._say(screens.numbered([cause.title for cause in found]) if near else Text("No cause is about that."))

    # -- showing --------------------------------------------------------------------------------------------------------

    def _help(self) -> None:
        self._say(screens.ordered(self._helps()))

    def _helps(self) -> list[str]:
        part = next(iter(self.knowledge.base.parts.values()))
        return [text.format(part=clean(part), works=self.knowledge.base.words.it_works) for text in HELP]

    def _known(self) -> None:
        """What the owner said and what was seen and done since."""
        told = [f"{self._title(f)}: {self._answer(f, a)}" for f, a in self.attempt.told if a not in UNINFORMATIVE_ANSWERS]
        self._say(Text("The owner says", style="bold"), screens.numbered(told, mark="-"))
        done = []
        for step in self.attempt.taken:
            result = self._result(step.result) if step.kind is StepKind.DO else self._answer(step.id, step.result)
            done.append(f"{self._title(step.id)}: {result}")
        if done:
            self._say(Text("Since then", style="bold"), screens.numbered(done))

    def _title(self, name: str) -> str:
        return (self.knowledge.findings.get(name) or self.knowledge.actions[name]).title

    def _say(self, *parts: object) -> None:
        for part in parts:
            self.console.print(part)
