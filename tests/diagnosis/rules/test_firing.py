"""Experta fires exactly what the plain-Python oracle fires, in the same order and with the same result."""

from __future__ import annotations

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnosis.rules import oracle
from diagnosis.rules.oracle import derive, rule, seen
from nopost.diagnosis.rules.engine import APPLICATIONS, Contradiction, DerivedAnswer, Firing, RuleEngine, firing_order
from nopost.knowledge.effects import EFFECTS, Effect
from nopost.knowledge.model import ABSENT, Condition, Consequence, Knowledge, Rule
from nopost.knowledge.reference_records import FACTS
from schema_walk import SCHEMAS

Situations = list[tuple[dict[str, str], dict[str, str]]]


@pytest.mark.slow
@settings(max_examples=120)
@given(oracle.rule_sets(), st.lists(st.tuples(oracle.answer_sets(), oracle.fact_sets()), min_size=2, max_size=4))
def test_experta_equals_the_oracle(rules: dict[str, Rule], situations: Situations) -> None:
    """One engine, many evaluations: nothing is left over from the one before."""
    engine = RuleEngine(rules)
    for answers, facts in (*situations, *reversed(situations)):
        assert engine.run(answers, facts) == oracle.run(rules, answers, facts)


@pytest.mark.slow
@settings(max_examples=120)
@given(oracle.rule_sets(), oracle.answer_sets(), oracle.fact_sets())
def test_what_fired_holds_in_the_end(rules: dict[str, Rule], answers: dict[str, str], facts: dict[str, str]) -> None:
    """Layers do their work: nothing that a 'none' relied on turns up later, and nothing that holds is forgotten."""
    outcome = oracle.run(rules, answers, facts)
    final = outcome.answers()
    assert {f.rule for f in outcome.firings} == {name for name, r in rules.items() if r.when.hold(final, facts)}


@pytest.mark.slow
@settings(max_examples=100)
@given(oracle.rule_sets(most=8), oracle.answer_sets(), st.randoms(use_true_random=False))
def test_order_of_answers_and_rules_is_nothing(rules: dict[str, Rule], answers: dict[str, str], rng: random.Random) -> None:
    """Shuffled rules and answers lead to the same firings."""
    names, pairs = list(rules), list(answers.items())
    rng.shuffle(names)
    rng.shuffle(pairs)
    assert RuleEngine({n: rules[n] for n in names}).run(dict(pairs), {}) == RuleEngine(rules).run(answers, {})


@pytest.mark.slow
def test_shipped_rules(knowledge: Knowledge) -> None:
    """1,000 random states of knowledge, through one engine."""
    rng = random.Random(0)
    engine = RuleEngine(knowledge.rules)
    ordered = firing_order(knowledge.rules)
    fired = set()
    for _ in range(1000):
        names = rng.sample(list(knowledge.findings), rng.randint(0, 25))
        answers = {name: rng.choice((*knowledge.findings[name].answer_ids, ABSENT)) for name in names}
        facts = {name: rng.choice(FACTS[name]) for name in FACTS if rng.random() < 0.3}
        outcome = engine.run(answers, facts)
        assert outcome == oracle.run_in_order(ordered, answers, facts)
        fired |= {f.rule for f in outcome.firings}
    assert len(fired) > len(knowledge.rules) / 2


def test_chain_and_support() -> None:
    """A conclusion is the premise of the next rule, and each firing tells what it rests on."""
    rules = _by_id(
        rule("one", [seen("f0", "a", "b")], [], [derive("g0", "a")]),
        rule("two", [seen("g0", "a"), Condition(True, "k0", ("c",))], [], [derive("g1", "b")]),
    )
    outcome = RuleEngine(rules).run({"f0": "b"}, {"k0": "c"})
    assert outcome.firings == (Firing("one", (("f0", "b"),)), Firing("two", (("g0", "a"), ("k0", "c"))))
    assert outcome.derived["g1"] == DerivedAnswer("b", "two", frozenset({"g0", "f0"}))
    assert outcome.answers() == {"f0": "b", "g0": "a", "g1": "b"}


def test_rule_fires_once_for_several_values() -> None:
    """Any-of values and a condition said twice are no reason to fire twice."""
    rules = _by_id(rule("one", [seen("f0", "a", "b"), seen("f0", "b", "c")], [], [Consequence(Effect.WEIGH, "x", decibans=1.0)]))
    engine = RuleEngine(rules)
    assert [len(engine.run({"f0": value}, {}).weights) for value in "abc"] == [0, 1, 0]


def test_first_of_several_derivers_settles_it() -> None:
    """A second rule with another answer is noted as a contradiction; one with the same answer is not."""
    rules = _by_id(*(rule(name, [seen("f0", "a")], [], [derive("g0", answer)]) for name, answer in ("xb", "yc", "zb")))
    outcome = RuleEngine(rules).run({"f0": "a"}, {})
    assert outcome.derived["g0"].rule == "x"
    assert outcome.contradictions == (Contradiction("g0", "b", "c", "y"),)


def test_reported_answer_stands() -> None:
    """What was seen outranks what a rule says, and the difference is noted."""
    rules = _by_id(rule("one", [seen("f0", "a")], [], [derive("g0", "b")]))
    outcome = RuleEngine(rules).run({"f0": "a", "g0": "c"}, {})
    assert outcome.derived == {}
    assert outcome.answer("g0") == "c"
    assert outcome.contradictions == (Contradiction("g0", "c", "b", "one"),)


def test_fact_and_finding_of_one_name_differ() -> None:
    """A fact of the records is not a finding."""
    rules = _by_id(rule("one", [Condition(True, "f0", ("a",))], [], [derive("g0", "b")]))
    engine = RuleEngine(rules)
    assert engine.run({"f0": "a"}, {}).firings == ()
    assert engine.run({}, {"f0": "a"}).firings == (Firing("one", (("f0", "a"),)),)


def test_every_effect_lands_where_it_belongs() -> None:
    """One rule with all effects; a second that says the same adds no more than its weight."""
    mild = [Consequence(effect, "x") for effect in oracle.MILD]
    then = [*mild, Consequence(Effect.WEIGH, "x", decibans=-3.0), derive("g0", "a")]
    rules = _by_id(*(rule(name, [seen("f0", "a")], [], then) for name in ("one", "two")))
    outcome = RuleEngine(rules).run({"f0": "a"}, {})
    assert outcome.ruled_out == outcome.cautions == {"x": "one"}
    assert outcome.opened == outcome.closed == {("finding", "x"): "one", ("action", "x"): "one"}
    assert [(w.cause, w.decibans, w.rule) for w in outcome.weights] == [("x", -3.0, "one"), ("x", -3.0, "two")]


def test_every_effect_has_a_row_and_is_applied() -> None:
    """The registry of effects, the functions that apply them and the schema name the same ones; no two read alike."""
    in_schema = SCHEMAS["rule.schema.json"]["properties"]["then"]["items"]["properties"]
    assert set(EFFECTS) == set(APPLICATIONS) == set(Effect) == set(in_schema)
    words = [traits.words.format(target="x", answer="a", decibans=1.0) for traits in EFFECTS.values()]
    assert len(set(words)) == len(words)


def test_an_engine_keeps_nothing_of_a_run() -> None:
    """What one run came to is a value that the next run does not touch."""
    engine = RuleEngine(_by_id(rule("one", [seen("f0", "a")], [], [derive("g0", "b")])))
    first = engine.run({"f0": "a"}, {})
    assert engine.run({}, {}).firings == ()
    assert (first.derived["g0"].answer, first.reported) == ("b", {"f0": "a"})


def _by_id(*rules: Rule) -> dict[str, Rule]:
    return {r.id: r for r in rules}
