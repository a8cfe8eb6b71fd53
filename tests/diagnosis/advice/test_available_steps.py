"""What can be asked and done in a state of a session."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import pytest

import small
from nopost.diagnosis.advice.available_steps import AvailableSteps
from nopost.diagnosis.belief.evidence import Observations, Report
from nopost.diagnosis.rules.engine import RuleEngine
from nopost.knowledge.effects import Effect
from nopost.knowledge.model import ABSENT, UNKNOWN, Action, Condition, Conditions, Consequence, Finding, Hazard, Knowledge, Rule

HALF = {"no": 0.5, "yes": 0.5}
LAMP_ON = Conditions(all=(Condition(False, "lamp", ("yes",)),))
RECORD = Conditions(none=(Condition(True, "display", ("no",)),))


HAZARDS = {"smoke": Hazard("smoke", "Smoke", "Unplug.", stop=True), "edge": Hazard("edge", "Edge", "Mind.")}
CODE = small.finding("code", HALF)


def base(*rules: Rule, code: Finding = CODE) -> Knowledge:
    """A lamp and a code to look at, two fixes, and a measurement that is a test."""
    test = replace(small.fix("measure", 5.0), kind="test", powered=True)
    actions: list[Action] = [small.fix("mend", 5.0), test, replace(small.fix("powered-mend", 5.0), powered=True)]
    causes = [small.cause("lead", 1.0, {}, {"mend": 0.9})]
    return replace(small.knowledge([small.finding("lamp", HALF), code], causes, actions, rules), hazards=HAZARDS)


def rule(verb: Effect, target: str, answer: str = "") -> Rule:
    """When the lamp is on, this follows."""
    return Rule("lamp-rule", "Lamp", LAMP_ON, (Consequence(verb, target, answer),))


def offered(knowledge: Knowledge, seen: Observations) -> tuple[set[str], set[str]]:
    """Questions and fixes on offer."""
    offers = AvailableSteps(knowledge, seen, RuleEngine(knowledge.rules).run(seen.current(), seen.facts))
    return ids(offers.questions()), ids(offers.fixes())


def ids(items: Iterable[Finding | Action]) -> set[str]:
    """Their ids."""
    return {item.id for item in items}


def saw(**answers: str) -> Observations:
    """Answers, all before any fix."""
    return Observations(tuple(Report(finding, answer) for finding, answer in answers.items()))


def test_everything_is_on_offer_at_first_but_tests_are_no_fixes() -> None:
    """Two questions, two fixes."""
    assert offered(base(), Observations()) == ({"lamp", "code"}, {"mend", "powered-mend"})


@pytest.mark.parametrize("answer", ["yes", "no", UNKNOWN, ABSENT])
def test_what_was_answered_is_not_asked_again(answer: str) -> None:
    """Reserved answers settle a question too."""
    assert offered(base(), saw(lamp=answer))[0] == {"code"}


def test_a_stale_answer_is_asked_again_and_holds_no_longer() -> None:
    """A fix may have changed it."""
    seen = replace(saw(lamp="yes"), stale=frozenset({"lamp"}))
    assert seen.current() == {}
    assert "lamp" in offered(base(), seen)[0]


def test_a_fix_is_not_offered_twice_nor_against_the_will() -> None:
    """Tried or skipped."""
    assert offered(base(), Observations(tried=("mend",)))[1] == {"powered-mend"}
    assert offered(base(), Observations(skipped=frozenset({"mend"})))[1] == {"powered-mend"}


def test_a_question_that_needs_a_skipped_test_is_not_asked() -> None:
    """Nobody can answer it without."""
    assert offered(base(code=replace(CODE, action="measure")), Observations())[0] == {"lamp", "code"}
    assert offered(base(code=replace(CODE, action="measure")), Observations(skipped=frozenset({"measure"})))[0] == {"lamp"}


@pytest.mark.parametrize(("seen", "asked"), [(saw(), False), (saw(lamp="no"), False), (saw(lamp="yes"), True)])
def test_a_precondition_must_hold(seen: Observations, asked: bool) -> None:
    """What is not known does not hold."""
    assert ("code" in offered(base(code=replace(CODE, when=LAMP_ON)), seen)[0]) is asked


def test_the_records_count_as_preconditions() -> None:
    """No code display on this board: no question about it."""
    assert "code" in offered(base(code=replace(CODE, when=RECORD)), Observations())[0]
    assert "code" not in offered(base(code=replace(CODE, when=RECORD)), Observations(facts={"display": "no"}))[0]


def test_a_derived_answer_need_not_be_asked() -> None:
    """A rule has settled it."""
    assert offered(base(rule(Effect.DERIVE, "code", "no")), saw(lamp="yes"))[0] == set()


def test_rules_open_and_close_questions() -> None:
    """A closed one waits for its rule."""
    opening, closing = (
        base(rule(Effect.OPEN_QUESTION, "code"), code=replace(CODE, closed=True)),
        base(rule(Effect.CLOSE_QUESTION, "code")),
    )
    assert "code" not in offered(opening, Observations())[0]
    assert "code" in offered(opening, saw(lamp="yes"))[0]
    assert "code" in offered(closing, Observations())[0]
    assert "code" not in offered(closing, saw(lamp="yes"))[0]


def test_rules_close_fixes() -> None:
    """And leave the others."""
    assert offered(base(rule(Effect.CLOSE_ACTION, "mend")), saw(lamp="yes"))[1] == {"powered-mend"}


def test_the_fix_that_ends_a_danger_is_offered_under_its_stop() -> None:
    """Only that one, and only for the stop of the rule that puts it first."""
    both = (Consequence(Effect.CAUTION, "smoke"), Consequence(Effect.DO_FIRST, "powered-mend"))
    one = Rule("lamp-rule", "Lamp", LAMP_ON, both)
    assert offered(base(one), saw(lamp="yes"))[1] == {"mend", "powered-mend"}
    other = Rule("other", "Other", LAMP_ON, (Consequence(Effect.CAUTION, "smoke"),))
    apart = Rule("lamp-rule", "Lamp", LAMP_ON, both[1:])
    assert offered(base(apart, other), saw(lamp="yes"))[1] == {"mend"}


def test_a_stopping_hazard_takes_all_that_needs_power_away() -> None:
    """Questions whose test needs power too; another hazard does not."""
    stop, mind = (
        base(rule(Effect.CAUTION, "smoke"), code=replace(CODE, action="measure")),
        base(rule(Effect.CAUTION, "edge"), code=replace(CODE, action="measure")),
    )
    assert offered(stop, saw(lamp="yes")) == (set(), {"mend"})
    assert offered(mind, saw(lamp="yes")) == ({"code"}, {"mend", "powered-mend"})


def keeping(name: str, *exceptions: str) -> Rule:
    """When the lamp is on, only these may have power."""
    return Rule(name, "Keep off", LAMP_ON, (Consequence(Effect.KEEP_UNPOWERED, "", exceptions=exceptions),))


@pytest.mark.parametrize(
    ("exceptions", "asked", "done"),
    [
        ((), set(), {"mend"}),
        (("powered-mend",), set(), {"mend", "powered-mend"}),
        (("measure",), {"code"}, {"mend"}),
    ],
)
def test_what_is_kept_unpowered_waits(exceptions: tuple[str, ...], asked: set[str], done: set[str]) -> None:
    """A question is excepted by the test that it needs; what needs no power is never kept back."""
    knowledge = base(keeping("keep", *exceptions), code=replace(CODE, action="measure", powered=True))
    assert offered(knowledge, saw(lamp="yes")) == (asked, done)
    assert offered(knowledge, saw(lamp="no")) == ({"code"}, {"mend", "powered-mend"})


def test_of_two_rules_that_keep_it_unpowered_both_must_except() -> None:
    """One exception is no permission by the other."""
    both = keeping("one", "powered-mend"), keeping("two", "measure")
    assert offered(base(*both), saw(lamp="yes"))[1] == {"mend"}
    same = keeping("one", "powered-mend"), keeping("two", "measure", "powered-mend")
    assert offered(base(*same), saw(lamp="yes"))[1] == {"mend", "powered-mend"}


def test_in_one_epoch_the_last_report_counts() -> None:
    """A correction replaces; the same answer after a fix is no new evidence, another one is."""
    reports = (
        Report("lamp", "no"),
        Report("lamp", "yes"),
        Report("lamp", "yes", 1),
        Report("lamp", "no", 2),
        Report("code", UNKNOWN),
    )
    assert Observations(reports).telling() == (Report("lamp", "yes"), Report("lamp", "no", 2))
