"""Rounds that repeat at the end of a sequence of codes: exact suffix periodicity in linear time (z-function, Gusfield 1997),
and a tolerant one that forgives a lost or doubled code in each round.
"""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

Round = tuple[str, ...]

CANDIDATES = 12
"""How many codes are tried as the beginning of a round. Each round that lost a code spoils at most one of them."""
LEAST_LOOSE = 3
"""Rounds shorter than this must be alike to the letter: with two codes, any two rounds that share one would do."""


@dataclass(frozen=True, slots=True)
class Period:
    """A suffix that goes round: `length` codes per round, `covered` codes of the sequence in all (the last round may be cut).

    `codes`: one round, from where the suffix begins. `exact`: no code is lost or doubled anywhere.
    """

    length: int
    covered: int
    codes: Round
    exact: bool = True


def suffix_period(codes: Sequence[str], least: int = 3) -> Period | None:
    """The smallest period p > 1 whose longest suffix has at least `least` * p codes; None when there is none. Linear time,
    exact.

    A round of one code over and over is no period here: it is a code that stays. `least` is 2 or more.
    """
    matched = common_prefixes(codes[::-1])
    for p in range(trailing_run(codes) + 1, len(codes)):
        covered = p + matched[p]
        if covered >= least * p:
            start = len(codes) - covered
            return Period(p, covered, tuple(codes[start : start + p]))
    return None


def common_prefixes(codes: Sequence[str]) -> list[int]:
    """The z-function (Gusfield 1997, "Algorithms on Strings, Trees and Sequences", chapter 1).

    Entry i: how many codes from i on equal those from the beginning; entry 0: all of them. Each step compares or moves on,
    so the time is linear.
    """
    n = len(codes)
    z = [n] + [0] * (n - 1) if n else []
    left = right = 0
    for i in range(1, n):
        k = min(right - i, z[i - left]) if i < right else 0
        while i + k < n and codes[k] == codes[i + k]:
            k += 1
        z[i] = k
        if i + k > right:
            left, right = i, i + k
    return z


def trailing_run(codes: Sequence[str]) -> int:
    """How often the last code stands at the end in a row; 0 for an empty sequence."""
    run = 0
    for code in reversed(codes):
        if code != codes[-1]:
            break
        run += 1
    return run


def loose_period(codes: Sequence[str], least: int = 3) -> Period | None:
    """Rounds at the end that are alike but for one code lost or one too many in each; the best of several ways to cut them.

    Codes doubled in a row count once. The rounds begin at a code that comes back; the commonest of them is the model for the
    rest. At least `least` whole rounds; what follows the last whole one may be cut. Time: linear, times a fixed number of cuts.
    """
    kept = [i for i, code in enumerate(codes) if i == 0 or code != codes[i - 1]]
    single = [codes[i] for i in kept]
    counts = Counter(single)
    firsts = [code for code, times in counts.items() if times >= least][:CANDIDATES]
    found = [(start, model) for first in firsts if (got := _rounds_from(single, first, least)) for start, model in [got]]
    if not found:
        return None
    start, model = min(found, key=lambda pair: (pair[0], len(pair[1])))
    covered = len(codes) - kept[start]
    exact = covered == len(single) - start and _repeats(single[start:], model)
    return Period(len(model), covered, model, exact)


def _rounds_from(codes: Sequence[str], first: str, least: int) -> tuple[int, Round] | None:
    """Where the last rounds that begin with `first` and are alike begin, and the round they follow; None with fewer than
    `least`."""
    begins = [i for i, code in enumerate(codes) if code == first]
    whole = [tuple(codes[a:b]) for a, b in itertools.pairwise(begins)]
    if len(whole) < least:
        return None
    model = _commonest(whole[-least:])
    if len(model) < 2 or not begins_alike(tuple(codes[begins[-1] :]), model):
        return None
    alike = 0
    while alike < len(whole) and within_one(whole[-1 - alike], model):
        alike += 1
    return (begins[-1 - alike], model) if alike >= least else None


def _commonest(rounds: Sequence[Round]) -> Round:
    """The round seen most often; of those, the longest, since codes get lost more easily than made up."""
    counts = Counter(rounds)
    return max(counts, key=lambda one: (counts[one], len(one)))


def _repeats(codes: Sequence[str], model: Round) -> bool:
    return all(code == model[i % len(model)] for i, code in enumerate(codes))


def within_one(seen: Round, model: Round) -> bool:
    """Whether a round equals the model but for one code lost or one too many; short rounds must equal it."""
    if seen == model:
        return True
    if abs(len(seen) - len(model)) != 1 or len(model) < LEAST_LOOSE:
        return False
    short, long = sorted((seen, model), key=len)
    same = _shared(short, long)
    return short[same:] == long[same + 1 :]


def begins_alike(seen: Round, model: Round) -> bool:
    """Whether a round that is cut off follows the model so far, but for one code lost or one too many."""
    same = _shared(seen, model)
    if same == len(seen):
        return True
    if len(model) < LEAST_LOOSE:
        return False
    lost, extra = seen[same:], seen[same + 1 :]
    return lost == model[same + 1 : same + 1 + len(lost)] or extra == model[same : same + len(extra)]


def _shared(one: Round, other: Round) -> int:
    """How many codes they have in common from the beginning."""
    return next((i for i, (a, b) in enumerate(zip(one, other, strict=False)) if a != b), min(len(one), len(other)))
