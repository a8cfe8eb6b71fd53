"""The rules three ways on the same states of knowledge: experta as used, plain Python, and CLIPS through clipspy."""

from __future__ import annotations

import importlib
import random
from collections.abc import Callable, Mapping
from typing import Any

from bench.clock import in_turn, once
from bench.section import Options, Section
from diagnosis.rules import oracle
from nopost.diagnosis.rules.engine import Inference, RuleEngine, RuleRun, firing_order
from nopost.knowledge.model import Condition, Knowledge, Rule
from nopost.knowledge.reference_records import FACTS
from nopost.loading import load_knowledge

State = tuple[dict[str, str], dict[str, str]]
Run = Callable[[Mapping[str, str], Mapping[str, str]], Inference]


class ClipsRules:
    """The same rules in CLIPS: a fact is `(known name value)`; what a rule does is a call back to Python."""

    def __init__(self, clips: Any, rules: Mapping[str, Rule]) -> None:
        self._env = clips.Environment()
        self._rules, self._run = rules, RuleRun({}, {})
        self._env.define_function(self._fire, name="fire")
        order = firing_order(rules)
        for place, rule in enumerate(order):
            self._env.build(_defrule(rule, len(order) - place))

    def run(self, answers: Mapping[str, str], facts: Mapping[str, str]) -> Inference:
        """All that follows."""
        self._run = RuleRun(answers, facts)
        self._env.reset()
        for kind, known in (("finding", answers), ("fact", facts)):
            for name, value in known.items():
                self._env.assert_string(f'(known "{kind} {name}" "{value}")')
        self._env.run()
        return self._run.inference()

    def _fire(self, name: str) -> None:
        for finding, value in self._run.fire(self._rules[name]):
            self._env.assert_string(f'(known "finding {finding}" "{value}")')


def _defrule(rule: Rule, salience: int) -> str:
    present = " ".join(_pattern(c) for c in rule.when.all)
    absent = " ".join(f"(not {_pattern(c)})" for c in rule.when.none)
    return f'(defrule {rule.id} (declare (salience {salience})) {present} {absent} => (fire "{rule.id}"))'


def _pattern(condition: Condition) -> str:
    values = "|".join(f'"{value}"' for value in condition.values)
    return f'(known "{"fact" if condition.of_fact else "finding"} {condition.name}" {values})'


def plain_rules(rules: Mapping[str, Rule]) -> Run:
    """The tests' oracle with its order made once: as long as a rule holds that has not fired, the first one does."""
    order = firing_order(rules)

    def run(answers: Mapping[str, str], facts: Mapping[str, str]) -> Inference:
        run, left = RuleRun(answers, facts), list(order)
        known = dict(answers)
        while (rule := next((r for r in left if r.when.hold(known, facts)), None)) is not None:
            left.remove(rule)
            known.update(run.fire(rule))
        return run.inference()

    return run


def sections(options: Options) -> list[Section]:
    """Compile once, then run on random states; all must fire the same rules in the same order with the same result."""
    knowledge = load_knowledge()
    states = _states(knowledge, options)
    table = Section(
        f"The {len(knowledge.rules)} shipped rules on {len(states)} random states of knowledge, medians of {options.repeats}",
        ("how", "compile ms", "one run ms", "spread", "over plain Python", "same result"),
    )
    ways = _ways(knowledge)
    if "CLIPS (clipspy)" not in ways:
        table.notes.append("clipspy is not installed: pip install -e '.[bench]'")
    runs: dict[str, Run] = {}
    compiled = {name: 1e3 * once(lambda n=name, m=make: runs.update({n: m()})) for name, make in ways.items()}  # type: ignore[misc]
    expected = [oracle.run(knowledge.rules, *state) for state in states]
    same = {name: [run(*state) for state in states] == expected for name, run in runs.items()}
    assert all(same.values()), same
    timings = in_turn([lambda r=run: [r(*state) for state in states] for run in runs.values()], options.repeats)  # type: ignore[misc]
    plain = dict(zip(runs, timings, strict=True))["plain Python (reference)"]
    for name, timing in zip(runs, timings, strict=True):
        each = timing.ms / len(states)
        low, high = (1e3 * f(timing.seconds) / len(states) for f in (min, max))
        table.add(name, compiled[name], each, f"{low:.3g}–{high:.3g}", timing.over(plain), "yes")
    return [table]


def _ways(knowledge: Knowledge) -> dict[str, Callable[[], Run]]:
    rules = knowledge.rules
    ways: dict[str, Callable[[], Run]] = {
        "experta, as used": lambda: RuleEngine(rules).run,
        "plain Python (reference)": lambda: plain_rules(rules),
    }
    try:
        clips = importlib.import_module("clips")
    except ImportError:
        return ways
    return {**ways, "CLIPS (clipspy)": lambda: ClipsRules(clips, rules).run}


def _states(knowledge: Knowledge, options: Options) -> list[State]:
    dice = random.Random(options.seed)
    result = []
    for _ in range(options.few(60, 6)):
        names = dice.sample(list(knowledge.findings), dice.randint(0, 25))
        answers = {name: dice.choice(knowledge.findings[name].answer_ids) for name in names}
        result.append((answers, {name: dice.choice(FACTS[name]) for name in FACTS if dice.random() < 0.3}))
    return result
