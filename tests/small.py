"""Small knowledge bases made in the tests themselves, and random ones for hypothesis."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from nopost.knowledge import model as m


def base(two_faults: float = 0.07, unlisted: float = 0.03, spread: float = 0.5, shop: float = 100.0) -> m.Base:
    """A base with a money-only shop and a minute worth one unit of money."""
    return m.Base(
        name="small",
        edition="test",
        minute_rate=1.0,
        shop=m.Shop("Shop", m.Effort(0.0, shop), ("Tell them.",)),
        two_faults=two_faults,
        unlisted_share=unlisted,
        unlisted_spread=spread,
        opening=(),
        parts={"part": "Part"},
        tools={},
        proof=("It runs.",),
    )


def finding(
    name: str,
    baseline: Mapping[str, float],
    combine: m.Combine = m.Combine.GRADED,
    *,
    misreport: float = 0.03,
    cost: float = 1.0,
    unnamed: Mapping[str, float] | None = None,
    reads: m.Instrument | None = None,
) -> m.Finding:
    """A finding whose answers are the keys of the baseline (of the first row, for an instrument)."""
    answers = next(iter(reads.table.values())) if reads else baseline
    return m.Finding(
        id=name,
        title=name,
        part="part",
        question=f"{name}?",
        answers=tuple(m.Answer(a, a) for a in answers),
        combine=None if reads else combine,
        baseline={} if reads else baseline,
        unnamed=unnamed,
        reads=reads,
        misreport=misreport,
        effort=m.Effort(cost),
    )


def cause(
    name: str, weight: float, shows: Mapping[str, Mapping[str, float]], fixes: Mapping[str, float], alone: bool = False
) -> m.Cause:
    """A cause."""
    return m.Cause(id=name, title=name, part="part", weight=weight, shows=shows, fixes=fixes, alone=alone)


def fix(name: str, cost: float) -> m.Action:
    """A fix that costs only minutes."""
    return m.Action(id=name, title=name, kind="fix", part="part", steps=("Do it.",), effort=m.Effort(cost))


def knowledge(
    findings: Iterable[m.Finding],
    causes: Iterable[m.Cause],
    actions: Iterable[m.Action] = (),
    rules: Iterable[m.Rule] = (),
    base_: m.Base | None = None,
) -> m.Knowledge:
    """A knowledge base of these items; hazards: none."""
    return m.Knowledge(
        base=base_ or base(),
        findings={f.id: f for f in findings},
        causes={c.id: c for c in causes},
        actions={a.id: a for a in actions},
        rules={r.id: r for r in rules},
        hazards={},
    )
