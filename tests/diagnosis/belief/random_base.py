"""Random knowledge bases and random evidence for them, the same for the same seed."""

from __future__ import annotations

import dataclasses
import itertools
import random
from collections.abc import Mapping, Sequence

import small
from diagnosis.belief.reference import trees
from nopost.diagnosis.belief.evidence import Evidence, Report
from nopost.knowledge.model import Action, Combine, Coupling, Finding, Instrument, Knowledge

Table = dict[str, float]
ACTIONS = ("mend-a", "mend-b", "mend-c", "mend-d")


def row(rng: random.Random, answers: Sequence[str], zero: float = 0.15) -> Table:
    """A distribution; an answer but the last one may have nothing."""
    weights = [0.0 if rng.random() < zero else rng.random() ** 2 + 1e-3 for _ in answers[:-1]]
    weights.append(rng.random() + 1e-3)
    return dict(zip(answers, (w / sum(weights) for w in weights), strict=True))


def pushed(rng: random.Random, baseline: Mapping[str, float]) -> Table:
    """A distribution that can come of the baseline by pushing towards more abnormal: cumulative = own * cumulative(baseline)."""
    own = itertools.accumulate(row(rng, list(baseline)).values())
    leak = itertools.accumulate(baseline.values())
    total = [min(o, 1.0) * b for o, b in zip(own, leak, strict=True)]
    return dict(zip(baseline, (max(high - low, 0.0) for low, high in itertools.pairwise([0.0, *total])), strict=True))


def random_knowledge(seed: int, most_causes: int = 6) -> Knowledge:
    """Three to `most_causes` causes, four to eight findings of all kinds and instruments for one of them."""
    rng = random.Random(seed)
    findings = [_finding(rng, f"f{k}") for k in range(rng.randint(3, 7))]
    findings.append(_finding(rng, "stage", Combine.GRADED))
    stage = findings[-1]
    for k in range(rng.randint(1, 2)):
        answers = [f"i{n}" for n in range(rng.randint(2, 4))]
        rows = {a: row(rng, answers) for a in stage.answer_ids}
        findings.append(small.finding(f"reads{k}", {}, reads=Instrument("stage", rows), misreport=rng.choice((0.01, 0.1))))
    causes = []
    for k in range(rng.randint(3, most_causes)):
        shows = {f.id: _shown(rng, f) for f in findings if not f.reads and rng.random() < 0.6}
        fixes = {a: rng.choice((1.0, 0.9, rng.random())) for a in rng.sample(ACTIONS, rng.randint(1, 3))}
        causes.append(small.cause(f"c{k}", rng.choice((1, 7, 40, 200)) * rng.random() + 0.1, shows, fixes, rng.random() < 0.15))
    base = small.base(rng.uniform(0.01, 0.5), rng.uniform(0.01, 0.2), rng.random())
    return small.knowledge(findings, causes, _actions(rng), base_=base)


def random_forest(seed: int, most_causes: int = 5, zero: float = 0.15) -> Knowledge:
    """A random base in which findings have parents: children of children, of instruments and instruments of them; some causes
    give tables by the parent's answer outright. `zero`: chance of a 0 among what is given by the parent's answer."""
    knowledge, rng = random_knowledge(seed, most_causes), random.Random(9000 + seed)
    findings: dict[str, Finding] = {}
    for number, finding in enumerate(rng.sample(list(knowledge.findings.values()), len(knowledge.findings))):
        findings[finding.id] = (
            _child(rng, finding, list(findings.values()), zero) if number else dataclasses.replace(finding, reads=None)
        )
    if (first := next(iter(findings.values()))).combine is None:
        answers = row(rng, first.answer_ids)
        findings[first.id] = dataclasses.replace(first, combine=Combine.EITHER, baseline=answers)
    causes = {
        c.id: dataclasses.replace(c, shows_given={f.id: g for f in findings.values() if (g := _outright(rng, f, findings))})
        for c in knowledge.causes.values()
    }
    return dataclasses.replace(knowledge, findings=findings, causes=causes)


def with_outcomes(seed: int, knowledge: Knowledge) -> Knowledge:
    """The base in which most fixes say how probable something else is after them, and some causes say otherwise."""
    rng = random.Random(7000 + seed)
    usual = {a.id: rng.choice((None, 0.05, 0.3, rng.random() * 0.9 + 0.05)) for a in knowledge.actions.values()}
    actions = {a.id: dataclasses.replace(a, changes=usual[a.id]) for a in knowledge.actions.values()}
    own = {
        c.id: {a: rng.uniform(0.02, 0.98) for a, p in usual.items() if p is not None and rng.random() < 0.5}
        for c in knowledge.causes.values()
    }
    causes = {c.id: dataclasses.replace(c, changes=own[c.id]) for c in knowledge.causes.values()}
    return dataclasses.replace(knowledge, actions=actions, causes=causes)


def with_couplings(seed: int, knowledge: Knowledge) -> Knowledge:
    """The base in which one event may bring two causes, up to three such couplings."""
    rng = random.Random(8000 + seed)
    pairs = list(itertools.permutations([c.id for c in knowledge.causes.values() if not c.alone], 2))
    chosen = rng.sample(pairs, min(len(pairs), rng.randint(1, 3)))
    coupled = tuple(Coupling(first, second, rng.uniform(0.01, 0.3)) for first, second in chosen)
    return dataclasses.replace(knowledge, base=dataclasses.replace(knowledge.base, coupled=coupled))


def with_seen_outcomes(rng: random.Random, evidence: Evidence) -> Evidence:
    """The evidence in which it is known of most fixes what was seen after them."""
    return dataclasses.replace(evidence, outcomes=tuple(rng.choice(("same", "changed", "")) for _ in evidence.failed_repairs))


def _child(rng: random.Random, finding: Finding, before: Sequence[Finding], zero: float) -> Finding:
    """The finding with a parent among these; an instrument always has one."""
    parent = rng.choice(before)
    rows = {a: row(rng, finding.answer_ids, zero) for a in parent.answer_ids}
    if finding.reads:
        return dataclasses.replace(finding, reads=Instrument(parent.id, rows))
    return dataclasses.replace(finding, parent=parent.id, given=rows) if rng.random() < 0.75 else finding


def _outright(rng: random.Random, finding: Finding, findings: Mapping[str, Finding]) -> dict[str, Table]:
    """Tables that a cause gives by some of the parent's answers, for few findings."""
    if not finding.parent or rng.random() < 0.7:
        return {}
    return {a: row(rng, finding.answer_ids) for a in findings[finding.parent].answer_ids if rng.random() < 0.6}


def _actions(rng: random.Random) -> list[Action]:
    return [small.fix(name, rng.uniform(1, 30)) for name in ACTIONS]


def _finding(rng: random.Random, name: str, combine: Combine | None = None) -> Finding:
    kind = combine or rng.choice(list(Combine))
    answers = [f"a{n}" for n in range(rng.randint(2, 5))]
    baseline = row(rng, answers, zero=0.0 if kind is Combine.HISTORY else 0.15)
    unnamed = None
    if kind is not Combine.HISTORY and rng.random() < 0.25:
        unnamed = pushed(rng, baseline) if kind is Combine.GRADED else row(rng, answers)
    return small.finding(name, baseline, kind, misreport=rng.choice((0.001, 0.03, 0.2)), unnamed=unnamed)


def _shown(rng: random.Random, finding: Finding) -> Table:
    if finding.combine is Combine.GRADED:
        return pushed(rng, finding.baseline)
    if finding.combine is Combine.EITHER:
        return row(rng, finding.answer_ids)
    return {a: rng.choice((0.05, 0.5, 2.0, 20.0)) for a in finding.answer_ids if rng.random() < 0.5}


def random_evidence(rng: random.Random, knowledge: Knowledge, reports: int = 6, tried: int = 0, rules: int = 0) -> Evidence:
    """Random answers, each finding at most once per epoch; fixes that failed; weights and exclusions that rules add."""
    fixes = sorted({a for c in knowledge.causes.values() for a in c.fixes})
    actions = rng.sample(fixes, tried := min(tried, len(fixes)))
    keys = [(name, epoch) for name in knowledge.findings for epoch in range(tried + 1)]
    keys = rng.sample(keys, min(reports, len(keys)))
    seen = [Report(name, rng.choice(knowledge.findings[name].answer_ids), epoch) for name, epoch in keys]
    causes = list(knowledge.causes)
    weights = tuple((rng.choice(causes), rng.uniform(-20, 20), f"r{k}") for k in range(rules))
    out = frozenset(rng.sample(causes, 1)) if rules and rng.random() < 0.5 else frozenset()
    return Evidence(tuple(seen), tuple(actions), weights, out)


def part_of(knowledge: Knowledge, causes: Sequence[str]) -> Knowledge:
    """Only these causes, what they show and what reads it; no couplings, which networks of one node a cause cannot hold."""
    kept = {name: knowledge.causes[name] for name in sorted(causes)}
    shown = {f for c in kept.values() for f in (*c.shows, *c.shows_given)}
    paths = {name: [f.id for f in trees(knowledge, [name])[0]] for name in knowledge.findings}
    seen = {name for name, path in paths.items() if name in shown or (path[0] in shown and knowledge.findings[name].reads)}
    findings = {n: knowledge.findings[n] for n in sorted({above for name in seen for above in paths[name]})}
    base = dataclasses.replace(knowledge.base, coupled=())
    return dataclasses.replace(knowledge, base=base, causes=kept, findings=findings, rules={}, cases={})
