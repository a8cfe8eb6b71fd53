"""Learn from closed cases: those that say what it turned out to be.

A session that ended well becomes a case with what was seen before any fix, what was tried, and what it was. Closed cases are
counted by cause, by what each showed, and by which fixes mended it. New numbers are proposed from the counts, with the present
ones as prior of a stated strength: a Dirichlet distribution for shares, a beta distribution for chances.
"""

from __future__ import annotations

import difflib
import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from nopost.diagnosis.belief.evidence import UNINFORMATIVE_ANSWERS
from nopost.diagnosis.belief.hypotheses import Floats
from nopost.diagnosis.belief.posterior import BeliefModel
from nopost.diagnosis.history import End, EventKind, History
from nopost.diagnosis.replay import event_answers
from nopost.knowledge.edit.change_yaml import EditableYaml
from nopost.knowledge.edit.item_files import item_path
from nopost.knowledge.model import Case, Cause, Combine, Finding, Knowledge


def before_any_fix(history: History, knowledge: Knowledge) -> dict[str, str]:
    """Finding -> answer, as told before the first fix: what is seen later is another machine."""
    answers: dict[str, str] = {}
    for event in history.events:
        if event.kind is EventKind.TRIED:
            break
        answers |= event_answers(event, knowledge)
    return answers


def fixes_tried(history: History) -> tuple[tuple[str, str], ...]:
    """(action, outcome) in order."""
    return tuple((event.item, event.value) for event in history.of_kind(EventKind.TRIED))


def closed_case(name: str, history: History, knowledge: Knowledge) -> Case | None:
    """The case, or None while it is open or nobody knows what it was."""
    end = history.end
    if end is None or end.value != End.STARTS or not end.item:
        return None
    seen, tried = before_any_fix(history, knowledge), fixes_tried(history)
    return Case(name, name, seen, tried, {}, {"cause": end.item}, source="a kept session")


@dataclass
class CaseCounts:
    """Of each cause: cases; of (cause, finding): how often each answer was true; of (cause, action): (mended, left)."""

    causes: Counter[str] = field(default_factory=Counter)
    seen: dict[tuple[str, str], Floats] = field(default_factory=dict)
    reports: Counter[tuple[str, str]] = field(default_factory=Counter)
    fixes: dict[tuple[str, str], list[int]] = field(default_factory=lambda: defaultdict(lambda: [0, 0]))
    open_cases: int = 0

    @property
    def cases(self) -> int:
        """Closed cases that were counted."""
        return sum(self.causes.values())


def count_cases(model: BeliefModel, cases: Iterable[Case]) -> CaseCounts:
    """Count closed cases: those that say what it turned out to be. An open one only adds to `open_cases`."""
    counts = CaseCounts()
    for case in cases:
        cause = case.expect.get("cause", "")
        if cause not in model.cause_index:
            counts.open_cases += 1
            continue
        counts.causes[cause] += 1
        for finding, answer in case.answers.items():
            _count_answer(model, counts, cause, finding, answer)
        for action, outcome in case.tried:
            if outcome in ("starts", "same"):
                counts.fixes[cause, action][outcome == "same"] += 1
    return counts


def _count_answer(model: BeliefModel, counts: CaseCounts, cause: str, finding: str, answer: str) -> None:
    """One report, shared out over the true answers that may stand behind it: P(true | report, cause)."""
    item = model.knowledge.findings[finding]
    if answer in UNINFORMATIVE_ANSWERS or item.reads or (item.parent and item.is_past):
        # What an instrument shows belongs to its own table. The ratios of a history finding with a parent apply to the parent's
        # conditional baseline, so that the share among the cases does not say what they are; elsewhere it does.
        return
    share = (
        model.answer_likelihood(finding).single_cause_table()[model.cause_index[cause]]
        * model.misreports(finding)[:, model.answer_index[finding][answer]]
    )
    share = share / share.sum() if share.sum() > 0 else np.eye(len(share))[model.answer_index[finding][answer]]
    counts.seen[cause, finding] = counts.seen.get((cause, finding), 0.0) + share
    counts.reports[cause, finding] += 1


MAX_ITERATIONS = 200
TINY = 1e-300
TOLERANCE = 1e-15
NO_COUNT = 1e-9


def beta_interval(a: float, b: float, mass: float = 0.9) -> tuple[float, float]:
    """The central interval that holds `mass` of Beta(a, b); with nothing for one side, that side's end."""
    if min(a, b) < NO_COUNT:
        return (0.0, 0.0) if a < b else (1.0, 1.0)
    tail = (1 - mass) / 2
    return beta_quantile(tail, a, b), beta_quantile(1 - tail, a, b)


def beta_quantile(p: float, a: float, b: float) -> float:
    """The x with P(X <= x) = p for X ~ Beta(a, b), by bisection."""
    low, high = 0.0, 1.0
    while high - low > TOLERANCE * max(high, 1e-12) and (middle := (low + high) / 2) not in (low, high):
        low, high = (middle, high) if beta_cdf(middle, a, b) < p else (low, middle)
    return (low + high) / 2


def beta_cdf(x: float, a: float, b: float) -> float:
    """P(X <= x) for X ~ Beta(a, b): the regularised incomplete beta function (DLMF 8.17)."""
    if not 0 < x < 1:
        return float(x >= 1)
    front = math.exp(math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log1p(-x))
    if x < (a + 1) / (a + b + 2):
        return front * _continued_fraction(x, a, b) / a
    return 1 - front * _continued_fraction(1 - x, b, a) / b


def _continued_fraction(x: float, a: float, b: float) -> float:
    """The continued fraction of DLMF 8.17.22, by the method of Lentz."""
    c, d = 1.0, 1 / _away_from_zero(1 - (a + b) * x / (a + 1))
    value = d
    for m in range(1, MAX_ITERATIONS):
        even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        for term in (even, odd):
            d = 1 / _away_from_zero(1 + term * d)
            c = _away_from_zero(1 + term / c)
            value *= c * d
        if abs(c * d - 1) < TOLERANCE:
            break
    return value


def _away_from_zero(value: float) -> float:
    return value if abs(value) > TINY else TINY


EQUIVALENT_SAMPLE_SIZE = 20.0
"""So many cases the number in a file counts for (judgement: what one bench sees of a cause in a year or two)."""
WEIGHT_EQUIVALENT_SAMPLE_SIZE = 500.0
"""The same for all weights together (judgement)."""
MIN_SHIFT = {"weight": 0.05, "shows": 0.01, "fixes": 0.01}
"""What moves less is not proposed: a share of the old weight, or a chance. Weights of causes that were not seen all fall by the
same small share, which changes nothing among them."""


@dataclass(frozen=True, slots=True)
class ProposedNumber:
    """One number, a chance or a weight: as it stands, as proposed, as counted, and the interval (90 %) of what is proposed; the
    last three where cases were counted."""

    name: str
    old: float
    new: float
    counted: float | None = None
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True)
class Proposal:
    """A change of one cause: its `weight`, one of its `shows` or one of its `fixes` (`item` names which).

    `values`: what is to stand in the file; `cases`: how many it rests on; `reordered`: made isotonic, so that
    the cause only pushes towards more abnormal answers.
    """

    cause: str
    kind: str
    item: str
    cases: int
    entries: tuple[ProposedNumber, ...]
    values: dict[str, float]
    reordered: bool = False

    @property
    def shift(self) -> float:
        """Largest change of a chance; of a weight, relative to the old one."""
        relative = [abs(e.new - e.old) / (e.old if self.kind == "weight" else 1.0) for e in self.entries]
        return max(relative)


def propose(
    model: BeliefModel,
    counts: CaseCounts,
    equivalent_sample_size: float = EQUIVALENT_SAMPLE_SIZE,
    weight_sample_size: float = WEIGHT_EQUIVALENT_SAMPLE_SIZE,
) -> list[Proposal]:
    """All changes worth looking at, the largest first within each kind: weights, then shows, then fixes.

    `equivalent_sample_size`: how many cases a number in the file counts for; `weight_sample_size`: the same for all weights
    together.
    """
    found = [
        *_weights(model, counts, weight_sample_size),
        *_shows(model, counts, equivalent_sample_size),
        *_fixes(model, counts, equivalent_sample_size),
    ]
    order = ("weight", "shows", "fixes")
    return sorted(
        (p for p in found if p.shift >= MIN_SHIFT[p.kind]), key=lambda p: (order.index(p.kind), -p.shift, p.cause, p.item)
    )


def _weights(model: BeliefModel, counts: CaseCounts, equivalent_sample_size: float) -> Iterator[Proposal]:
    """A cause's share among all; weights keep their sum, so that the numbers of causes not seen fall a little."""
    causes = model.knowledge.causes
    total = sum(cause.weight for cause in causes.values())
    if not counts.cases:
        return
    for cause in causes.values():
        prior, seen = equivalent_sample_size * cause.weight / total, counts.causes[cause.id]
        new = total * (prior + seen) / (equivalent_sample_size + counts.cases)
        low, high = (total * bound for bound in beta_interval(prior + seen, equivalent_sample_size + counts.cases - prior - seen))
        entry = ProposedNumber("weight", cause.weight, new, float(seen), low, high)
        yield Proposal(cause.id, "weight", "", seen, (entry,), {"weight": three_digits(new)})


def _shows(model: BeliefModel, counts: CaseCounts, equivalent_sample_size: float) -> Iterator[Proposal]:
    for (name, finding_id), seen in counts.seen.items():
        cause, finding = model.knowledge.causes[name], model.knowledge.findings[finding_id]
        old = model.answer_likelihood(finding_id).single_cause_table()[model.cause_index[name]]
        alpha = equivalent_sample_size * old + seen
        wanted = alpha / alpha.sum()
        baseline = baseline_row(finding)
        new = isotonic_row(wanted, baseline) if finding.combine is Combine.GRADED else wanted
        bounds = [beta_interval(float(a), float(alpha.sum() - a)) for a in alpha]
        entries = tuple(
            ProposedNumber(answer, float(old[k]), float(new[k]), float(seen[k]), *bounds[k])
            for k, answer in enumerate(finding.answer_ids)
        )
        values = shares_in_file(cause, finding, new, baseline)
        reordered = bool(np.abs(new - wanted).max() > MIN_SHIFT["shows"] / 2)
        yield Proposal(name, "shows", finding_id, counts.reports[name, finding_id], entries, values, reordered)


def baseline_row(finding: Finding) -> Floats:
    values = np.array([finding.baseline.get(answer, 0.0) for answer in finding.answer_ids])
    return np.asarray(values / values.sum())


def shares_in_file(cause: Cause, finding: Finding, new: Floats, baseline: Floats) -> dict[str, float]:
    """Chances as they stand in a file: rounded so that they add up to 1; for a history finding, ratios to the baseline."""
    if finding.combine is not Combine.HISTORY:
        return dict(zip(finding.answer_ids, rounded_to_one(new), strict=True))
    old = cause.shows.get(finding.id, {})
    scale = sum(old.get(answer, 1.0) * share for answer, share in zip(finding.answer_ids, baseline, strict=True))
    ratios = {
        answer: three_digits(scale * value / share)
        for answer, value, share in zip(finding.answer_ids, new, baseline, strict=True)
        if share > 0
    }
    return {answer: ratio for answer, ratio in ratios.items() if ratio != 1.0 or answer in old}


def _fixes(model: BeliefModel, counts: CaseCounts, equivalent_sample_size: float) -> Iterator[Proposal]:
    """The chance that an action mends the cause, from what was tried; a fix that the cause does not name stays unnamed."""
    for (name, action), (mended, left) in counts.fixes.items():
        old = model.knowledge.causes[name].fixes.get(action, 0.0)
        if not old > 0:
            continue
        a, b = equivalent_sample_size * old + mended, equivalent_sample_size * (1 - old) + left
        low, high = beta_interval(a, b)
        entry = ProposedNumber(action, old, a / (a + b), float(mended), low, high)
        yield Proposal(name, "fixes", action, mended + left, (entry,), {action: round(entry.new, 2)})


def isotonic_row(row: Floats, baseline: Floats) -> Floats:
    """The nearest row that noisy-MAX can combine with the baseline (see `nopost.knowledge.distributions`): cumulative over the
    baseline's must rise to 1.

    Neighbours that fall are pooled, weighed by the baseline (isotonic regression: pool adjacent violators, Ayer et al. 1955).
    """
    leak = np.cumsum(baseline)
    ratios = np.divide(np.cumsum(row), leak, out=np.zeros_like(row), where=leak > 0)
    pooled: list[list[float]] = []  # value, weight, how many
    for value, weight in zip(np.minimum(ratios, 1.0), baseline, strict=True):
        pooled.append([float(value), max(float(weight), 1e-9), 1])
        while len(pooled) > 1 and pooled[-2][0] > pooled[-1][0]:
            value_, weight_, many = pooled.pop()
            last = pooled[-1]
            last[0] = (last[0] * last[1] + value_ * weight_) / (last[1] + weight_)
            last[1], last[2] = last[1] + weight_, last[2] + many
    rising = np.concatenate([[value] * int(many) for value, _, many in pooled])
    rising[-1] = 1.0
    cumulative = np.where(leak > 0, rising * leak, 0.0)
    return np.asarray(np.clip(np.diff(cumulative, prepend=0.0), 0.0, None))


def rounded_to_one(row: Floats, digits: int = 3) -> list[float]:
    """The row rounded so that it still adds up to 1: what is left goes to the largest remainders."""
    unit = 10**digits
    scaled = row / row.sum() * unit
    whole = np.floor(scaled + 1e-9)
    for k in np.argsort(whole - scaled, kind="stable")[: round(unit - whole.sum())]:
        whole[k] += 1
    return [float(value) / unit for value in whole]


def three_digits(value: float) -> float:
    """Three significant digits."""
    return float(f"{value:.3g}")


SOURCE_MARK = "closed cases"


def changed_files(
    folder: Path, proposals: Iterable[Proposal], where_from: str, mark: str = SOURCE_MARK
) -> dict[Path, tuple[str, str]]:
    """File -> (its text, the text with the proposals). Each kind of number that changed says so in the cause's `source`.

    `where_from`: the evidence, behind its `mark`.

    Raises KnowledgeError or OutputError for a file that cannot be changed.
    """
    texts: dict[Path, str] = {}
    files: dict[Path, EditableYaml] = {}
    for proposal in proposals:
        path = item_path(folder, "cause", proposal.cause)
        if path not in files:
            texts[path] = path.read_text(encoding="utf-8-sig")
            files[path] = EditableYaml(texts[path], str(path))
        _set_values(files[path], proposal)
        _add_to_source(files[path], proposal.kind, mark, where_from)
    return {path: (texts[path], file.text()) for path, file in files.items()}


def _set_values(file: EditableYaml, proposal: Proposal) -> None:
    if proposal.kind == "weight":
        file.set_value(("weight",), proposal.values["weight"])
    elif proposal.kind == "fixes":
        file.set_value(("fixes", proposal.item), proposal.values[proposal.item])
    else:
        file.set_value(("shows", proposal.item), proposal.values)


def _add_to_source(file: EditableYaml, kind: str, mark: str, where_from: str) -> None:
    """The source of this kind of number with the evidence added, once."""
    before = str(file.data["source"].get(kind, "judgement"))
    plain = before.split(f"; {mark}")[0]
    file.set_value(("source", kind), f"{plain}; {mark}: {where_from}")


def unified_patch(changed: dict[Path, tuple[str, str]], folder: Path) -> str:
    """All of it as a unified diff, paths from the knowledge base's folder."""
    parts: list[str] = []
    for path, (old, new) in sorted(changed.items()):
        name = path.relative_to(folder).as_posix()
        lines = difflib.unified_diff(old.splitlines(True), new.splitlines(True), f"a/{name}", f"b/{name}")
        parts += lines
    return "".join(line if line.endswith("\n") else f"{line}\n\\ No newline at end of file\n" for line in parts)
