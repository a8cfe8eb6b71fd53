"""Periods: equal to brute force on every short sequence, and linear in length."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nopost.codes.periodicity import Period, begins_alike, common_prefixes, loose_period, suffix_period, within_one


def brute(codes: Sequence[str], least: int) -> Period | None:
    """By the definition: every period, every suffix."""
    n = len(codes)
    for p in range(2, n):
        fits = [s for s in range(n - p) if all(codes[i] == codes[i + p] for i in range(s, n - p))]
        if not fits:
            continue
        covered = n - fits[0]
        one = tuple(codes[n - covered : n - covered + p])
        if covered >= least * p and len(set(codes[n - p :])) > 1:
            return Period(p, covered, one)
    return None


@pytest.mark.slow
@pytest.mark.parametrize(("alphabet", "longest"), [("AB", 13), ("ABC", 9), ("ABCD", 7)])
@pytest.mark.parametrize("least", [2, 3])
def test_every_short_sequence(alphabet: str, longest: int, least: int) -> None:
    """All sequences up to a length over a small alphabet."""
    for n in range(longest + 1):
        for codes in itertools.product(alphabet, repeat=n):
            assert suffix_period(codes, least) == brute(codes, least), codes


@pytest.mark.slow
@given(
    st.lists(st.sampled_from("ABCDE"), max_size=15),
    st.lists(st.sampled_from("ABCDE"), min_size=1, max_size=8),
    st.integers(0, 6),
    st.integers(0, 8),
    st.integers(2, 5),
)
def test_equals_brute_force(before: list[str], one: list[str], times: int, more: int, least: int) -> None:
    """Longer ones that often go round, with something before and a cut last round."""
    codes = before + one * times + one[:more]
    assert suffix_period(codes, least) == brute(codes, least)


@pytest.mark.slow
@given(st.lists(st.sampled_from("AB"), max_size=40))
def test_common_prefixes(codes: list[str]) -> None:
    """Entry i counts the codes that agree."""
    for i, count in enumerate(common_prefixes(codes)):
        assert codes[:count] == codes[i : i + count]
        assert i + count == len(codes) or codes[count] != codes[i + count]


class Counted(str):
    """A code that counts how often it is compared."""

    compared = 0
    __hash__ = str.__hash__

    def __eq__(self, other: object) -> bool:
        Counted.compared += 1
        return str.__eq__(self, other)

    def __ne__(self, other: object) -> bool:
        Counted.compared += 1
        return str.__ne__(self, other)


@pytest.mark.parametrize("shape", ["A" * 3000, "AB" * 1500, "A" * 1499 + "B" + "A" * 1500, "AAB" * 1000, "ABCDEFGH" * 375])
def test_work_is_linear(shape: str) -> None:
    """At most a few comparisons per code, whatever the shape."""
    codes = [Counted(c) for c in shape]
    Counted.compared = 0
    suffix_period(codes)
    assert Counted.compared <= 4 * len(codes)


def test_the_round_is_told() -> None:
    """A loop after a longer first start, cut in its last round."""
    found = suffix_period(["01", "10", *(["10", "11", "21"] * 4), "10"])
    assert found == Period(3, 13, ("10", "11", "21"))


@pytest.mark.parametrize("codes", [[], ["21"], ["21"] * 20, ["10", "11", "21"] * 2, ["10", *(["21"] * 9)]])
def test_no_period(codes: list[str]) -> None:
    """A code that stays, or two rounds, are none."""
    assert suffix_period(codes) is None
    assert loose_period(codes) is None


ROUND = ("10", "11", "1D", "1E", "21")


def damaged(one: tuple[str, ...], how: int, where: int) -> list[str]:
    """The round whole (0), with a code lost (1) or doubled (2)."""
    where %= len(one)
    return [*one[:where], *([one[where]] * how if how != 1 else []), *one[where + 1 :]] if how else list(one)


@pytest.mark.slow
@given(st.lists(st.tuples(st.sampled_from([0, 0, 0, 1, 2]), st.integers(1, 4)), min_size=6, max_size=20))
def test_loose_forgives(damage: list[tuple[int, int]]) -> None:
    """Rounds with a code lost or doubled in some are found, if the last ones show the round at least twice whole."""
    rounds = [damaged(ROUND, *one) for one in damage] + [list(ROUND)] * 2 + [["10"]]
    found = loose_period([code for one in rounds for code in one])
    assert found is not None
    assert found.length == len(ROUND)
    assert found.codes == ROUND
    assert found.covered == sum(len(one) for one in rounds)
    assert found.exact == all(how == 0 for how, _ in damage)


@given(st.lists(st.sampled_from("ABCD"), min_size=3, max_size=6, unique=True), st.integers(4, 9))
def test_loose_finds_exact_ones(one: list[str], times: int) -> None:
    """What goes round exactly goes round loosely too."""
    found = loose_period(one * times)
    assert found is not None
    assert found.exact
    assert found.length == len(one)


@pytest.mark.slow
@given(st.lists(st.sampled_from("ABC"), max_size=30), st.integers(2, 4))
def test_loose_covers_what_it_says(codes: list[str], least: int) -> None:
    """What it covers lies within the sequence and holds enough rounds of more than one code."""
    found = loose_period(codes, least)
    if found:
        assert found.length >= 2
        assert least * (found.length - 1) < found.covered <= len(codes)
        assert codes[len(codes) - found.covered] == found.codes[0]


def test_first_code_lost_in_a_round() -> None:
    """The rounds are then cut at another code."""
    found = loose_period([*ROUND, *ROUND, *ROUND[1:], *ROUND, *ROUND, *ROUND])
    assert found is not None
    assert set(found.codes) == set(ROUND)
    assert found.covered >= 5 * len(ROUND) - 1


def test_changing_rounds_are_no_loop() -> None:
    """Each reaches two codes further than the one before."""
    rounds = ["ABC", "ABCDE", "ABCDEFG", "ABCDEFGHI"]
    assert loose_period([code for one in rounds for code in one]) is None


@pytest.mark.parametrize(
    ("seen", "alike"),
    [
        ("ABCD", True),
        ("ABD", True),
        ("BCD", True),
        ("ABC", True),
        ("ABXCD", True),
        ("ABXD", False),
        ("AB", False),
        ("ABCDEF", False),
    ],
)
def test_within_one(seen: str, alike: bool) -> None:
    """One lost, one too many; not one for another."""
    assert within_one(tuple(seen), tuple("ABCD")) == alike


@pytest.mark.parametrize(
    ("seen", "alike"), [("", True), ("AB", True), ("AC", True), ("AXB", True), ("AXY", False), ("ABCDE", True)]
)
def test_begins_alike(seen: str, alike: bool) -> None:
    """A round cut off."""
    assert begins_alike(tuple(seen), tuple("ABCD")) == alike
