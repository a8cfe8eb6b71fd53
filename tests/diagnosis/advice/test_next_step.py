"""The step that is advised for small knowledge bases."""

from __future__ import annotations

from dataclasses import replace

import pytest

import small
from nopost.diagnosis.advice import adviser
from nopost.diagnosis.advice.adviser import Step, StepKind
from nopost.diagnosis.belief.evidence import Observations, Report
from nopost.diagnosis.diagnose import Diagnostician
from nopost.knowledge.effects import Effect
from nopost.knowledge.model import Condition, Conditions, Consequence, Knowledge, Rule


def two_causes(ask: float, opening: tuple[str, ...] = (), shop: float = 300.0) -> Knowledge:
    """Two causes of equal weight with a fix each, and a question that tells them well apart."""
    seen = small.finding("lamp", {"off": 0.5, "on": 0.5}, cost=ask)
    causes = [
        small.cause("lead", 0.5, {"lamp": {"off": 0.98, "on": 0.02}}, {"replace-lead": 0.9}),
        small.cause("board", 0.5, {"lamp": {"off": 0.02, "on": 0.98}}, {"replace-board": 0.9}),
    ]
    base = small.base(unlisted=0.01, shop=shop)
    fixes = [small.fix("replace-lead", 20.0), small.fix("replace-board", 60.0)]
    return small.knowledge([seen], causes, fixes, base_=base)


def steps(knowledge: Knowledge, seen: Observations | None = None) -> list[Step]:
    """What is advised, then the other steps."""
    advice = Diagnostician(knowledge).assess(seen or Observations()).advice
    return [advice.step, *advice.others]


def test_a_cheap_question_that_tells_much_is_asked_first() -> None:
    """It saves half of the dear fixes."""
    first = steps(two_causes(ask=1.0))[0]
    assert (first.kind, first.id) == (StepKind.ASK, "lamp")


def test_a_question_dearer_than_its_gain_is_not_named() -> None:
    """Whatever it would tell."""
    assert all(step.kind is not StepKind.ASK for step in steps(two_causes(ask=50.0)))


@pytest.mark.parametrize("ask", [1.0, 10.0, 15.0, 20.0, 30.0, 50.0])
def test_a_question_is_named_only_when_it_beats_acting_at_once(ask: float) -> None:
    """Its total is less than what the plan without it costs."""
    advice = Diagnostician(two_causes(ask)).assess(Observations()).advice
    assert all(
        step.expected_total_cost < advice.expected_cost_of_repair_now
        for step in (advice.step, *advice.others)
        if step.kind is StepKind.ASK
    )


def test_a_question_may_wait_for_a_cheap_fix() -> None:
    """It is worth its cost now, and more so after the first fix has failed for half of the machines."""
    seen = small.finding("lamp", {"off": 0.9, "on": 0.1}, cost=4.0)
    causes = [
        small.cause("lead", 0.6, {}, {"replace-lead": 0.95}),
        small.cause("board", 0.2, {"lamp": {"off": 0.05, "on": 0.95}}, {"replace-board": 0.95}),
        small.cause("supply", 0.2, {}, {"replace-supply": 0.95}),
    ]
    fixes = [small.fix("replace-lead", 3.0), small.fix("replace-board", 60.0), small.fix("replace-supply", 40.0)]
    knowledge = small.knowledge([seen], causes, fixes, base_=small.base(unlisted=0.01, shop=300.0))
    first, *others = steps(knowledge)
    assert (first.kind, first.id) == (StepKind.DO, "replace-lead")
    assert others[0].id == "lamp"
    assert steps(knowledge, Observations(tried=("replace-lead",)))[0].id == "lamp"


def test_the_answer_decides_the_fix() -> None:
    """The lamp is on: it is the board."""
    first = steps(two_causes(ask=1.0), Observations(reports=(Report("lamp", "on"),)))[0]
    assert (first.kind, first.id) == (StepKind.DO, "replace-board")


def with_rule(opening: tuple[str, ...] = ()) -> Knowledge:
    """The dear fix is put first once the lamp is off, although the cheap one is the right one then."""
    knowledge = two_causes(ask=1.0, opening=opening)
    when = Conditions(all=(Condition(False, "lamp", ("off",)),))
    rule = Rule("first", "First", when, (Consequence(Effect.DO_FIRST, "replace-board"),), "It is dangerous as it is.")
    other = small.finding("sound", {"off": 0.5, "on": 0.5}, cost=1.0)
    base = replace(knowledge.base, opening=opening)
    return replace(knowledge, findings={**knowledge.findings, "sound": other}, rules={"first": rule}, base=base)


def test_a_rule_may_put_a_fix_first() -> None:
    """Whatever it is worth, and the step says which rule; not when the person cannot, nor when it was done."""
    off = (Report("lamp", "off"),)
    first = steps(with_rule(), Observations(off))[0]
    assert (first.kind, first.id, first.rule) == (StepKind.DO, "replace-board", "first")
    for seen in (Observations(off, skipped=frozenset({"replace-board"})), Observations(off, tried=("replace-board",))):
        assert (steps(with_rule(), seen)[0].id, steps(with_rule(), seen)[0].rule) == ("replace-lead", "")
    assert steps(with_rule(), Observations((Report("lamp", "on"),)))[0].rule == ""


def test_only_harmless_questions_come_before_a_fix_that_a_rule_puts_first() -> None:
    """Opening questions that need no power; those that need it wait."""
    seen = Observations((Report("lamp", "off"),))
    knowledge = with_rule(opening=("sound",))
    assert steps(knowledge, seen)[0].id == "sound"
    powered = {**knowledge.findings, "sound": replace(knowledge.findings["sound"], powered=True)}
    assert steps(replace(knowledge, findings=powered), seen)[0].id == "replace-board"


def test_a_fix_that_failed_is_not_advised_again() -> None:
    """It is evidence for the other cause."""
    seen = Observations(reports=(Report("lamp", "off"),), tried=("replace-lead",))
    assert all(step.id != "replace-lead" for step in steps(two_causes(ask=1.0), seen))


def test_a_fix_that_failed_may_have_mended_one_of_two() -> None:
    """By hand: lead, board and both 0.33 each; then 0.033, 0.33 and (both 0.033, board 0.297), of 0.703 in all.

    What is still both counts half, as if one of the two were there: at most 0.9 * 0.0165 / 0.703 too much.
    """
    knowledge = two_causes(ask=1000.0)
    knowledge = replace(knowledge, base=replace(knowledge.base, two_faults=0.5))
    first = steps(knowledge, Observations(tried=("replace-lead",)))[0]
    assert first.id == "replace-board"
    assert 0.9 * 0.627 / 0.703 - 1e-3 < first.success_probability < 0.9 * (0.627 + 0.0165) / 0.703 + 1e-3


def test_a_cheap_shop_ends_it_at_once() -> None:
    """Nothing is worth trying when it costs more than the shop."""
    first = steps(two_causes(ask=1.0, shop=5.0))[0]
    assert first.kind is StepKind.LAST_RESORT
    assert first.expected_total_cost == pytest.approx(5.0)


def test_totals_rise_from_the_advised_step_on() -> None:
    """The advised step is the one of the least expected total."""
    totals = [step.expected_total_cost for step in steps(two_causes(ask=1.0))]
    assert totals == sorted(totals)


def test_the_same_observations_give_the_same_advice() -> None:
    """An assessment has no memory."""
    diagnostician = Diagnostician(two_causes(ask=1.0))
    before = diagnostician.assess(Observations()).advice
    diagnostician.assess(Observations(reports=(Report("lamp", "on"),), tried=("replace-board",)))
    assert diagnostician.assess(Observations()).advice == before


def with_look(ask: float) -> Knowledge:
    """A cheap fix that is best at once, and a look that shows whether it is needed, dear or cheap."""
    seen = small.finding("plug", {"home": 0.95, "out": 0.05}, cost=ask)
    causes = [
        small.cause("plug-out", 0.6, {"plug": {"home": 0.01, "out": 0.99}}, {"push-plug": 0.95}),
        small.cause("board", 0.4, {}, {"replace-board": 0.95}),
    ]
    fixes = [replace(small.fix("push-plug", 10.0), look_first="plug"), small.fix("replace-board", 60.0)]
    return small.knowledge([seen], causes, fixes, base_=small.base(unlisted=0.01, shop=300.0))


def test_a_look_comes_before_the_fix_that_names_it() -> None:
    """Even when it would not be asked for its own sake; once it was made, or cannot be told, the fix comes."""
    knowledge = with_look(ask=30.0)
    first = steps(knowledge)[0]
    assert (first.kind, first.id, first.spares) == (StepKind.ASK, "plug", "push-plug")
    for answer in ("out", "unknown"):
        after = steps(knowledge, Observations(reports=(Report("plug", answer),)))[0]
        assert (after.kind, after.id, after.spares) == (StepKind.DO, "push-plug", "")
    plain = replace(knowledge, actions={name: replace(a, look_first="") for name, a in knowledge.actions.items()})
    assert steps(plain)[0].id == "push-plug"


def test_a_look_that_shows_that_a_fix_is_not_needed_spares_it() -> None:
    """What was plugged in all the time is not pushed before the board is replaced."""
    after = steps(with_look(ask=1.0), Observations(reports=(Report("plug", "home"),)))[0]
    assert (after.kind, after.id) == (StepKind.DO, "replace-board")


def test_a_question_that_saves_next_to_nothing_is_not_asked() -> None:
    """The same question is asked when it costs nothing, and not when what it saves is less than the least share."""
    seen = small.finding("lamp", {"off": 0.5, "on": 0.5}, cost=0.0)
    causes = [
        small.cause("lead", 0.5, {"lamp": {"off": 0.53, "on": 0.47}}, {"replace-lead": 0.9}),
        small.cause("board", 0.5, {"lamp": {"off": 0.47, "on": 0.53}}, {"replace-board": 0.9}),
    ]
    fixes = [small.fix("replace-lead", 30.0), small.fix("replace-board", 31.0)]
    knowledge = small.knowledge([seen], causes, fixes, base_=small.base(unlisted=0.01, shop=300.0))
    gain = 1 - min(step.expected_total_cost for step in steps_without_least(knowledge)) / plan_cost(knowledge)
    assert 0 < gain < adviser.LEAST_VALUE
    assert steps(knowledge)[0].kind is StepKind.DO


def steps_without_least(knowledge: Knowledge) -> list[Step]:
    """What is advised when every gain counts."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(adviser, "LEAST_VALUE", 0.0)
        return steps(knowledge)


def plan_cost(knowledge: Knowledge) -> float:
    """Expected cost of repair when nothing more is asked."""
    return Diagnostician(knowledge).assess(Observations()).advice.expected_cost_of_repair_now
