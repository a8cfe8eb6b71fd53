"""The dialogue at the dead machine: one step on screen, one line typed.

The session is saved after each change; when the disk refuses, the answers are held in memory and saving is tried again.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from rich.console import Console, RenderableType
from rich.text import Text

from nopost.diagnosis.advice.adviser import Step, StepKind
from nopost.diagnosis.diagnose import Diagnosis, Diagnostician
from nopost.diagnosis.firmware_offer import plan_offer
from nopost.diagnosis.history import End, EventKind, Session, observations
from nopost.diagnosis.predictions import cause_given_repair_success
from nopost.diagnosis.step_view import step_title
from nopost.errors import SessionError
from nopost.knowledge.model import UNKNOWN
from nopost_cli.again import again_command
from nopost_cli.dialogue.plan_screen import check_lines, plan_parts
from nopost_cli.dialogue.session_screens import (
    choices_of,
    event_words,
    help_page,
    keys_of,
    session_command,
    show_cause,
    show_hand_over,
    show_repaired,
    step_screen,
    why_page,
)
from nopost_cli.shared import screens
from nopost_cli.shared.prompts import Choice, Understood, understand
from nopost_cli.shared.terminal import clean


class Keeper:
    """Holds the session. `unsaved`: why it is not on disk as it stands; empty when it is."""

    def __init__(self, session: Session, save: Callable[[Session], Session]) -> None:
        self.session, self._save = session, save
        self.unsaved = ""

    def keep(self, session: Session) -> None:
        """Save; when the disk refuses, say so, hold the answers in memory, and try again with the next one."""
        try:
            self.session = self._save(session)
            self.unsaved = ""
        except SessionError as error:
            self.session = session
            self.unsaved = f"Not kept: {error}. Your answers are held here; it is tried again after the next one."

    def parted(self, *, ended: bool = False) -> str:
        """One more try if need be, and the last line: how to go on; empty when it has ended and is kept."""
        if self.unsaved:
            self.keep(replace(self.session))
        if self.unsaved:
            return f"\n{self.unsaved.partition('. Your answers')[0]}.\nTo go on from here: {again_command(self.session)}"
        return "" if ended else f"\nKept. Go on with: {session_command('resume', self.session)}"


CLEAR = 0.8
"""From this share on the mended cause is named without asking (judgement)."""
POSSIBLE = 0.1
NOT_SURE = Choice("not-sure", "Not sure")
SEVERAL = "Several lines came at once and say nothing of codes; none of them was taken."


class Dialogue:
    """One session at a terminal. `read` gets a line (EOFError, KeyboardInterrupt: the person leaves); `keep` saves.

    `waiting`: the lines that came at once with the one just read, as when several are pasted.
    """

    def __init__(
        self,
        assessor: Diagnostician,
        session: Session,
        console: Console,
        read: Callable[[], str],
        keep: Callable[[Session], Session],
        waiting: Callable[[], list[str]] = list,
    ) -> None:
        self.assessor, self.knowledge = assessor, assessor.knowledge
        self.kept, self.console = Keeper(session, keep), console
        self.read, self.waiting = read, waiting
        self.chosen: Step | None = None
        self.before: Step | None = None
        self.told: frozenset[str] = frozenset()
        self.now_told: frozenset[str] = frozenset()
        self.note = ""
        self.typed_at_page = ""
        self.ahead: list[str] = []

    def run(self) -> bool:
        """Until it ends or the person leaves; False when they left with Ctrl-C."""
        self.kept.keep(self.kept.session)
        try:
            while self._go_on():
                pass
        except (EOFError, KeyboardInterrupt) as left:
            self._part()
            return isinstance(left, EOFError)
        self._part(ended=True)
        return True

    def _go_on(self) -> bool:
        """Show the step and act on a line; False when the dialogue is over."""
        assessment = self._assess()
        step = self.chosen or assessment.advice.step
        typed, self.typed_at_page = self.typed_at_page, ""
        if not typed:
            self._show(assessment, step)
            typed = self._line()
        return self._handle(assessment, step, typed)

    def _assess(self) -> Diagnosis:
        return self.assessor.assess(observations(self.kept.session, self.knowledge), self.kept.session.person)

    # -- showing ------------------------------------------------------------------------------------------------------

    def _show(self, assessment: Diagnosis, step: Step) -> None:
        if self.console.is_terminal and not self.console.is_dumb_terminal:
            self.console.clear()
        if step != self.before:
            self.told |= self.now_told
            self.before, self.now_told = step, frozenset(screens.caution_names(self.knowledge, assessment, step))
        self.console.print(step_screen(self.console, self.assessor, self.kept.session, assessment, step, self.told))
        for text in (self.kept.unsaved, self.note):
            if text:
                self.console.print(Text(clean(text), style="bold"))
        self.note = ""

    def _page(self, *parts: RenderableType) -> None:
        """Show something beside the step and wait for Enter; what is typed instead is meant for the step."""
        self.console.print(*parts, sep="\n")
        self.console.print(Text("Enter: back to the step; an answer or a key works here too", style="dim"))
        typed = self._line()
        if self.ahead:
            self.note = SEVERAL
        else:
            self.typed_at_page = typed.strip()

    # -- understanding ------------------------------------------------------------------------------------------------

    def _line(self) -> str:
        """A line, and in `ahead` the lines behind it that came at once; Enter pressed twice is not one."""
        self.ahead = []
        typed = self.read()
        more = self.waiting()
        self.ahead = more if any(line.strip() for line in more) else []
        return typed

    def _handle(self, assessment: Diagnosis, step: Step, typed: str) -> bool:
        """Act on a line; False when the dialogue is over."""
        meant = understand(typed, choices_of(self.knowledge, step), self._keys(assessment))
        if meant.reply or self.ahead:
            self.note = self._not_understood(typed, meant.reply)
            return True
        return self._key(assessment, step, meant.key) if meant.key else self._take(assessment, step, meant.choice)

    def _keys(self, assessment: Diagnosis) -> dict[str, str]:
        return keys_of(plan_offer(self.knowledge, self.kept.session, assessment))

    def _key(self, assessment: Diagnosis, step: Step, key: str) -> bool:
        if key == "q":
            self._part()
            return False
        deeds: dict[str, Callable[[], None]] = {
            "?": lambda: self._page(help_page(self.console, self.assessor, assessment, step, self._keys(assessment))),
            "s": lambda: self._skip(step),
            "u": self._undo,
            "w": lambda: self._page(why_page(self.console, self.assessor, assessment)),
            "c": lambda: self._page(screens.all_causes(self.console, self.knowledge, assessment)),
            "o": lambda: self._other(assessment),
            "t": lambda: self._tell(assessment),
            "p": lambda: self._plan(assessment),
        }
        deeds[key]()
        return True

    def _take(self, assessment: Diagnosis, step: Step, choice: str) -> bool:
        """A choice was made for the step."""
        self.chosen = None
        if step.kind is StepKind.ASK:
            self.kept.keep(self.kept.session.add(EventKind.ANSWER, step.id, choice))
        elif step.kind is StepKind.LAST_RESORT:
            return self._end_at_shop(assessment)
        elif choice == "cannot":
            self._skip(step)
        else:
            return self._tried(assessment, step, choice)
        return True

    def _not_understood(self, typed: str, reply: str) -> str:
        """What to say to a line that is no choice: it may be codes, with more lines of them behind it.

        One bare number is never codes: it is a choice mistyped. With 0x before it, it is. Of several lines that came at once none
        is a choice: they were pasted, or typed before the step was on screen. Single digits are choices, never codes.
        """
        whole = [typed, *self.ahead]
        is_number = len(whole) == 1 and typed.strip().isdecimal()
        said = "" if is_number or all(len(line.strip()) < 2 for line in whole) else self._take_codes("\n".join(whole))
        if said:
            return said
        if self.ahead:
            return " ".join(filter(None, (SEVERAL, reply)))
        return f"{reply} If it is a code, type 0x{typed.strip()}." if is_number and 1 < len(typed.strip()) < 9 else reply

    def _take_codes(self, typed: str) -> str:
        """Codes, lamps or beeps typed or pasted at any question: what they say; empty when the line is nothing of the kind."""
        from nopost.codes.decode import decode, known_answers  # only here: it costs start-up time
        from nopost.codes.tables import TableSet
        from nopost.codes.wording import outcome_sentence

        found = decode(typed, TableSet(self.knowledge.codes, self.knowledge.base.roles))
        answers = known_answers(found, self.knowledge.findings)
        if not answers:
            return ""
        self.chosen = None
        for finding, answer in answers.items():
            self.kept.keep(self.kept.session.add(EventKind.ANSWER, finding, answer))
        return f"Read as codes. {outcome_sentence(found[0])}"

    def _tried(self, assessment: Diagnosis, step: Step, outcome: str) -> bool:
        self.kept.keep(self.kept.session.add(EventKind.TRIED, step.id, outcome))
        if outcome != "starts":
            return True
        cause = self._ask_which(cause_given_repair_success(self.knowledge, assessment, step.id))
        self.kept.keep(self.kept.session.add(EventKind.END, cause, End.STARTS))
        show_repaired(self.console, self.knowledge, cause, self.kept.session)
        return False

    def _ask_which(self, shares: tuple[tuple[str, float], ...]) -> str:
        """The cause that was mended; the person is asked when it may well have been another than the likeliest."""
        if shares[0][1] >= CLEAR:
            return shares[0][0]
        choices = [Choice(cause, self.knowledge.causes[cause].title) for cause, share in shares if share >= POSSIBLE]
        try:
            picked = self._pick(f"{self.knowledge.base.words.works}. What was it, as far as you can tell?", [*choices, NOT_SURE])
        except (EOFError, KeyboardInterrupt):
            picked = ""
        return shares[0][0] if picked in ("", NOT_SURE.id) else picked

    def _end_at_shop(self, assessment: Diagnosis) -> bool:
        end = {"cause-found": End.CAUSE_FOUND, "no-listed-cause": End.NO_LISTED_CAUSE}.get(assessment.verdict, End.SHOP)
        cause = assessment.ranking[0][0]
        self.kept.keep(self.kept.session.add(EventKind.END, "" if end is End.NO_LISTED_CAUSE else cause, end))
        if end is End.CAUSE_FOUND:
            show_cause(self.console, self.knowledge, cause)
        show_hand_over(self.console, self.knowledge, assessment, self.kept.session)
        return False

    # -- keys -----------------------------------------------------------------------------------------------------------

    def _skip(self, step: Step) -> None:
        """Can't tell, or can't do; a test that cannot be done is not offered again."""
        self.chosen = None
        if step.kind is StepKind.ASK:
            self.kept.keep(self.kept.session.add(EventKind.ANSWER, step.id, UNKNOWN))
        elif step.kind is StepKind.DO:
            self.kept.keep(self.kept.session.add(EventKind.SKIPPED, step.id, ""))
        else:
            self.note = "The shop is the last step; o shows what else there is, q leaves."

    def _undo(self) -> None:
        if self.chosen is not None:
            self.chosen = None
        elif self.kept.session.events:
            last = self.kept.session.events[-1]
            self.kept.keep(self.kept.session.undo())
            self.note = f"Taken back: {event_words(self.knowledge, last)}"
        else:
            self.note = "There is nothing to take back."

    def _other(self, assessment: Diagnosis) -> None:
        """Let the person choose another step."""
        steps = [
            s
            for s in assessment.advice.others
            if s.kind is not StepKind.LAST_RESORT or assessment.advice.step.kind is not StepKind.LAST_RESORT
        ]
        if not steps:
            self.note = "There are no other steps left."
            return
        choices = [Choice(step.id, step_title(self.knowledge, step)) for step in steps]
        picked = self._pick("Other steps, the best first", choices)
        self.chosen = next((step for step in steps if step.id == picked), None)

    def _tell(self, assessment: Diagnosis) -> None:
        """Let the person answer a question that was not asked, or change an answer."""
        self.console.print("What is it about? Type a word, such as memory or beep:")
        word = " ".join(self._line().split()).casefold()
        if self.ahead:
            self.note = SEVERAL
            return
        findings = [f for f in self.knowledge.findings.values() if f.question]
        found = [f for f in findings if word and word in f"{f.id} {f.title} {f.question}".casefold()]
        if not found:
            self.note = f"No question is about {word[:40]!r}."
            return
        picked = self._pick("Questions", [Choice(f.id, f.question) for f in found])
        if picked:
            self.chosen = Step(StepKind.ASK, picked, 0.0, assessment.advice.expected_cost_of_repair_now)

    def _plan(self, assessment: Diagnosis) -> None:
        """The whole firmware plan."""
        offer = plan_offer(self.knowledge, self.kept.session, assessment)
        if offer is not None and offer.plan is not None:
            parts = self.kept.session.records
            checks = list(check_lines(offer.plan, parts["board"], parts["cpu"], parts.get("kb", "")))
            self._page(*plan_parts(self.console, self.knowledge, offer.plan, self.kept.session.currency, checks))

    def _pick(self, title: str, choices: list[Choice]) -> str:
        """The id of the choice that the person picks; empty when none."""
        self.console.print(screens.heading(self.console, title), screens.numbered([c.text for c in choices]), sep="\n")
        self.console.print(Text("A number, or Enter to go back", style="dim"))
        typed = self._line()
        meant = Understood(reply=SEVERAL) if self.ahead else understand(typed, choices, {}) if typed.strip() else Understood()
        self.note = meant.reply
        return meant.choice

    def _part(self, *, ended: bool = False) -> None:
        if last := self.kept.parted(ended=ended):
            self.console.print(Text(clean(last)), soft_wrap=True)
