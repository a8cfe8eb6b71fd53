"""The dialogue at the dead machine: one step on screen, one line typed.

The session is saved after each change; when the disk refuses, the answers are held in memory and saving is tried again.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import reduce

from rich.console import Console, RenderableType
from rich.text import Text

from nopost.diagnosis.advice.adviser import Step, StepKind
from nopost.diagnosis.diagnose import Diagnosis, Diagnostician
from nopost.diagnosis.end_view import RepairedCauses, hand_over_end, repaired_causes
from nopost.diagnosis.history import LONGEST_TEXT, End, EventKind, History, Parts
from nopost.diagnosis.history_words import event_words
from nopost.diagnosis.inventory import person_here
from nopost.diagnosis.replay import code_answers
from nopost.diagnosis.step_view import StepView, step_view
from nopost.errors import SessionError
from nopost.knowledge.model import UNKNOWN
from nopost.store.sessions import Session
from nopost_cli.dialogue.end_screens import again_command, session_command, show_cause, show_hand_over, show_repaired
from nopost_cli.dialogue.inventory_screen import TOOLS, inventory_screen, read_inventory, read_tools, tools_screen
from nopost_cli.dialogue.step_screen import causes_page, check_lines, help_page, keys_of, plan_parts, step_screen, why_page
from nopost_cli.shared import screens
from nopost_cli.shared.lettered import read_lettered
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
            again = again_command(self.session.history, self.session.kb, self.session.currency)
            return f"\n{self.unsaved.partition('. Your answers')[0]}.\nTo go on from here: {again}"
        return "" if ended else f"\nKept. Go on with: {session_command('resume', self.session)}"


NOT_SURE = Choice("not-sure", "Not sure")
LEAVE_OPEN = "A number, or Enter to leave it open"
SEVERAL = "Several lines came at once and say nothing of codes; none of them was taken."


class Dialogue:
    """One session at a terminal. `read` gets a line (EOFError, KeyboardInterrupt: the person leaves); `keep` saves.

    `waiting`: the lines that came at once with the one just read, as when several are pasted. `ask_there`: ask what is there
    before the first step.
    """

    def __init__(
        self,
        diagnostician: Diagnostician,
        session: Session,
        console: Console,
        read: Callable[[], str],
        keep: Callable[[Session], Session],
        waiting: Callable[[], list[str]] = list,
        *,
        ask_there: bool = False,
    ) -> None:
        self.diagnostician, self.knowledge = diagnostician, diagnostician.knowledge
        self.kept, self.console = Keeper(session, keep), console
        self.read, self.waiting = read, waiting
        self.chosen: Step | None = None
        self.shown: StepView | None = None
        self.told: frozenset[str] = frozenset()
        self.note = ""
        self.typed_at_page = ""
        self.ahead: list[str] = []
        self.ask_there = ask_there and bool(self.knowledge.base.inventory)

    def run(self) -> bool:
        """Until it ends or the person leaves; False when they left with Ctrl-C."""
        self.kept.keep(self.kept.session)
        try:
            if self.ask_there:
                self._there()
            while self._go_on():
                pass
        except (EOFError, KeyboardInterrupt) as left:
            self._part()
            return isinstance(left, EOFError)
        self._part(ended=True)
        return True

    def _go_on(self) -> bool:
        """Show the step and act on a line; False when the dialogue is over."""
        diagnosis = self.diagnostician.diagnose(self.history)
        view = self._view(diagnosis)
        typed, self.typed_at_page = self.typed_at_page, ""
        if not typed:
            self._show(view)
            typed = self._line()
        return self._handle(diagnosis, view, typed)

    @property
    def history(self) -> History:
        """All that is known."""
        return self.kept.session.history

    def _view(self, diagnosis: Diagnosis) -> StepView:
        """The view of the step; cautions of steps that were on screen before are told."""
        step, before = self.chosen or diagnosis.advice.step, self.shown
        if before is not None and before.step != step:
            self.told |= before.told
        return step_view(self.diagnostician, self.history, diagnosis, step, told=self.told, kb=self.kept.session.kb)

    def _add(self, kind: EventKind, item: str = "", value: str = "", text: str = "") -> None:
        self.kept.keep(self.kept.session.add(kind, item, value, text))

    # -- showing ------------------------------------------------------------------------------------------------------

    def _show(self, view: StepView) -> None:
        self.shown = view
        self._print_page(step_screen(self.console, self.kept.session.name, view, self.kept.session.currency))

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

    def _handle(self, diagnosis: Diagnosis, view: StepView, typed: str) -> bool:
        """Act on a line; False when the dialogue is over."""
        if view.looks and not self.ahead and self._take_round(view, typed):
            return True
        choices = [] if view.looks else [Choice(choice.id, choice.text) for choice in view.choices]
        meant = understand(typed, choices, keys_of(view))
        if meant.reply or self.ahead:
            self.note = self._not_understood(typed, meant.reply)
            return True
        return self._key(diagnosis, view, meant.key) if meant.key else self._take(diagnosis, view, meant.choice)

    def _key(self, diagnosis: Diagnosis, view: StepView, key: str) -> bool:
        if key == "q":
            self._part()
            return False
        deeds: dict[str, Callable[[], None]] = {
            "?": lambda: self._page(help_page(self.console, self.knowledge, view)),
            "s": lambda: self._skip(view.step),
            "u": self._undo,
            "w": lambda: self._page(why_page(self.console, self.diagnostician, diagnosis)),
            "c": lambda: self._page(causes_page(self.console, self.knowledge, diagnosis, view)),
            "o": lambda: self._other(diagnosis, view),
            "t": lambda: self._tell(diagnosis),
            "m": self._there,
            "p": lambda: self._plan(view),
        }
        deeds[key]()
        return True

    def _take_round(self, view: StepView, typed: str) -> bool:
        """Answers to looks of a round, in any order, each or none; False when the line is none."""
        line = read_lettered(typed, [(look.id, [choice.id for choice in look.choices]) for look in view.looks])
        if line.reply:
            self.note = line.reply
        for finding, answer in line.told.items():
            self.chosen = None
            self._add(EventKind.ANSWER, finding, answer or UNKNOWN)
        return not line.other

    def _take(self, diagnosis: Diagnosis, view: StepView, choice: str) -> bool:
        """A choice was made for the step; False when the dialogue is over."""
        self.chosen = None
        if view.step.kind is StepKind.ASK:
            self._add(view.step.look, view.step.id, choice)
        elif view.step.kind is StepKind.LAST_RESORT:
            return self._hand_over(diagnosis, view)
        elif choice == "cannot":
            self._skip(view.step)
        else:
            return self._tried(diagnosis, view.step, choice)
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
        """Codes, lamps or beeps typed or pasted at any question: what they say; empty when the line is nothing of the kind.

        They are one event, kept as they came, so that undo takes them back together.
        """
        if not code_answers(self.knowledge, typed):
            return ""
        if len(typed) > LONGEST_TEXT:
            return (
                f"So long a log is not kept with a session ({LONGEST_TEXT} characters at most); read it with: nopost decode FILE"
            )
        from nopost.codes.decode import decode  # only here: it costs start-up time
        from nopost.codes.tables import TableSet
        from nopost.codes.wording import outcome_sentence

        self.chosen = None
        self._add(EventKind.CODES, text=typed)
        return f"Read as codes. {outcome_sentence(decode(typed, TableSet(self.knowledge.codes, self.knowledge.base.roles))[0])}"

    def _tried(self, diagnosis: Diagnosis, step: Step, outcome: str) -> bool:
        """Something came of a fix; False when the machine starts."""
        fixes = (step.id, *step.together)
        for fix in fixes:
            self._add(EventKind.TRIED, fix, outcome)
        if outcome != "starts":
            return True
        found = repaired_causes(self.knowledge, diagnosis, fixes)
        cause = self._ask_cause(found)
        self._add(EventKind.END, cause, End.STARTS)
        show_repaired(self.console, self.knowledge, self.kept.session, cause, found.possible)
        return False

    def _ask_cause(self, found: RepairedCauses) -> str:
        """The cause that was mended; the person is asked when it may well have been another than the likeliest. "" when they
        cannot tell, too: Enter decides nothing."""
        if not found.possible:
            return found.likeliest
        choices = [Choice(cause, self.knowledge.causes[cause].title) for cause in found.possible]
        try:
            title = f"{self.knowledge.base.words.works}. What was it, as far as you can tell?"
            picked = self._pick(title, [*choices, NOT_SURE], LEAVE_OPEN)
        except (EOFError, KeyboardInterrupt):
            picked = ""
        return "" if picked == NOT_SURE.id else picked

    def _hand_over(self, diagnosis: Diagnosis, view: StepView) -> bool:
        """It goes to the last resort: the dialogue is over."""
        end, cause = hand_over_end(diagnosis)
        self._add(EventKind.END, cause, end)
        if end is End.CAUSE_FOUND:
            show_cause(self.console, self.knowledge, cause)
        show_hand_over(self.console, self.knowledge, diagnosis, view, self.kept.session)
        return False

    # -- keys -----------------------------------------------------------------------------------------------------------

    def _skip(self, step: Step) -> None:
        """Can't tell, or can't do; a test that cannot be done is not offered again."""
        self.chosen = None
        if step.kind is not StepKind.LAST_RESORT:
            for name in (step.id, *step.together):
                asked = step.kind is StepKind.ASK
                self._add(*((step.look, name, UNKNOWN) if asked else (EventKind.SKIPPED, name)))
        else:
            self.note = "The shop is the last step; o shows what else there is, q leaves."

    def _undo(self) -> None:
        if self.chosen is not None:
            self.chosen = None
        elif self.history.events:
            last = self.history.events[-1]
            self.kept.keep(self.kept.session.with_history(self.history.undo()))
            self.note = f"Taken back: {event_words(self.knowledge, last)}"
        else:
            self.note = "There is nothing to take back."

    def _other(self, diagnosis: Diagnosis, view: StepView) -> None:
        """Let the person choose another step."""
        at_the_end = diagnosis.advice.step.kind is StepKind.LAST_RESORT
        others = [(step, title) for step, title in view.others if not (at_the_end and step.kind is StepKind.LAST_RESORT)]
        if not others:
            self.note = "There are no other steps left."
            return
        picked = self._pick("Other steps, the best first", [Choice(step.id, title) for step, title in others])
        self.chosen = next((step for step, _ in others if step.id == picked), None)

    def _tell(self, diagnosis: Diagnosis) -> None:
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
            person = person_here(self.knowledge, self.history.parts, diagnosis.seen.facts)
            self.chosen = self.diagnostician.step_for(diagnosis, StepKind.ASK, picked, person)

    def _there(self) -> None:
        """What is there, on one screen: it stays until Enter, or until something is typed that is meant for the step."""
        tools = self.knowledge.base.tools
        while True:
            view = self._view(self.diagnostician.diagnose(self.history))
            at_hand = self.history.parts.at_hand
            self._print_page(inventory_screen(self.console, view.inventory, tools, at_hand))
            typed = self._line()
            if self.ahead:
                self.note = SEVERAL
            elif not typed.strip():
                return
            elif typed.strip().casefold() == TOOLS and tools:
                self._tools()
            else:
                told = read_inventory(typed, view.inventory)
                if told.other:
                    self.typed_at_page = typed.strip()
                    return
                self.note = told.reply
                self._tell_parts(reduce(lambda parts, each: parts.tell(*each), told.told.items(), self.history.parts))

    def _tools(self) -> None:
        """The tools and spares at hand."""
        tools, at_hand = self.knowledge.base.tools, self.history.parts.at_hand
        self._print_page(tools_screen(self.console, tools, at_hand))
        have, self.note = read_tools(self._line(), tools, at_hand)
        self._tell_parts(replace(self.history.parts, at_hand=have))

    def _tell_parts(self, parts: Parts) -> None:
        """Keep what was told of the parts."""
        if parts != self.history.parts:
            self.kept.keep(self.kept.session.with_history(replace(self.history, parts=parts)))

    def _print_page(self, page: RenderableType) -> None:
        """A page of its own, with the note under it."""
        if self.console.is_terminal and not self.console.is_dumb_terminal:
            self.console.clear()
        self.console.print(page)
        for text in (self.kept.unsaved, self.note):
            if text:
                self.console.print(Text(clean(text), style="bold"))
        self.note = ""

    def _plan(self, view: StepView) -> None:
        """The whole firmware plan."""
        if view.offer is None or view.offer.plan is None:
            return
        plan, session = view.offer.plan, self.kept.session
        checks = list(check_lines(plan, session.history.parts.board, session.history.parts.cpu, session.kb))
        self._page(*plan_parts(self.console, self.knowledge, plan, session.currency, checks))

    def _pick(self, title: str, choices: list[Choice], hint: str = "A number, or Enter to go back") -> str:
        """The id of the choice that the person picks; empty when none."""
        self.console.print(screens.heading(self.console, title), screens.numbered([c.text for c in choices]), sep="\n")
        self.console.print(Text(hint, style="dim"))
        typed = self._line()
        meant = Understood(reply=SEVERAL) if self.ahead else understand(typed, choices, {}) if typed.strip() else Understood()
        self.note = meant.reply
        return meant.choice

    def _part(self, *, ended: bool = False) -> None:
        if last := self.kept.parted(ended=ended):
            self.console.print(Text(clean(last)), soft_wrap=True)
