"""What is there: who tells it, who goes before whom, and what follows for questions, causes and tools."""

from __future__ import annotations

from dataclasses import replace

import pytest

from nopost.diagnosis.diagnose import Diagnosis, Diagnostician
from nopost.diagnosis.history import EventKind, History, Parts, case_history
from nopost.diagnosis.inventory import ToldBy, parts_of_answers, person_here
from nopost.diagnosis.step_view import step_view
from nopost.errors import UnknownNameError
from nopost.evaluation.case_files import name_problems
from nopost.knowledge.model import ABSENT, UNKNOWN, Case, Knowledge

NO_CARD = ("gpu-dead", "gpu-not-seated", "gpu-power-cable-missing", "pcie-lane-or-riser-setting")


def told(**there: str) -> History:
    """A history of nothing but what was told; `_` stands for `-`."""
    return History(Parts(there={name.replace("_", "-"): choice for name, choice in there.items()}))


def closed(found: Diagnosis) -> set[str]:
    """Ids of what cannot be asked or done."""
    return {name for _, name in found.inference.closed}


def test_what_is_not_there_is_not_asked_and_cannot_be_wrong(diagnostician: Diagnostician) -> None:
    """No card: its questions and fixes are closed, its causes impossible; and the rest still sums to 1."""
    found = diagnostician.diagnose(told(has_card="no"))
    assert {"card-seated", "gpu-plug", "video-socket", "reseat-card", "replace-card"} <= closed(found)
    ranking = dict(found.ranking)
    assert all(ranking[cause] == 0.0 for cause in NO_CARD)
    assert float(found.posterior.sum()) == pytest.approx(1.0)


def test_what_is_not_known_closes_nothing(diagnostician: Diagnostician) -> None:
    """Each entry can be left out."""
    assert diagnostician.diagnose(History()).inference.ruled_out == {}
    assert closed(diagnostician.diagnose(History())) == set()


@pytest.mark.parametrize(
    ("entry", "question"),
    [
        ("has-stage-lamps", "stage-lamp"),
        ("has-code-display", "code-display"),
        ("has-speaker", "beeps"),
        ("water-cooler", "pump-runs"),
    ],
)
def test_an_absent_part_settles_its_entry(diagnostician: Diagnostician, entry: str, question: str) -> None:
    """What was said to be absent once is not there anywhere else; "can't tell" says nothing of it."""
    absent = History().add(EventKind.ANSWER, question, ABSENT)
    assert diagnostician.diagnose(absent).seen.facts[entry] == "no"
    assert entry not in diagnostician.diagnose(History().add(EventKind.ANSWER, question, UNKNOWN)).seen.facts
    assert entry not in diagnostician.diagnose(absent.undo()).seen.facts


def test_the_person_goes_before_answers_and_these_before_the_record(diagnostician: Diagnostician) -> None:
    """A board whose record has stage lamps: a person who sees none is believed, and can say otherwise later."""
    knowledge = diagnostician.knowledge
    board = next(b.id for b in knowledge.boards.values() if b.indicators["stage_lamps"])
    history = History(Parts(board=board))

    def entry(history: History) -> tuple[str, ToldBy | None]:
        view = step_view(diagnostician, history, diagnostician.diagnose(history))
        lamps = next(each for each in view.inventory if each.id == "has-stage-lamps")
        assert diagnostician.diagnose(history).seen.facts["has-stage-lamps"] == lamps.told
        return lamps.told, lamps.by

    assert entry(history) == ("yes", ToldBy.RECORD)
    history = history.add(EventKind.ANSWER, "stage-lamp", ABSENT)
    assert entry(history) == ("no", ToldBy.ANSWER)
    history = replace(history, parts=history.parts.tell("has-stage-lamps", "yes"))
    assert entry(history) == ("yes", ToldBy.PERSON)
    history = replace(history, parts=history.parts.tell("has-stage-lamps", ""))
    assert entry(history) == ("no", ToldBy.ANSWER)


def test_answers_that_tell_two_things_tell_nothing(knowledge: Knowledge) -> None:
    """A card that sits well, and a monitor lead that cannot be in a card since there is none."""
    assert parts_of_answers(knowledge, {"card-seated": "latched", "video-socket": ABSENT}) == {}
    assert parts_of_answers(knowledge, {"card-seated": "latched", "no-such-finding": "yes"}) == {"has-card": "yes"}


def test_the_old_part_of_an_upgrade_is_at_hand(diagnostician: Diagnostician) -> None:
    """After another CPU was fitted the old one lies there, and costs nothing to get, unless it is told that it is gone."""
    knowledge = diagnostician.knowledge
    history = History().add(EventKind.ANSWER, "occasion", "after-cpu-change")

    def at_hand(history: History) -> bool:
        facts = diagnostician.diagnose(history).seen.facts
        return "spare-cpu" in person_here(knowledge, history.parts, facts).at_hand

    assert at_hand(history)
    assert not at_hand(replace(history, parts=history.parts.tell("old-cpu", "no")))
    assert not at_hand(History())


def test_no_source_of_a_picture_follows_from_both(diagnostician: Diagnostician) -> None:
    """Neither a card nor graphics in the CPU: nothing can make a picture, and it need not be asked."""
    found = diagnostician.diagnose(told(has_card="no", cpu_graphics="no"))
    assert found.inference.derived["graphics-source"].answer == "none"
    assert found.ranking[0][0] == "no-graphics-source"


def test_cases_name_what_is_there(knowledge: Knowledge) -> None:
    """The records of a case hold it; what the knowledge base does not have is told with its place."""
    case = Case("one", "One", {"response": "runs"}, (), {"there": {"has-card": "no", "sail": "yes"}}, {})
    assert case_history(case).parts.there["has-card"] == "no"
    assert [where for where, _ in name_problems(case, knowledge)] == [("records", "there", "sail")]
    wrong = replace(case, records={"there": {"has-card": "perhaps"}})
    with pytest.raises(UnknownNameError, match="perhaps"):
        raise next(error for _, error in name_problems(wrong, knowledge))


def test_areas_sum_hypotheses_and_not_causes_twice(diagnostician: Diagnostician) -> None:
    """An area is wrong when one of its causes is there: checked hypothesis by hypothesis, after a fix in vain."""
    history = History().add(EventKind.ANSWER, "response", "runs").add(EventKind.TRIED, "reseat-memory", "changed")
    found, h, base = diagnostician.diagnose(history), diagnostician.model.hypotheses, diagnostician.knowledge.base
    area = [base.area_of(diagnostician.knowledge.causes[cause]) for cause in h.causes]
    for name, p in found.areas:
        there = [name in {area[i], area[j]} and i >= 0 for i, j in zip(h.first, h.second, strict=True)]
        assert p == pytest.approx(float(found.current[there].sum()))
    assert [p for _, p in found.areas] == sorted((p for _, p in found.areas), reverse=True)


def test_what_is_shown_is_still_wrong(diagnostician: Diagnostician) -> None:
    """After fixes of which one changed something, the shown causes are those that remain, not those of the start."""
    history = History().add(EventKind.ANSWER, "response", "runs").add(EventKind.ANSWER, "memory-seated", "not-fully")
    history = history.add(EventKind.TRIED, "reseat-memory", "changed")
    found = diagnostician.diagnose(history)
    start, now = dict(found.ranking), dict(found.remaining)
    assert now["memory-not-seated"] < start["memory-not-seated"]
    view = step_view(diagnostician, history, found)
    assert {c.id: c.probability for c in view.causes if c.id} == now
