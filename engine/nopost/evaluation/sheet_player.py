"""The dialogue played against answer sheets, as a face would lead it, and what it takes: the measure that the knowledge cannot
flatter, for it compares with machines and not with its own numbers.

Each question is answered from the sheet; a fix that the sheet says mends ends it, any other leaves everything as it was; when
the advice is to hand over, or after MOST_MOVES answers and fixes, it goes to the workshop.

Steps are paid by the fixed list of `price_list`. What stands in no row costs what the knowledge says.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from nopost.diagnosis.advice.adviser import Step, StepKind
from nopost.diagnosis.diagnose import Diagnosis, Diagnostician
from nopost.diagnosis.history import Event, EventKind, History, Parts
from nopost.diagnosis.inventory import parts_of_answers
from nopost.evaluation.answer_sheets import AnswerSheet, sound_answers
from nopost.evaluation.areas import area_place_of
from nopost.evaluation.calibration import place_of
from nopost.evaluation.price_list import HAND_OVER, PriceList
from nopost.evaluation.simulation import run_machines
from nopost.knowledge.model import UNKNOWN, Knowledge

MOST_MOVES = 60
"""Answers and fixes after which the machine goes to the workshop."""


@dataclass(frozen=True, slots=True)
class Screen:
    """What was done on one screen: the findings that it asked about, or the fix (`is_fix`), each with what came of it."""

    is_fix: bool
    items: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class PlayedMachine:
    """What came of one machine. `causes`: any is right; `cause_place`, `area_place`: place of the best-placed right cause and of
    its area at the end, from 1, 0 when the knowledge has none of them; `leading`: cause at place 1 and `confidence` in it; `cost`
    in money."""

    case: str
    causes: tuple[str, ...]
    mended: bool
    moves: int
    wrong_fixes: int
    wrong_purchases: int
    cost: float
    cause_place: int
    area_place: int
    leading: str
    confidence: float
    path: tuple[Screen, ...]

    @property
    def screens(self) -> int:
        """Questions of one round stand on one screen."""
        return len(self.path)

    @property
    def badness(self) -> tuple[bool, float, int, str]:
        """Sorts the worst machine first: not mended, then the right cause far down, then many wrong fixes."""
        return self.mended, -(self.cause_place or math.inf), -self.wrong_fixes, self.case


@dataclass
class _Game:
    """One machine while it is played."""

    history: History
    moves: int = 0
    cost: float = 0.0
    path: list[Screen] = field(default_factory=list)
    vain: list[str] = field(default_factory=list)

    def note(self, kind: EventKind, items: Sequence[tuple[str, str]]) -> None:
        """One screen more, with an event for each thing on it."""
        for name, came in items:
            self.history = self.history.with_event(Event(kind, name, came))
        self.moves += len(items)
        self.path.append(Screen(kind is EventKind.TRIED, tuple(items)))


class SheetPlayer:
    """A compiled knowledge base that plays against answer sheets. `prices`: None for the knowledge's own costs."""

    def __init__(self, knowledge: Knowledge, prices: PriceList | None, sound: Mapping[str, str] | None = None) -> None:
        self.knowledge, self.prices = knowledge, prices
        self.diagnostician = Diagnostician(knowledge)
        self.sound = sound_answers(knowledge) if sound is None else sound
        """What is answered where a sheet is silent."""

    def play(self, sheet: AnswerSheet) -> PlayedMachine:
        """The dialogue against one sheet, to its end."""
        game = _Game(self._opening(sheet))
        while True:
            found = self.diagnostician.diagnose(game.history)
            step = found.advice.step
            if step.kind is StepKind.LAST_RESORT or game.moves >= MOST_MOVES:
                game.cost += self._price(HAND_OVER, self._last_resort_cost(step))
                return self._ended(sheet, game, found, mended=False)
            if step.kind is StepKind.ASK:
                asked = (step.id, *step.together)
                game.cost += sum(self._price(name, step.cost / len(asked)) for name in asked)
                game.note(step.look, [(name, self.answer(sheet, name)) for name in asked])
                continue
            done = (step.id, *step.together)
            game.cost += sum(self._price(name, step.cost / len(done)) for name in done)
            mended = not sheet.mends.isdisjoint(done)
            game.note(EventKind.TRIED, [(name, "starts" if name in sheet.mends else "same") for name in done])
            game.vain += [name for name in done if name not in sheet.mends]
            if mended:
                return self._ended(sheet, game, found, mended=True)

    def answer(self, sheet: AnswerSheet, finding: str) -> str:
        """What the owner of this machine answers."""
        said = sheet.answers.get(finding, self.sound.get(finding, UNKNOWN))
        return said if said in self.knowledge.findings[finding].possible_answers else UNKNOWN

    def _opening(self, sheet: AnswerSheet) -> History:
        """What is told before the first question: what is there, as far as the sheet's answers say it, `absent` ones too."""
        return History(Parts(there=parts_of_answers(self.knowledge, sheet.answers)))

    def _price(self, name: str, own: float) -> float:
        return self.prices.prices.get(name, own) if self.prices else own

    def _last_resort_cost(self, step: Step) -> float:
        """What handing over costs by the knowledge, also when only the moves ran out."""
        base = self.knowledge.base
        return step.cost if step.kind is StepKind.LAST_RESORT else base.shop.effort.cost(base.minute_rate)

    def _is_purchase(self, fix: str) -> bool:
        """By the price list; without one, whatever takes money."""
        return fix in self.prices.purchases if self.prices else self.knowledge.actions[fix].effort.money > 0

    def _ended(self, sheet: AnswerSheet, game: _Game, found: Diagnosis, *, mended: bool) -> PlayedMachine:
        """`found`: what was believed before the last step."""
        leading, confidence = found.ranking[0]
        return PlayedMachine(
            case=sheet.case,
            causes=sheet.causes,
            mended=mended,
            moves=game.moves,
            wrong_fixes=len(game.vain),
            wrong_purchases=sum(map(self._is_purchase, game.vain)),
            cost=game.cost,
            cause_place=place_of(found.ranking, sheet.causes),
            area_place=area_place_of(self.knowledge, found.ranking, sheet.causes),
            leading=leading,
            confidence=confidence,
            path=tuple(game.path),
        )


def play_sheets(
    knowledge: Knowledge,
    sheets: Sequence[AnswerSheet],
    prices: PriceList | None,
    sound: Mapping[str, str] | None = None,
    workers: int | None = None,
    progress: Callable[[int], None] = lambda machines: None,
) -> list[PlayedMachine]:
    """All sheets, in their order. `sound`: finding -> answer where a sheet is silent, None as `sound_answers` says; `workers`:
    processes, None for all cores; `progress` is told how many machines are newly done. Raises NopostError."""
    return run_machines(_prepare, (knowledge, tuple(sheets), prices, sound), _play, len(sheets), workers, progress)


_Prepared = tuple[SheetPlayer, tuple[AnswerSheet, ...]]


def _prepare(
    knowledge: Knowledge, sheets: tuple[AnswerSheet, ...], prices: PriceList | None, sound: Mapping[str, str] | None
) -> _Prepared:
    return SheetPlayer(knowledge, prices, sound), sheets


def _play(prepared: _Prepared, machines: range) -> list[PlayedMachine]:
    player, sheets = prepared
    return [player.play(sheets[number]) for number in machines]


@dataclass(frozen=True, slots=True)
class Average:
    """Over all machines."""

    median: float
    mean: float


@dataclass(frozen=True, slots=True)
class TrialSummary:
    """What all machines come to. Shares from 0 to 1: `mended`, `mended_or_found` (mended, or handed over with the right cause
    first), `cause_first` and `area_first` at the end. `averages`: of the numbers in AVERAGED, by name."""

    machines: int
    mended: float
    mended_or_found: float
    cause_first: float
    area_first: float
    averages: Mapping[str, Average]


AVERAGED = ("moves", "screens", "wrong_fixes", "wrong_purchases", "cost")


def summarise(played: Sequence[PlayedMachine]) -> TrialSummary:
    """The summary of at least one machine."""

    def share(holds: Callable[[PlayedMachine], bool]) -> float:
        return sum(map(holds, played)) / len(played)

    def average(name: str) -> Average:
        numbers = [float(getattr(machine, name)) for machine in played]
        return Average(statistics.median(numbers), statistics.mean(numbers))

    return TrialSummary(
        machines=len(played),
        mended=share(lambda m: m.mended),
        mended_or_found=share(lambda m: m.mended or m.cause_place == 1),
        cause_first=share(lambda m: m.cause_place == 1),
        area_first=share(lambda m: m.area_place == 1),
        averages={name: average(name) for name in AVERAGED},
    )
