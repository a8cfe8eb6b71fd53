"""The dialogue against answer sheets: what is counted of a machine, exactly, on a base where every step can be foreseen."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

import small
from nopost.errors import KnowledgeError
from nopost.evaluation.answer_sheets import AnswerSheet, read_sheets
from nopost.evaluation.areas import area_place_of, area_ranking
from nopost.evaluation.price_list import PriceList, read_prices
from nopost.evaluation.sheet_player import (
    MOST_MOVES,
    Average,
    PlayedMachine,
    Screen,
    SheetPlayer,
    play_sheets,
    summarise,
)
from nopost.knowledge.model import ABSENT, UNKNOWN, Combine, Knowledge
from shipped import shipped_knowledge

REAL = Path(__file__).resolve().parents[1] / "real"
LAMP = replace(small.finding("lamp", {"lit": 0.5, "dark": 0.5}, Combine.EITHER, cost=1.0), absent="There is none")
LOOSE = small.cause("loose", 60.0, {"lamp": {"dark": 0.99, "lit": 0.01}}, {"press": 0.95})
DEAD = small.cause("dead", 40.0, {"lamp": {"lit": 0.99, "dark": 0.01}}, {"swap": 0.95})
SHOP = 100.0


def base() -> Knowledge:
    """A lamp tells a loose plug from a dead part; the fix of one costs 10, of the other 30 with the part; the workshop 100."""
    swap = small.fix("swap", 5.0)
    swap = replace(swap, effort=replace(swap.effort, money=25.0))
    dead = replace(DEAD, part="engine")
    knowledge = small.knowledge([LAMP], [LOOSE, dead], [small.fix("press", 10.0), swap], base_=small.base(shop=SHOP))
    return replace(knowledge, base=replace(knowledge.base, parts={"part": "Part", "engine": "Engine"}))


def sheet(cause: str, mends: str, **answers: str) -> AnswerSheet:
    """One machine."""
    return AnswerSheet("m", (cause,), answers, frozenset({mends}))


def played(machine: AnswerSheet, prices: PriceList | None = None) -> PlayedMachine:
    """What comes of it."""
    return SheetPlayer(base(), prices).play(machine)


def test_mended_at_once() -> None:
    """A look and the right fix: two moves, their own costs, nothing wrong."""
    found = played(sheet("loose", "press", lamp="dark"))
    assert found.path == (Screen(False, (("lamp", "dark"),)), Screen(True, (("press", "starts"),)))
    assert (found.mended, found.moves, found.screens, found.wrong_fixes, found.cost) == (True, 2, 2, 0, 1 + 10)
    assert (found.cause_place, found.area_place, found.leading) == (1, 1, "loose")


def test_handed_over() -> None:
    """When no fix mends: all that the advice tries, then the workshop; bought in vain is what took money."""
    found = played(sheet("dead", "pray", lamp="lit"))
    assert not found.mended
    fixes = [name for screen in found.path if screen.is_fix for name, _ in screen.items]
    assert (found.wrong_fixes, found.wrong_purchases) == (len(fixes), fixes.count("swap"))
    assert fixes.count("swap") == 1
    looks = sum(not screen.is_fix for screen in found.path)
    labour = looks + 30 * fixes.count("swap") + 10 * fixes.count("press") + SHOP
    assert 0 < found.cost - labour < 30, "the workshop also takes what the part costs, if it turns out to be that"


def test_fixed_prices() -> None:
    """A row goes before the knowledge's own cost, also for handing over; what has no row costs what the knowledge says."""
    prices = PriceList({"lamp": 3.0, "press": 4.0, "hand-over": 500.0}, frozenset({"press"}))
    assert played(sheet("loose", "press", lamp="dark"), prices).cost == 3 + 4
    found = played(sheet("loose", "pray", lamp="dark"), prices)
    fixes = [name for screen in found.path if screen.is_fix for name, _ in screen.items]
    looks = sum(not screen.is_fix for screen in found.path)
    assert found.cost == 3 * looks + 4 * fixes.count("press") + 30 * fixes.count("swap") + 500
    assert found.wrong_purchases == fixes.count("press") == 1


def test_silent_absent_and_unknown_answers() -> None:
    """Silence is a sound machine; a part that is not there is; an answer that the knowledge lacks says nothing."""
    player = SheetPlayer(base(), None)
    said = [player.answer(sheet("loose", "press", **told), "lamp") for told in ({}, {"lamp": ABSENT}, {"lamp": "blue"})]
    assert said == ["lit", ABSENT, UNKNOWN]
    assert SheetPlayer(base(), None, {"lamp": "dark"}).answer(sheet("loose", "press"), "lamp") == "dark"


def test_never_more_than_the_most_moves(monkeypatch: pytest.MonkeyPatch) -> None:
    """Then it goes to the workshop, whatever the advice would do next."""
    monkeypatch.setattr("nopost.evaluation.sheet_player.MOST_MOVES", 1)
    found = played(sheet("loose", "press", lamp="dark"))
    assert (found.mended, found.moves, found.cost) == (False, 1, 1 + SHOP)
    assert MOST_MOVES == 60


def test_a_cause_that_is_not_known() -> None:
    """It stands nowhere, and so does its area."""
    found = played(sheet("gremlins", "press", lamp="dark"))
    assert (found.mended, found.cause_place, found.area_place) == (True, 0, 0)


def test_areas() -> None:
    """Sums over the causes of each."""
    knowledge = replace(base(), causes={**base().causes, "bent": small.cause("bent", 1.0, {}, {})})
    ranking = [("dead", 0.4), ("loose", 0.35), ("bent", 0.25)]
    assert area_ranking(knowledge, ranking) == [("part", pytest.approx(0.6)), ("engine", 0.4)]
    assert area_place_of(knowledge, ranking, ("bent",)) == 1
    assert area_place_of(knowledge, ranking, ("dead",)) == 2


def test_summary() -> None:
    """Shares, medians and means by hand."""
    machines = [
        played(sheet("loose", "press", lamp="dark")),
        played(sheet("loose", "pray", lamp="dark")),
        replace(played(sheet("gremlins", "pray", lamp="dark")), moves=9),
    ]
    found = summarise(machines)
    assert found.machines == 3
    assert found.mended == pytest.approx(1 / 3)
    firsts = [machine.cause_place == 1 for machine in machines]
    assert found.cause_first == pytest.approx(sum(firsts) / 3)
    assert found.mended_or_found == pytest.approx(sum(m.mended or m.cause_place == 1 for m in machines) / 3)
    moves = sorted(machine.moves for machine in machines)
    assert found.averages["moves"] == Average(moves[1], sum(moves) / 3)


def test_worst_first() -> None:
    """Not mended before mended; then the right cause far down; then many wrong fixes."""
    best = played(sheet("loose", "press", lamp="dark"))
    order = [
        replace(best, mended=False, cause_place=0),
        replace(best, mended=False, cause_place=9),
        replace(best, mended=False, wrong_fixes=3),
        replace(best, mended=False),
        best,
    ]
    assert sorted(reversed(order), key=lambda machine: machine.badness) == order


@pytest.mark.slow
def test_workers_change_nothing() -> None:
    """Machines come in order and alike, with worker processes and without."""
    sheets = [replace(sheet("loose", "press", lamp="dark"), case=f"m{k}") for k in range(14)]
    done: list[int] = []
    alone = play_sheets(base(), sheets, None, workers=1)
    assert play_sheets(base(), sheets, None, workers=2, progress=done.append) == alone
    assert [machine.case for machine in alone] == [machine.case for machine in sheets]
    assert sum(done) == 14


@pytest.mark.slow
def test_real_machines_end_as_they_are_counted() -> None:
    """Three real machines on the shipped base: what is counted agrees with the path and the price list."""
    prices = read_prices()
    assert prices is not None
    knowledge = shipped_knowledge()
    player = SheetPlayer(knowledge, prices)
    for machine in read_sheets(REAL / "sheets", knowledge).sheets[:3]:
        found = player.play(machine)
        steps = [(screen.is_fix, name) for screen in found.path for name, _ in screen.items]
        assert len(steps) == found.moves
        assert sum(is_fix for is_fix, _ in steps) == found.wrong_fixes + found.mended
        ended = 0.0 if found.mended else prices.prices["hand-over"]
        assert found.cost == pytest.approx(sum(prices.prices[name] for _, name in steps) + ended)


def test_the_shipped_price_list() -> None:
    """Giving up costs labour of 96 and a part of 150; a few known rows."""
    prices = read_prices()
    assert prices is not None
    assert prices.prices["hand-over"] == 246
    assert len(prices.purchases) > 5
    assert read_prices(REAL) is None


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("id;price\n", "prices.csv:1: price-list: wrong columns"),
        ("id,price,purchase\na,1\n", "prices.csv:2: price-list: 2 columns, not 3"),
        ("id,price,purchase\na,1,\nb,-1,\n", "prices.csv:3: price-list: '-1' is no price"),
        ("id,price,purchase\na,nan,\n", "prices.csv:2: price-list: 'nan' is no price"),
        ("id,price,purchase\na,dear,\n", "prices.csv:2: price-list: 'dear' is no price"),
        ("id,price,purchase\na,1,no\n", "prices.csv:2: price-list: purchase is 'no', neither yes nor nothing"),
        ("id,price,purchase\na,1,\n\na,2,\n", "prices.csv:4: price-list: 'a' has two prices"),
    ],
)
def test_price_lists_that_are_none(tmp_path: Path, text: str, told: str) -> None:
    """Each fault with its line."""
    (tmp_path / "prices.csv").write_text(text, encoding="utf-8")
    with pytest.raises(KnowledgeError) as raised:
        read_prices(tmp_path)
    assert [str(problem).partition(" →")[0] for problem in raised.value.problems] == [f"{tmp_path}/{told}"]


def test_a_price_list_that_cannot_be_read(tmp_path: Path) -> None:
    """A folder of that name, or another encoding."""
    (tmp_path / "prices.csv").write_bytes(b"id,price,purchase\n\xff,1,\n")
    with pytest.raises(KnowledgeError) as raised:
        read_prices(tmp_path)
    assert "not UTF-8" in str(raised.value.problems[0])
    (tmp_path / "prices.csv").unlink()
    (tmp_path / "prices.csv").mkdir()
    with pytest.raises(KnowledgeError) as raised:
        read_prices(tmp_path)
    assert "cannot be read" in str(raised.value.problems[0])
