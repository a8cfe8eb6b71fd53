"""Distributions as people type them: "80 15 5", counts, or "dark=3 lit=1"; made to add up to 1 and checked at once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from nopost.knowledge import model as m
from nopost.knowledge.distributions import order_fault

LARGEST_NUMBER = 1e9


class ShareError(ValueError):
    """What was typed is no distribution; its text says why and what to type."""


def read_shares(typed: str, answers: Sequence[str]) -> dict[str, float]:
    """Shares of the answers, adding up to 1, three digits each; answers without a share are left out. Raises ShareError.

    Typed: one number for each answer in order, `answer=number` pairs, or one answer's name alone for all of it.
    Percentages and counts are the same thing.
    """
    if typed.strip() in answers:
        return {typed.strip(): 1.0}
    numbers = _numbers(typed, answers)
    total = sum(numbers.values())
    if total <= 0:
        raise ShareError("at least one number must be above 0")
    thousandths = _rounded({name: number / total * 1000 for name, number in numbers.items()})
    return {name: share / 1000 for name, share in thousandths.items() if share}


def read_ratios(typed: str, answers: Sequence[str]) -> dict[str, float]:
    """Answer -> how many times as likely as usual; those that are as usual are left out. Raises ShareError."""
    ratios = _numbers(typed, answers)
    if any(number > 1000 for number in ratios.values()):
        raise ShareError("at most 1000 times as likely")
    named = {name: number for name, number in ratios.items() if number != 1}
    if not named:
        raise ShareError("all as usual: then the cause need not name this finding")
    return named


def share_fault(finding: m.Finding, shown: Mapping[str, float]) -> str:
    """Why a cause cannot show this; "" when it can. Only a graded finding sets bounds."""
    fault = order_fault(finding, shown) if finding.combine is m.Combine.GRADED else None
    if fault is None:
        return ""
    if fault.most is not None:
        most = f"at most {fault.most * 100:.3g} of 100 in sum"
        return f'up to "{fault.answer.text}" a sound machine shows {most}; a fault makes it rarer, never more frequent'
    least = f"at least {(fault.least or 0.0) * 100:.3g} of 100 in sum"
    return f'up to "{fault.answer.text}" there must be {least}: a fault takes from the less abnormal answers first'


def percent(shown: Mapping[str, float]) -> str:
    """Shares as a person reads them: "lit 80 %, dark 20 %"."""
    return ", ".join(f"{name} {share * 100:.3g} %" for name, share in shown.items())


def _numbers(typed: str, answers: Sequence[str]) -> dict[str, float]:
    words = typed.replace(",", " ").replace(";", " ").replace("%", " ").split()
    if not words:
        raise ShareError("type the numbers with blanks between, as in 80 15 5")
    if any("=" in word for word in words):
        return _pairs(words, answers)
    if len(words) != len(answers):
        raise ShareError(f"{len(answers)} answers but {len(words)} numbers; type one for each, 0 too")
    return {answer: _number(word) for answer, word in zip(answers, words, strict=True)}


def _pairs(words: Sequence[str], answers: Sequence[str]) -> dict[str, float]:
    found: dict[str, float] = {}
    for word in words:
        name, equals, number = word.partition("=")
        if not equals:
            raise ShareError(f"{word!r} is no answer=number; write no blanks around =")
        if name not in answers:
            raise ShareError(f"{name!r} is none of the answers: {', '.join(answers)}")
        found[name] = _number(number)
    return {answer: found[answer] for answer in answers if answer in found}


def _number(word: str) -> float:
    try:
        number = float(word)
    except ValueError:
        raise ShareError(f"{word!r} is no number") from None
    if not 0 <= number <= LARGEST_NUMBER:  # not a number fails too
        raise ShareError(f"{word!r} is out of range; use 0 or more")
    return number


def _rounded(exact: Mapping[str, float]) -> dict[str, int]:
    """Whole thousandths that add up to 1000: the largest remainders are rounded up."""
    whole = {name: int(value) for name, value in exact.items()}
    for name, value in exact.items():
        if value > 0 and whole[name] == 0:
            whole[name] = 1  # what can be seen at all keeps a share
    by_rest = sorted(exact, key=lambda name: round(whole[name] - exact[name], 6))
    missing = 1000 - sum(whole.values())
    for name in by_rest[: max(missing, 0)]:
        whole[name] += 1
    if missing < 0:
        whole[max(whole, key=lambda name: whole[name])] += missing
    return whole
