"""Which table a sequence comes from. Drawn sequences are invented; the shipped tables are checked elsewhere."""

from __future__ import annotations

import math
import random
import sys
from collections import defaultdict
from collections.abc import Sequence
from types import FrameType
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from codes.drawn import LEAST, events, normal_codes, trace, unknown
from nopost.codes.code_events import CodeEvent, CodeForm, EventOrder
from nopost.codes.table_inference import UNKNOWN_MAP, TableInference, code_meanings, infer_table
from nopost.codes.table_likelihood import CodeRun, TableModel, code_runs, unknown_log_likelihood
from nopost.codes.tables import IndexedTable, TableSet
from nopost.errors import UnknownNameError
from nopost.knowledge.model import Knowledge
from nopost.knowledge.reference_records import Code, CodeTable

TRACES = 200


@pytest.fixture(scope="module")
def tables(knowledge: Knowledge) -> TableSet:
    return TableSet(knowledge.codes, knowledge.base.roles)


def known_maps(knowledge: Knowledge) -> list[CodeTable]:
    """The tables of digits that belong to one firmware family and are long enough to draw sequences from."""
    tables = [table for table in knowledge.codes.values() if table.form == "hex" and not table.generic]
    return [table for table in tables if len(normal_codes(table)) >= LEAST]


def prior_weights(knowledge: Knowledge) -> dict[str, float]:
    """How common each map of digits is; the generic tables stand for the maps that nobody knows."""
    weights: defaultdict[str, float] = defaultdict(float)
    for table in knowledge.codes.values():
        if table.form == "hex":
            weights[UNKNOWN_MAP if table.generic else table.id] += table.weight
    return weights


def inferred(codes: Sequence[str], tables: TableSet, **more: Any) -> TableInference:
    return infer_table(events(codes), tables, form=CodeForm.HEX, **more)


@pytest.mark.slow
def test_drawn_sequences_are_recognised_both_ways(knowledge: Knowledge, tables: TableSet) -> None:
    """At least 95 of 100 sequences of 12 codes or more, 3 in 100 of them foreign, in order of time and reversed."""
    recognised: dict[tuple[str, EventOrder], int] = {}
    for table in known_maps(knowledge):
        drawn = [trace(table, random.Random(seed)) for seed in range(TRACES)]
        for order, step in ((EventOrder.OLDEST_FIRST, 1), (EventOrder.NEWEST_FIRST, -1)):
            found = [inferred(codes[::step], tables) for codes in drawn]
            recognised[table.id, order] = sum(i.best == table.id and i.order is order for i in found)
    assert {"edk2", "coreboot", "silicon-binary"} <= {name for name, _ in recognised}
    assert {which: count for which, count in recognised.items() if count < 0.95 * TRACES} == {}


@pytest.mark.parametrize(("rising", "share"), [(False, 0.95), (True, 0.9)])
def test_maps_nobody_knows_are_unknown(tables: TableSet, rising: bool, share: float) -> None:
    """A map whose numbers rise is harder: where a table is dense it shares most codes, in the same order."""
    drawn = [unknown(random.Random(seed), 12, rising=rising) for seed in range(TRACES)]
    found = [inferred(codes, tables) for codes in drawn]
    assert sum(i.best == UNKNOWN_MAP for i in found) >= share * TRACES
    assert sum(i.order is EventOrder.OLDEST_FIRST for i in found) >= 0.95 * TRACES


def test_probabilities_are_calibrated(knowledge: Knowledge, tables: TableSet, record_property: Any) -> None:
    """Short sequences, truth drawn by prior weight: in each band of stated probability, about that share is right."""
    rng = random.Random(5)
    weights = prior_weights(knowledge)
    said: list[tuple[float, bool]] = []
    for _ in range(1000):
        truth = rng.choices(list(weights), list(weights.values()))[0]
        whole = unknown(rng, 12, rising=rng.random() < 0.5) if truth == UNKNOWN_MAP else trace(knowledge.codes[truth], rng)
        count = rng.choice((1, 2, 3, 4, 6))
        first = rng.randrange(len(whole) - count + 1)
        found = inferred(whole[first : first + count], tables)
        said.append((found.probability, found.best == truth))
    for low, high in ((0.0, 0.6), (0.6, 0.8), (0.8, 0.95), (0.95, 1.01)):
        band = [(p, right) for p, right in said if low <= p < high]
        mean, share = sum(p for p, _ in band) / len(band), sum(right for _, right in band) / len(band)
        record_property(f"stated {low} to {high}", f"{len(band)} sequences, mean {mean:.3f}, right {share:.3f}")
        assert abs(mean - share) < 0.15
    assert abs(sum(p for p, _ in said) - sum(right for _, right in said)) / len(said) < 0.04


def test_noise_lowers_the_fit(knowledge: Knowledge, tables: TableSet) -> None:
    for table in known_maps(knowledge):
        means = []
        for noise in (0.0, 0.1, 0.3, 0.6):
            drawn = [trace(table, random.Random(seed), noise=noise) for seed in range(40)]
            means.append(sum(inferred(codes, tables, given=table.id).fit_per_code for codes in drawn) / 40)
        assert means == sorted(means, reverse=True)
        assert means[0] > 2 > means[-1]


def test_no_bare_claim_for_codes_with_two_meanings(tables: TableSet) -> None:
    """E3, 92 and F8 alone: every map that may be the right one has its say, likeliest first, named."""
    for code in ("E3", "92", "F8"):
        found = inferred([code], tables)
        said = code_meanings(code, tables, found)
        assert {"edk2", "coreboot", "generic-hex"} <= {m.table for m in said}
        assert [m.probability for m in said] == sorted((m.probability for m in said), reverse=True)
        assert all(m.rows and 0.02 <= m.probability < 0.9 for m in said)


def test_context_settles_a_code_with_two_meanings(tables: TableSet) -> None:
    before = inferred(["01", "10", "21", "34", "36", "92", "98", "13", "39", "6E", "6F", "70", "71", "E3"], tables)
    assert [m.table for m in code_meanings("E3", tables, before)] == ["coreboot"]
    edk2 = inferred(["10", "11", "1D", "1E", "1F", "20", "21", "31", "32", "33", "E1", "E3"], tables)
    assert [m.table for m in code_meanings("E3", tables, edk2)] == ["edk2"]


def test_a_named_table_gets_everything(tables: TableSet) -> None:
    found = inferred(["10", "11", "1D"], tables, given="coreboot")
    assert found.posterior[0] == ("coreboot", 1.0)
    assert sum(p for _, p in found.posterior) == 1.0
    assert found.best == found.closest == "coreboot"
    assert [m.table for m in code_meanings("10", tables, found)] == ["coreboot"]


@pytest.mark.parametrize("name", ["generic-hex", UNKNOWN_MAP])
def test_a_generic_table_stands_for_the_unknown_map(tables: TableSet, name: str) -> None:
    found = inferred(["10", "11", "1D"], tables, given=name)
    assert found.posterior[0] == (UNKNOWN_MAP, 1.0)
    assert [m.table for m in code_meanings("92", tables, found)] == ["generic-hex"]


def test_no_such_table(tables: TableSet) -> None:
    with pytest.raises(UnknownNameError) as raised:
        inferred(["10"], tables, given="edk3")
    assert "edk2" in raised.value.nearest


def test_order_that_is_certain_is_kept(tables: TableSet) -> None:
    codes = ["35", "34", "33", "32", "31", "21", "20", "1F", "1E", "1D", "11", "10"]
    assert inferred(codes, tables).order is EventOrder.NEWEST_FIRST
    kept = inferred(codes, tables, order_given=True)
    assert kept.order is EventOrder.OLDEST_FIRST
    assert kept.order_log_odds < 0


def test_a_loop_is_no_new_evidence(tables: TableSet) -> None:
    """A hundred rounds say no more than a few: a display that keeps restarting does not make the map surer."""
    loop = ["10", "44", "1D", "77", "20"]
    few, many = inferred(loop * 3, tables), inferred(loop * 100, tables)
    assert dict(many.posterior)[UNKNOWN_MAP] == pytest.approx(dict(few.posterior)[UNKNOWN_MAP], abs=1e-9)


def test_silent_display_tells_nothing(tables: TableSet, knowledge: Knowledge) -> None:
    nothing, silent = inferred([], tables), inferred(["00", "FF", "FF", "00"], tables)
    assert nothing.posterior == silent.posterior
    weights = prior_weights(knowledge)
    assert dict(nothing.posterior) == pytest.approx({name: weight / sum(weights.values()) for name, weight in weights.items()})
    assert silent.fit_per_code == 0
    assert "nothing" in silent.note


def test_beeps_lamps_states_and_events(tables: TableSet) -> None:
    assert infer_table(events(["OSBootStarted", "OSRunning"]), tables).best == "redfish-boot-progress"
    assert infer_table(events(["02:01", "02:13"]), tables).best == "ipmi-firmware"
    assert infer_table(events(["cpu", "memory"]), tables).best == "generic-lamps"
    assert infer_table(events(["1-3-1"]), tables, form=CodeForm.BEEPS).best == "generic-beeps"
    assert infer_table(events(["7"]), tables, form=CodeForm.BEEPS).best == "edk2-beeps"


def test_kind_of_the_source_is_used(tables: TableSet) -> None:
    """Facts, section 1: 03021000 as progress is the early core, as error a missing core or restart service."""
    found = infer_table([CodeEvent("03021000", kind="error")], tables, form=CodeForm.HEX)
    edk2 = next(m for m in code_meanings("03021000", tables, found, "error") if m.table == "edk2")
    assert all(row.kind == "error" for row in edk2.rows)


def small_model() -> TableModel:
    codes = (*(Code(f"{n:02X}", "pei", "progress", "step") for n in (16, 17, 32, 33)), Code("E0", "pei", "error", "bad"))
    return TableModel(IndexedTable(CodeTable("small", "Small", "small", "hex", 1.0, codes)))


def test_chances_of_the_next_code_sum_to_one() -> None:
    """From every step but the last, where a step forward cannot be, over all 256 values; and at the start."""
    model = small_model()
    likelihoods = [model.likelihood_of(CodeRun(f"{n:02X}", log_values=math.log(256))) for n in range(256)]
    foreign = sum(not spot.known for spot in likelihoods) / 256 * 0.04
    for at in (-1, 0, 1, 2):
        known = sum(math.exp(s.log_chances[at]) + math.exp(s.log_chances[at] + s.log_again) for s in likelihoods if s.known)
        assert known == pytest.approx(0.96)
    unknown_part = sum(math.exp(s.log_chances[0]) + math.exp(s.log_chances[0] + s.log_again) for s in likelihoods if not s.known)
    assert unknown_part == pytest.approx(foreign)


def test_unknown_map_is_the_dirichlet_predictive() -> None:
    """Against the closed form: Gamma(a)/Gamma(a+n) times the product of Gamma(a/V+n_c)/Gamma(a/V)."""
    codes = ["10", "22", "10", "33", "10", "22", "44"]
    log_gamma = math.lgamma
    each = 50 / 256
    closed = log_gamma(50) - log_gamma(57) + sum(log_gamma(each + n) - log_gamma(each) for n in (3, 2, 1, 1))
    assert unknown_log_likelihood(code_runs(events(codes), CodeForm.HEX)) == pytest.approx(closed + 7 * math.log(0.8))


WORDS = st.lists(st.one_of(st.text(max_size=12), st.from_regex("[0-9A-F]{2}", fullmatch=True), st.sampled_from(["00", "1092"])))


@pytest.mark.slow
@given(codes=WORDS, kinds=st.sampled_from(["", "progress", "error"]), form=st.sampled_from([None, *CodeForm]))
def test_anything_has_a_posterior(tables: TableSet, codes: list[str], kinds: str, form: CodeForm | None) -> None:
    found = infer_table([CodeEvent(code, kind=kinds) for code in codes], tables, form=form)
    assert sum(p for _, p in found.posterior) == pytest.approx(1.0)
    assert [p for _, p in found.posterior] == sorted((p for _, p in found.posterior), reverse=True)
    assert found.posterior[0][0] == found.best
    assert math.isfinite(found.fit_per_code)
    assert math.isfinite(found.order_log_odds)
    assert 0 <= found.coverage <= 1
    for code in codes[:3]:
        assert all(m.rows and m.probability >= 0.02 for m in code_meanings(code, tables, found))


def calls(codes: Sequence[str], tables: TableSet) -> int:
    """How many calls, of Python and of C, an inference takes."""
    counted = 0

    def count(_frame: FrameType, event: str, _arg: object) -> None:
        nonlocal counted
        counted += event in ("call", "c_call")

    handed = events(codes)
    before = sys.getprofile()
    sys.setprofile(count)
    try:
        infer_table(handed, tables, form=CodeForm.HEX)
    finally:
        sys.setprofile(before)
    return counted


@pytest.mark.slow
def test_work_is_linear() -> None:
    """Fresh tables each time, so that nothing is remembered; twice the events take at most little more than twice the calls."""
    codes = [Code(f"{n:02X}", "pei", "progress", "step") for n in range(16, 80)]
    rng = random.Random(3)
    sequence = [f"{rng.randrange(65536):04X}" if rng.random() < 0.5 else f"{rng.randrange(256):02X}" for _ in range(16_000)]
    work = []
    for count in (4_000, 8_000, 16_000):
        tables = TableSet({"one": CodeTable("one", "One", "one", "hex", 1.0, tuple(codes), True)})
        work.append(calls(sequence[:count], tables))
    assert work[1] < 2.4 * work[0]
    assert work[2] < 2.4 * work[1]
