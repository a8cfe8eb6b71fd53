"""An apprentice's progress: the scores on disk, and when each cause is to be practised again.

One JSON file for each apprentice, written whole after every exercise. When a cause is due is the rule SM-2 (Wozniak 1990,
"Optimization of learning"), replayed over all attempts.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from nopost.errors import ScoreError
from nopost.files import locked, user_dir, write_atomically
from nopost.knowledge.schema import validator
from nopost.training.exercise import Attempt, Debrief, Exercise

FIRST_EASE = 2.5
LEAST_EASE = 1.3
PASSING_QUALITY = 3
"""From this quality on an attempt counts as passed."""
FIRST_DAYS = (1, 6)


@dataclass(frozen=True, slots=True)
class PracticeCard:
    """What is known of one cause: passed attempts in a row, ease, the present interval in days, and when it is due."""

    row: int = 0
    ease: float = FIRST_EASE
    days: int = 0
    due: date = date.min
    attempts: int = 0

    def after(self, quality: int, day: date) -> PracticeCard:
        """The card after an attempt of quality 0 to 5. A failed one begins anew with the ease unchanged."""
        if quality < PASSING_QUALITY:
            return PracticeCard(0, self.ease, FIRST_DAYS[0], day + timedelta(days=FIRST_DAYS[0]), self.attempts + 1)
        ease = max(LEAST_EASE, self.ease + 0.1 - (5 - quality) * (0.08 + (5 - quality) * 0.02))
        days = FIRST_DAYS[self.row] if self.row < len(FIRST_DAYS) else -(-self.days * ease // 1)
        return PracticeCard(self.row + 1, ease, int(days), day + timedelta(days=int(days)), self.attempts + 1)


def cards_from_attempts(attempts: Iterable[tuple[date, str, int]]) -> dict[str, PracticeCard]:
    """Cause -> card, from (day, cause, quality) in the order in which it happened."""
    found: dict[str, PracticeCard] = {}
    for day, cause, quality in attempts:
        found[cause] = found.get(cause, PracticeCard()).after(quality, day)
    return found


def due_causes(found: dict[str, PracticeCard], day: date) -> list[str]:
    """Causes due on a day: the most overdue first, then the hardest."""
    late = [(card.due, card.ease, cause) for cause, card in found.items() if card.due <= day]
    return [cause for _, _, cause in sorted(late)]


NAME_SYMBOLS = "._-"
LONGEST_NAME = 40
NO_SEED = -1
MAX_BYTES = 16 * 1024 * 1024


@dataclass(frozen=True, slots=True)
class Score:
    """One exercise done, as it is kept."""

    day: str
    seed: int
    level: str
    causes: tuple[str, ...]
    named: str
    ended: str
    steps: int
    spent: float
    model_spent: float
    slips: int
    hints: int
    quality: int


def score_of(exercise: Exercise, done: Attempt, said: Debrief, named: str, day: date) -> Score:
    """What is kept of an attempt that ended."""
    return Score(
        day=day.isoformat(),
        seed=NO_SEED if exercise.seed is None else exercise.seed,
        level=exercise.level,
        causes=exercise.causes,
        named=named,
        ended=done.ended,
        steps=len(done.taken),
        spent=round(said.spent, 2),
        model_spent=round(said.model_spent, 2),
        slips=said.slips,
        hints=done.hints,
        quality=said.quality,
    )


def scores_dir() -> Path:
    """Folder of the score files."""
    return user_dir() / "drill"


def score_path(name: str) -> Path:
    """File of an apprentice. Raises ScoreError for a name that is no file name."""
    plain = name.replace(" ", "")
    if not (plain and len(name) <= LONGEST_NAME and name[0].isalnum() and all(c.isalnum() or c in NAME_SYMBOLS for c in plain)):
        raise ScoreError(f"{name!r} cannot be a name here: use letters, digits, dots, hyphens, at most {LONGEST_NAME}")
    return scores_dir() / f"{name}.json"


def apprentices() -> list[str]:
    """Everyone whose scores are kept."""
    folder = scores_dir()
    return sorted(path.stem for path in folder.glob("*.json") if path.is_file()) if folder.is_dir() else []


def load_scores(name: str) -> tuple[Score, ...]:
    """The scores of an apprentice; none when there is no file yet. Raises ScoreError."""
    path = score_path(name)
    if not path.exists():
        return ()
    attempts = _read(path)["attempts"]
    return tuple(Score(**{**attempt, "causes": tuple(attempt["causes"])}) for attempt in attempts)


def add_score(name: str, score: Score) -> None:
    """Keep one more. Raises ScoreError; then what was kept before still stands."""
    path = score_path(name)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with locked(path.parent):  # another exercise may end at the same moment
            attempts = [asdict(each) for each in (*load_scores(name), score)]
            data = {"format": "nopost-drill", "version": 1, "name": name, "attempts": attempts}
            write_atomically(path, json.dumps(data, indent=1).encode() + b"\n", alone=True)
    except OSError as error:
        raise ScoreError(f"{path}: cannot be written: {error.strerror}; what was kept before still stands") from None


def cards_of(scores: Sequence[Score]) -> dict[str, PracticeCard]:
    """What each cause's card has become."""
    done = [(_day(score.day), cause, score.quality) for score in scores for cause in score.causes]
    return cards_from_attempts(done)


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise ScoreError(f"{text}: there is no such day") from None


def _read(path: Path) -> dict[str, Any]:
    """A score file's data, checked against its schema. Raises ScoreError."""
    try:
        if not path.is_file():
            raise ScoreError(f"{path}: not a plain file")
        with path.open("rb") as stream:
            raw = stream.read(MAX_BYTES + 1)
        found: Any = json.loads(raw[:MAX_BYTES].decode("utf-8"))
    except OSError as error:
        raise ScoreError(f"{path}: cannot be read: {error.strerror}") from None
    except (ValueError, RecursionError):
        raise ScoreError(f"{path}: damaged or cut short; move it away to begin anew") from None
    fault = next(iter(validator("drill.schema.json").iter_errors(found)), None)
    if fault is not None:
        where = ".".join(map(str, fault.absolute_path)) or "the file"
        raise ScoreError(f"{path}: no scores of this program: {where}: {fault.message[:120]}")
    data: dict[str, Any] = found
    return data
