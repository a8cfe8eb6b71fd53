"""What happened: outcomes, stages and their confidence. The sequences are invented; the codes are those of the published
tables."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from codes.boot_sequences import FULL, belief, boot_sequence, events, traced
from nopost.codes.boot_outcome import BootOutcome, outcome_of
from nopost.codes.code_events import CodeEvent, CodeForm, CodeReading, EventOrder
from nopost.codes.periodicity import Period
from nopost.codes.table_inference import infer_table
from nopost.codes.tables import TableSet
from nopost.codes.trace import analyse, context_factor

MEMORY_LOOP = "10 11 1D 1E 1F 21 "
EXPECTED = [
    ("00 00 FF", "never-started", "no-code"),
    ("10 11 1D 1E", "stalled", "memory"),
    ("10 11", "stalled", "cpu"),
    ("10 11 1D 1E 53", "stalled", "memory"),
    ("10 11 1D 21 31 60 70 90 97", "stalled", "graphics"),
    (FULL.removesuffix(" AD AF") + " AD D9", "stalled", "boot-device"),
    (FULL, "handed-over", "handed-over"),
    (FULL + " B0 B1", "handed-over", "handed-over"),
    (FULL + " B4", "handed-over", "handed-over"),
    (MEMORY_LOOP * 3, "restart-loop", "memory"),
    (MEMORY_LOOP * 5 + "10 11", "restart-loop", "memory"),
    ("10 11 " * 4, "restart-loop", "cpu"),
    ((FULL + " ") * 3, "restart-loop", "handed-over"),
    (MEMORY_LOOP + (FULL + " ") * 2, "handed-over", "handed-over"),
    (MEMORY_LOOP * 4 + FULL, "handed-over", "handed-over"),
    ("10 11 1D 21 31 60 10B3 " * 3, "restart-loop", "graphics"),
    ("10 11 1D 1E 20 21*30", "memory-training", "memory"),
    ("10 11 1D 1E 20 21 20 21 20 21", "memory-training", "memory"),
    ("10 11 1D 21*2 10 11 1D 21*5 10 11 1D 21*9", "memory-training", "memory"),
    ("10 11 1D 21*2 10 11 1D 21*5 10 11 1D 21*9 10", "memory-training", "memory"),
    ("10 11 1D 21*2 10 11 1D 21*5 10 11 1D 21*9 31 60 90 97", "stalled", "graphics"),
    ("10 11 1D 21 31 E1 E3", "resumed", "handed-over"),
    ("10 11 1D 21 31 E1", "stalled", "devices"),
    ("10 11 F0 F2 F9", "stalled-after-recovery", ""),
    ("10 11 F0 F2 F3 F4 10B3 10 11 1D 53", "stalled-after-recovery", "memory"),
    ("10 11 F0 F2 F3 F4 10B3 " + FULL, "handed-over", "handed-over"),
    ("C7 C9", "unclear", ""),
]


@pytest.mark.parametrize(("text", "outcome", "stage"), EXPECTED)
def test_outcomes(tables: TableSet, text: str, outcome: str, stage: str) -> None:
    """With the edk2 table known; phases and kinds: tianocore edk2-platforms PostCodeDebugFeaturePkg."""
    found = traced(events(text), tables)
    assert (found.outcome.value, found.stage) == (outcome, stage)
    assert 0 < found.confidence <= 1


def test_coreboot_outcomes(tables: TableSet) -> None:
    """E3 is a memory fault and F8 a normal last code in coreboot; waking and recovery in edk2 (the sharpest clashes of the
    two)."""
    memory = traced(events("01 10 21 34 36 92 E3"), tables, {"coreboot": 1.0})
    assert (memory.outcome, memory.stage, memory.error) == (BootOutcome.STALLED, "memory", "memory")
    payload = traced(events("01 10 21 34 36 92 98 13 39 6F 70 72 74 75 79 7A F3 F8"), tables, {"coreboot": 1.0})
    assert (payload.outcome, payload.stage) == (BootOutcome.HANDED_OVER, "handed-over")


@pytest.mark.parametrize(
    ("form", "table", "text", "outcome", "stage"),
    [
        (CodeForm.LAMPS, "generic-lamps", "cpu memory", "stalled", "memory"),
        (CodeForm.LAMPS, "generic-lamps", "cpu memory cpu memory cpu memory", "restart-loop", "memory"),
        (CodeForm.LAMPS, "generic-lamps", "cpu memory graphics boot all-passed", "handed-over", "handed-over"),
        (CodeForm.LAMPS, "generic-lamps", "none", "never-started", "no-code"),
        (CodeForm.BEEPS, "generic-beeps", "1-3-1", "stalled", "memory"),
        (CodeForm.STATES, "redfish-boot-progress", "MemoryInitializationStarted", "stalled", "memory"),
        (CodeForm.STATES, "redfish-boot-progress", "MemoryInitializationStarted OSRunning", "handed-over", "handed-over"),
        (CodeForm.FIRMWARE_EVENTS, "ipmi-firmware", "00:01", "stalled", "memory"),
        (CodeForm.FIRMWARE_EVENTS, "ipmi-firmware", "02:01 02:03 02:07 02:13", "handed-over", "handed-over"),
    ],
)
def test_other_forms(tables: TableSet, form: CodeForm, table: str, text: str, outcome: str, stage: str) -> None:
    """Lamps, beeps, states and firmware events go the same way."""
    found = traced(events(text), tables, {table: 1.0}, form=form)
    assert (found.outcome.value, found.stage) == (outcome, stage)


def test_loop_names_its_codes(tables: TableSet) -> None:
    """Period and repeated codes; a lost code and a doubled one do no harm but are told."""
    assert traced(events(MEMORY_LOOP * 4), tables).period == Period(6, 24, tuple(MEMORY_LOOP.split()))
    rounds = [MEMORY_LOOP, "10 11 1E 1F 21 ", MEMORY_LOOP, "10 11 1D 1D 1E 1F 21 ", MEMORY_LOOP, MEMORY_LOOP]
    found = traced(events("".join(rounds)), tables)
    assert found.outcome is BootOutcome.RESTART_LOOP
    assert found.period is not None
    assert not found.period.exact
    assert found.period.codes == tuple(MEMORY_LOOP.split())
    assert found.restarts == 5


def test_single_code_restarts(tables: TableSet) -> None:
    """The same early code once a minute: rounds of one code."""
    found = traced(events("10 10 10 10", at=[0, 60, 119, 178]), tables)
    assert (found.outcome, found.stage) == (BootOutcome.RESTART_LOOP, "cpu")
    assert found.period == Period(1, 4, ("10",))


def test_restart_long_after_hand_over_is_no_loop(tables: TableSet) -> None:
    """Three good starts an hour apart are three good starts; seconds apart they are a loop."""
    codes = events((FULL + " ") * 3)
    n = len(codes) // 3
    slow = [CodeEvent(e.code, at=i * 0.1 + 3600 * (i // n)) for i, e in enumerate(codes)]
    quick = [CodeEvent(e.code, at=i * 0.1 + 8 * (i // n)) for i, e in enumerate(codes)]
    assert traced(slow, tables).outcome is BootOutcome.HANDED_OVER
    assert traced(quick, tables).outcome is BootOutcome.RESTART_LOOP


def test_numbered_good_starts_are_no_loop(tables: TableSet) -> None:
    """A controller that keeps the last boots keeps good ones; without times nothing says that they came at once."""
    codes = [CodeEvent(e.code, boot=boot) for boot in (1, 2, 3) for e in events(FULL)]
    assert traced(codes, tables).outcome is BootOutcome.HANDED_OVER


def test_numbered_boots_that_stop_alike(tables: TableSet) -> None:
    """Somebody may have switched it on each time: less sure than a loop that was watched."""
    codes = [CodeEvent(e.code, boot=boot) for boot in (1, 2, 3, 4) for e in events(MEMORY_LOOP)]
    numbered, watched = traced(codes, tables), traced(events(MEMORY_LOOP * 4), tables)
    assert numbered.outcome is watched.outcome is BootOutcome.RESTART_LOOP
    assert numbered.confidence < 0.7 * watched.confidence


def test_irregular_restarts(tables: TableSet) -> None:
    """It stops at another place each time."""
    found = traced(events("10 11 1D 21 31 10 11 10 11 1D 21 31 60 70 10 11 1D 1E"), tables)
    assert (found.outcome, found.period) == (BootOutcome.RESTART_LOOP, None)
    assert found.confidence < 0.65


# Tables and orders that are not certain.


def test_stage_only_when_most_agree(tables: TableSet) -> None:
    """E3 at the end: one table says memory, the other says handed over."""
    sequence = events("E3")
    even = traced(sequence, tables, {"edk2": 0.45, "coreboot": 0.45, "unknown-map": 0.1})
    assert even.stage == ""
    clear = traced(sequence, tables, {"edk2": 0.05, "coreboot": 0.9, "unknown-map": 0.05})
    assert (clear.outcome, clear.stage) == (BootOutcome.STALLED, "memory")


def test_confidence_is_what_agrees(tables: TableSet) -> None:
    """It grows with the probability of the tables that say so, and the support adds up to all there is."""
    sequence = events("10 11 1D 1E 1F")
    shares = [0.6, 0.8, 1.0]
    found = [traced(sequence, tables, {"edk2": p, "unknown-map": 1 - p} if p < 1 else {"edk2": 1.0}) for p in shares]
    assert [trace.confidence for trace in found] == sorted(trace.confidence for trace in found)
    for trace in found:
        assert sum(weight for _, _, weight in trace.support) == pytest.approx(1)
        assert trace.confidence <= trace.support[0][2]


def test_confidence_falls_with_context(tables: TableSet) -> None:
    """Few codes, steps backwards, a lost beginning."""
    whole, few = boot_sequence(events("10 11 1D 1E 1F"), tables), boot_sequence(events("1F"), tables)
    mixed, late = boot_sequence(events("11 10 1E 1D 1F"), tables), boot_sequence(events("60 62 68 69 6A"), tables)
    values = [context_factor(c, BootOutcome.STALLED, CodeForm.HEX) for c in (whole, few, mixed, late)]
    assert values[0] == max(values)
    assert values[1] == pytest.approx(0.7)
    assert values[2] == pytest.approx((1 - 0.3 / 5) * (1 - 0.5 * 2 / 4))
    assert values[3] == pytest.approx(0.95 * values[0])


def test_unknown_map_still_sees_loops(tables: TableSet) -> None:
    """Codes that no table has: the rounds are there all the same, and no stage is claimed."""
    found = outcome_of(boot_sequence(events("C1 C3 C5 88 " * 4), tables, ""))
    assert (found.outcome, found.stage) == (BootOutcome.RESTART_LOOP, "")
    assert outcome_of(boot_sequence(events("C1 C3 C5 88"), tables, "")).outcome is BootOutcome.UNCLEAR


def test_newest_first_is_turned_round(tables: TableSet) -> None:
    """When the inference says so, and not when the order is certain."""
    backwards = events("21 20 1F 1E 1D 11 10")
    turned = traced(backwards, tables, order_log_odds=-30.0)
    assert (turned.order, turned.stage) == (EventOrder.NEWEST_FIRST, "memory")
    assert [e.code for e in turned.boots[0].events] == ["10", "11", "1D", "1E", "1F", "20", "21"]
    certain = CodeReading(CodeForm.HEX, "test", backwards, order_given=True)
    assert analyse(certain, tables, belief({"edk2": 1.0}, -30.0)).order is EventOrder.OLDEST_FIRST


def test_doubtful_order_lowers_confidence(tables: TableSet) -> None:
    """Both orders are judged when both are likely; a single code is the same both ways."""
    sure = traced(events("10 11 1D 1E"), tables, order_log_odds=30.0)
    doubtful = traced(events("10 11 1D 1E"), tables, order_log_odds=0.5)
    assert doubtful.confidence < sure.confidence
    assert traced(events("1E"), tables, order_log_odds=0.0).confidence == traced(events("1E"), tables).confidence


@pytest.mark.parametrize(
    ("text", "error"),
    [
        ("10 11 1D 53", "memory"),
        ("10 56", "cpu"),
        ("10 1D 21 31 60 D6", "graphics"),
        ("10 1D 21 31 60 D7", "keyboard"),
        ("10 1D 21 31 60 AD D9", "boot-option"),
        ("10 11 F0 F2 FA", "firmware-image"),
        ("10 1D 21 31 60 D8", "other"),
        ("10 11 1D 1E", "none"),
        ("10 11", ""),
        ("10 11 1D 53 10 11 1D 53 10 11 1D 53 10", "memory"),
        ("10 11 1D 53 10 11 1D 21 31 60", "none"),
    ],
)
def test_error_codes(tables: TableSet, text: str, error: str) -> None:
    """What the last error code is about. Source of the codes: edk2-platforms PostCodeDebugFeaturePkg."""
    assert traced(events(text), tables).error == error


def test_generic_ranges_say_no_more_than_they_know(tables: TableSet) -> None:
    """That a range of errors was not met proves nothing on a board with a map of its own."""
    assert traced(events("15 19 2B 31 60"), tables, {"unknown-map": 1.0}).error == ""


def test_nothing_at_all(tables: TableSet) -> None:
    """No events: never started, with little confidence."""
    found = traced((), tables)
    assert (found.outcome, found.boots, found.last) == (BootOutcome.NEVER_STARTED, (), "")
    assert found.confidence < 0.5


SIGNS = st.sampled_from(
    [
        "00",
        "FF",
        "10",
        "11",
        "1D",
        "20",
        "21",
        "31",
        "53",
        "60",
        "92",
        "A4",
        "AD",
        "AF",
        "B3",
        "D9",
        "E1",
        "E3",
        "F2",
        "F9",
        "C7",
        "XX",
        "1090",
        "03101019",
    ]
)
EVENTS = st.lists(st.builds(CodeEvent, SIGNS, at=st.none() | st.floats(0, 1e6), boot=st.none() | st.integers(1, 3)), max_size=40)


@pytest.mark.slow
@given(EVENTS, st.booleans())
def test_always_an_answer(tables: TableSet, sequence: list[CodeEvent], certain: bool) -> None:
    """Whatever the codes: an outcome, a confidence between 0 and 1, and every event in a boot."""
    inference = infer_table(sequence, tables, form=CodeForm.HEX)
    found = analyse(CodeReading(CodeForm.HEX, "test", tuple(sequence), order_given=certain), tables, inference)
    assert 0 <= found.confidence <= 1 + 1e-9
    assert sum(len(boot.events) for boot in found.boots) == len(sequence)
    assert found.restarts <= len(sequence)


@given(st.integers(3, 12), st.integers(0, 5), st.sampled_from([MEMORY_LOOP, "10 11 1D 53 ", "10 1D 21 31 60 ", FULL + " "]))
def test_every_loop_is_found(tables: TableSet, times: int, more: int, one: str) -> None:
    """Any number of rounds, the last cut anywhere."""
    cut = one.split()[:more]
    found = traced(events(one * times + " ".join(cut)), tables)
    assert found.outcome is BootOutcome.RESTART_LOOP
    assert found.period is not None
    assert found.period.covered == times * len(one.split()) + len(cut)


def test_many_unlikely_tables(tables: TableSet) -> None:
    """When no table is worth counting, only what needs no map is said."""
    found = traced(events("10 11 1D 21 " * 4), tables, {f"private-{i}": 1 / 60 for i in range(60)})
    assert (found.outcome, found.stage, found.table) == (BootOutcome.RESTART_LOOP, "", "")
