"""What the codes say to the rest: answers that exist, and none without confidence."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from codes.boot_sequences import FULL, events, traced
from nopost.codes.boot_outcome import BootOutcome
from nopost.codes.boots import error_group
from nopost.codes.decode import answers_from_trace, decode
from nopost.codes.tables import TableSet
from nopost.codes.trace import NO_ERROR
from nopost.codes.wording import code_sentence
from nopost.diagnosis.belief.evidence import Observations, Report
from nopost.diagnosis.diagnose import Diagnostician
from nopost.knowledge.model import Knowledge
from nopost.knowledge.reference_records import Code
from nopost.knowledge.roles import FROM_CODES, AnsweredFinding, FindingRole, Roles


@pytest.mark.parametrize(
    ("text", "answers"),
    [
        (FULL, {"trace-stage": "handed-over", "boot-outcome": "reaches-end", "error-code": "none"}),
        ("10 11 1D 1E 53", {"trace-stage": "memory", "boot-outcome": "stops", "error-code": "memory"}),
        ("10 11 1D 21 " * 4, {"trace-stage": "memory", "boot-outcome": "goes-round", "error-code": "none"}),
        ("10 11 1D 1E 20 21*30", {"trace-stage": "memory", "boot-outcome": "stays-busy", "error-code": "none"}),
        ("10 11 F0 F2 F9", {"boot-outcome": "stops-after-recovery", "error-code": "firmware-image"}),
        ("10 11 1D 21 31 E1 E3", {"trace-stage": "handed-over", "boot-outcome": "reaches-end", "error-code": "none"}),
        ("00 00", {"trace-stage": "no-code", "boot-outcome": "never-begins"}),
        ("C7 C9", {}),
    ],
)
def test_answers(tables: TableSet, text: str, answers: dict[str, str]) -> None:
    """With the table known."""
    assert answers_from_trace(traced(events(text), tables), tables.roles) == answers


def test_silent_when_unsure(tables: TableSet) -> None:
    """Two tables at odds say nothing; nor does an empty record."""
    assert answers_from_trace(traced(events("E3"), tables, {"edk2": 0.5, "coreboot": 0.5}), tables.roles) == {}
    assert answers_from_trace(traced((), tables), tables.roles) == {}


@pytest.mark.slow
@given(
    st.lists(
        st.sampled_from(
            [
                "00",
                "FF",
                "10",
                "11",
                "1D",
                "21",
                "31",
                "53",
                "56",
                "60",
                "AD",
                "AF",
                "B3",
                "D6",
                "D7",
                "D9",
                "E1",
                "E3",
                "F2",
                "F9",
            ]
        ),
        max_size=25,
    )
)
def test_answers_exist(tables: TableSet, knowledge: Knowledge, codes: list[str]) -> None:
    """Every answer is one of its finding."""
    for finding, answer in answers_from_trace(traced(events(" ".join(codes)), tables), tables.roles).items():
        assert answer in knowledge.findings[finding].answer_ids


def test_all_answers_can_be_given(knowledge: Knowledge) -> None:
    """Each answer of the findings comes from some outcome, stage or error code of the shipped tables."""
    rows = [code for table in knowledge.codes.values() for code in table.codes]
    seen = {
        FindingRole.CODES_OUTCOME: set(BootOutcome) - {BootOutcome.UNCLEAR},
        FindingRole.CODES_STAGE: {code.stage for code in rows if code.stage},
        FindingRole.CODES_ERROR: {error_group(code) for code in rows if code.kind == "error"} | {NO_ERROR},
    }
    assert set(seen) == set(FROM_CODES)
    for role, whats in seen.items():
        answered = knowledge.base.roles.findings[role]
        assert set(answered.answers) == whats
        assert set(knowledge.findings[answered.finding].answer_ids) == set(answered.answers.values())


def test_what_an_error_is_about() -> None:
    """What the row says goes before its stage; a stage that names no part says nothing."""
    code = Code("E0", "dxe", "error", "Something is wrong")
    assert error_group(code) == "other"
    assert error_group(replace(code, stage="boot-device")) == "other"
    assert error_group(replace(code, stage="memory")) == "memory"
    assert error_group(replace(code, stage="memory", about="keyboard")) == "keyboard"


def test_without_roles_codes_answer_nothing(knowledge: Knowledge) -> None:
    """A knowledge base that gives these findings no role is told nothing, nor is one whose role has no such answer."""
    plain = TableSet(knowledge.codes)
    trace = traced(events("10 11 1D 1E 53"), plain)
    assert answers_from_trace(trace, plain.roles) == {}
    roles = Roles({FindingRole.CODES_STAGE: AnsweredFinding("place", {"memory": "early", "cpu": "first"})})
    assert answers_from_trace(trace, roles) == {"place": "early"}
    assert answers_from_trace(traced(events("10 11 1D 21 31 E1 E3"), plain), roles) == {}


@pytest.mark.slow
@pytest.mark.parametrize(
    ("text", "more", "cause"),
    [
        (FULL, {"screen": "no-signal"}, "display-socket-or-input"),
        ("10 11 1D 1E 53", {}, "memory-not-seated"),
        ("10 11 F0 F2 F9", {}, "corrupt-firmware"),
        ("10 11 1D 1E 20 21*30", {"occasion": "after-memory-change"}, "memory-training-wait"),
        ("10 11 1D 21 " * 4, {"speed-settings": "rated-profile"}, "memory-profile-unstable"),
        (FULL.removesuffix(" AD AF") + " AD D9", {"screen": "message"}, "no-boot-device"),
        ("10 11 1D 21 31 60 70 90 97 D6", {"screen": "no-signal"}, "gpu-not-seated"),
    ],
)
def test_they_lead_to_the_cause(
    tables: TableSet, diagnostician: Diagnostician, text: str, more: dict[str, str], cause: str
) -> None:
    """With a word more from the person the likely cause is among the first three (judgement, no source)."""
    answers = {"response": "runs", **more} | answers_from_trace(traced(events(text), tables), tables.roles)
    assessed = diagnostician.assess(Observations(tuple(Report(name, answer) for name, answer in answers.items())))
    assert cause in [name for name, _ in assessed.ranking[:3]]


def test_recovery_keeps_the_power_on(tables: TableSet, diagnostician: Diagnostician) -> None:
    """The caution not to cut the power is shown."""
    answers = answers_from_trace(traced(events("10 11 F0 F2 F3"), tables), tables.roles)
    assessed = diagnostician.assess(Observations(tuple(Report(name, answer) for name, answer in answers.items())))

    assert "no-power-cut" in assessed.inference.cautions


def test_a_status_value_of_no_table_is_taken_apart(tables: TableSet) -> None:
    """0x7FEE0001 is in no table; its parts are those of the PI specification's layout."""
    (found,) = decode("PROGRESS CODE: V7FEE0001 I0", tables)
    words = code_sentence(found.events[-1], found, tables)
    assert words.startswith("in none of the tables; a status value: class 7F")
