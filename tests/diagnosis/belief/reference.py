"""The same model once more, written for the tests as plain sums over what remains; `networks` has it as Bayesian networks.

Nothing here uses the project's belief; only the knowledge base and the evidence are shared. Published formulas: noisy-MAX with a
leak, Díez 1993 (UAI, "Parameter adjustment in Bayes networks: the generalized noisy OR-gate"); virtual evidence, Pearl 1988.
The reference itself is held against published posteriors in `test_published.py`.
"""

from __future__ import annotations

import itertools
import math
import random
from collections.abc import Iterable, Iterator, Mapping, Sequence

from nopost.diagnosis.belief.evidence import Evidence, Report
from nopost.knowledge.model import Cause, Combine, Finding, Knowledge

Row = list[float]
Set = frozenset[str]
LEAST_PERSISTENCE = 0.005
"""A fix was done badly with at least this probability."""


def share_out(values: Sequence[float]) -> Row:
    """The values so that they add up to 1."""
    return [value / sum(values) for value in values]


def table(finding: Finding, shown: Mapping[str, float]) -> Row:
    """A distribution of the knowledge base in the order of the answers."""
    return share_out([shown.get(a, 0.0) for a in finding.answer_ids])


def own_effect(finding: Finding, shown: Mapping[str, float] | None) -> Row:
    """Graded: where one cause alone, without the leak, puts the finding; cumulative(cause) = own * cumulative(baseline)."""
    leak = list(itertools.accumulate(table(finding, finding.baseline)))
    seen = shown if shown is not None else finding.unnamed or finding.baseline
    total = itertools.accumulate(table(finding, seen))
    ratios = [t / b if b > 0 else 0.0 for t, b in zip(total, leak, strict=True)]
    return [max(high - low, 0.0) for low, high in itertools.pairwise([0.0, *ratios])]


def truth(knowledge: Knowledge, finding: Finding, present: Set) -> Row:
    """P(true answer | exactly these causes are there), for any number of them."""
    causes = [knowledge.causes[name] for name in sorted(present)]
    shown = [cause.shows.get(finding.id) for cause in causes]
    baseline = table(finding, finding.baseline)
    if finding.combine is Combine.HISTORY:
        return _history(finding, shown, baseline)
    if finding.combine is Combine.GRADED:
        return _noisy_max(baseline, [own_effect(finding, one) for one in shown])
    named = [table(finding, one) for one in shown if one is not None]
    if not named:
        return table(finding, finding.unnamed) if finding.unnamed and causes else baseline
    return [sum(column) / len(named) for column in zip(*named, strict=True)]


def _history(finding: Finding, shown: Sequence[Mapping[str, float] | None], baseline: Row) -> Row:
    ratios = [math.prod((one or {}).get(a, 1.0) for one in shown) for a in finding.answer_ids]
    return share_out([b * r for b, r in zip(baseline, ratios, strict=True)])


def _noisy_max(baseline: Row, effects: list[Row]) -> Row:
    """P(maximum <= k) is the product of everyone's P(<= k)."""
    rows = [list(itertools.accumulate(row)) for row in (baseline, *effects)]
    total = [math.prod(column) for column in zip(*rows, strict=True)]
    return share_out([high - low for low, high in itertools.pairwise([0.0, *total])])


def reported(finding: Finding) -> list[Row]:
    """P(reported answer | shown answer)."""
    ids = finding.answer_ids
    return [[1 - finding.misreport if a == b else finding.misreport / (len(ids) - 1) for b in ids] for a in ids]


def parent_of(knowledge: Knowledge, finding: Finding) -> Finding | None:
    """The finding on which this one depends besides the causes: its parent, or what it reads as an instrument."""
    name = finding.reads.finding if finding.reads else finding.parent
    return knowledge.findings[name] if name else None


def target_of(knowledge: Knowledge, name: str) -> Finding:
    """The finding behind an instrument, or the finding itself."""
    finding = knowledge.findings[name]
    return target_of(knowledge, finding.reads.finding) if finding.reads else finding


def own(knowledge: Knowledge, finding: Finding, present: Set | None) -> Row:
    """P(answer | these causes) as the causes say it, whatever the parent says; None: something that nobody wrote down.

    That looks like the mean listed cause, blurred towards all answers alike.
    """
    if present is not None:
        return truth(knowledge, finding, present)
    prior, spread = priors(knowledge), knowledge.base.unlisted_spread
    weights = share_out([prior[frozenset({c})] for c in knowledge.causes])
    rows = [truth(knowledge, finding, frozenset({c})) for c in knowledge.causes]
    mean = [sum(w * p for w, p in zip(weights, column, strict=True)) for column in zip(*rows, strict=True)]
    return [(1 - spread) * p + spread / len(mean) for p in mean]


_RATIOS: dict[tuple[int, str, Set | None], tuple[Knowledge, Row]] = {}
MOST_STEPS = 100


def ratios(knowledge: Knowledge, finding: Finding, present: Set | None) -> Row:
    """The factors of P(a | pa): those of a history finding, or fitted so that P(a | these causes) stays what the causes say."""
    said = own(knowledge, finding, present)
    if finding.combine is Combine.HISTORY:
        return [p / q for p, q in zip(said, table(finding, finding.baseline), strict=True)]
    key = id(knowledge), finding.id, present
    if key not in _RATIOS:
        parent = parent_of(knowledge, finding)
        assert parent is not None
        above = marginal(knowledge, parent, present)
        _RATIOS[key] = knowledge, fitted(said, above, [table(finding, finding.given[a]) for a in parent.answer_ids])
    return _RATIOS[key][1]


def fitted(said: Row, above: Row, given: Sequence[Row]) -> Row:
    """Iterative proportional fitting: the table of both answers is made to fit the parent's answers, then its own, and so on.

    A factor is at least 1e-30 of the largest, where the causes say anything at all.
    """
    factors = [s / max(said) for s in said]
    for _ in range(MOST_STEPS):
        table_ = [[g * f for g, f in zip(row, factors, strict=True)] for row in given]
        joint = [[p * v / sum(row) if sum(row) > 0 else 0.0 for v in row] for p, row in zip(above, table_, strict=True)]
        shown = [sum(column) for column in zip(*joint, strict=True)]
        after = [f * s / v if v > 0 else 0.0 for f, s, v in zip(factors, said, shown, strict=True)]
        after = [max(a / max(*after, 1e-30), 1e-30) if s > 0 else 0.0 for a, s in zip(after, said, strict=True)]
        change = max(abs(a - f) / a for a, f in zip(after, factors, strict=True) if a > 0)
        factors = after
        if change < 1e-15:
            break
    return factors


def marginal(knowledge: Knowledge, finding: Finding, present: Set | None) -> Row:
    """P(true answer | these causes), the parent's answer not known."""
    parent = parent_of(knowledge, finding)
    if parent is None:
        return own(knowledge, finding, present)
    total = [0.0] * len(finding.answer_ids)
    for p, answer in zip(marginal(knowledge, parent, present), parent.answer_ids, strict=True):
        total = [t + p * q for t, q in zip(total, conditional(knowledge, finding, present, answer), strict=True)]
    return total


def conditional(knowledge: Knowledge, finding: Finding, present: Set | None, answer: str) -> Row:
    """P(own answer | these causes, the parent's answer)."""
    if finding.reads:
        return table(finding, finding.reads.table[answer])
    naming = [n for n in sorted(present or ()) if finding.id in {**knowledge.causes[n].shows, **knowledge.causes[n].shows_given}]
    if any(answer in knowledge.causes[n].shows_given.get(finding.id, {}) for n in naming):
        rows = [_of_one_cause(knowledge, finding, name, answer) for name in naming]
        return [sum(column) / len(rows) for column in zip(*rows, strict=True)]
    return _by_ratios(knowledge, finding, present, answer)


def _of_one_cause(knowledge: Knowledge, finding: Finding, name: str, answer: str) -> Row:
    outright = knowledge.causes[name].shows_given.get(finding.id, {})
    if answer in outright:
        return table(finding, outright[answer])
    return _by_ratios(knowledge, finding, frozenset({name}), answer)


def _by_ratios(knowledge: Knowledge, finding: Finding, present: Set | None, answer: str) -> Row:
    """P(a | pa) times the ratio, so that the row adds up to 1; a row of zeros is P(a | pa)."""
    given = table(finding, finding.given[answer])
    row = [g * r for g, r in zip(given, ratios(knowledge, finding, present), strict=True)]
    return share_out(row) if sum(row) > 0 else given


def true_row(knowledge: Knowledge, finding: Finding, present: Set | None, above: Mapping[str, str]) -> Row:
    """P(true answer | these causes, true answers of what is above)."""
    parent = parent_of(knowledge, finding)
    return conditional(knowledge, finding, present, above[parent.id]) if parent else own(knowledge, finding, present)


def trees(knowledge: Knowledge, names: Iterable[str]) -> list[list[Finding]]:
    """These findings and all above them, tree by tree, parents before children."""
    result: dict[str, list[Finding]] = {}
    for name in names:
        path = [knowledge.findings[name]]
        while parent := parent_of(knowledge, path[0]):
            path.insert(0, parent)
        tree = result.setdefault(path[0].id, [])
        tree.extend(finding for finding in path if finding not in tree)
    return list(result.values())


def root_of(knowledge: Knowledge, name: str) -> str:
    """The root of its tree."""
    return trees(knowledge, [name])[0][0].id


def likelihood(knowledge: Knowledge, reports: Sequence[Report], present: Set | None, earlier: Sequence[Report] = ()) -> float:
    """P(reports of one epoch | exactly these causes are there, earlier reports): all true answers of each tree tried in turn."""
    result = 1.0
    for tree in trees(knowledge, [r.finding for r in (*reports, *earlier)]):
        names = {finding.id for finding in tree}
        before = [r for r in earlier if r.finding in names]
        now = [r for r in reports if r.finding in names]
        result *= _chance(knowledge, [*now, *before], present, tree) / _chance(knowledge, before, present, tree)
    return result


def _chance(knowledge: Knowledge, reports: Sequence[Report], present: Set | None, tree: Sequence[Finding]) -> float:
    """P(reports of one tree | these causes)."""

    def rest(place: int, above: Mapping[str, str]) -> float:
        if place == len(tree):
            return 1.0
        finding, total = tree[place], 0.0
        matrix = reported(finding)
        for k, p in enumerate(true_row(knowledge, finding, present, above)):
            seen = math.prod(matrix[k][finding.answer_ids.index(r.answer)] for r in reports if r.finding == finding.id)
            if p * seen > 0:
                total += p * seen * rest(place + 1, {**above, finding.id: finding.answer_ids[k]})
        return total

    return rest(0, {}) if reports else 1.0


def sampled_reports(rng: random.Random, knowledge: Knowledge, present: Set, names: Sequence[str], epoch: int = 0) -> list[Report]:
    """Random reports of these findings about a machine in which these causes are present."""
    states: dict[str, str] = {}
    for tree in trees(knowledge, names):
        for finding in tree:
            states[finding.id] = rng.choices(finding.answer_ids, true_row(knowledge, finding, present, states))[0]
    reports = []
    for name in names:
        finding = knowledge.findings[name]
        row = reported(finding)[finding.answer_ids.index(states[name])]
        reports.append(Report(name, rng.choices(finding.answer_ids, row)[0], epoch))
    return reports


def odds(knowledge: Knowledge) -> dict[str, float]:
    """Odds of each cause, scaled so that pairs together are `two_faults` times as probable as single causes."""
    causes = list(knowledge.causes.values())
    pairs = sum(a.weight * b.weight for a, b in itertools.combinations(causes, 2) if not (a.alone or b.alone))
    scale = knowledge.base.two_faults * sum(c.weight for c in causes) / pairs if pairs else 1.0
    return {c.id: scale * c.weight for c in causes}


def sets(knowledge: Knowledge) -> Iterator[Set]:
    """Each cause alone and each pair that can be together."""
    yield from (frozenset({name}) for name in knowledge.causes)
    social = [c.id for c in knowledge.causes.values() if not c.alone]
    yield from (frozenset(pair) for pair in itertools.combinations(social, 2))


def priors(knowledge: Knowledge) -> dict[Set, float]:
    """Prior of each set of causes, given that one is there."""
    weights = odds(knowledge)
    total = {present: math.prod(weights[name] for name in present) for present in sets(knowledge)}
    for coupling in knowledge.base.coupled:
        if not {coupling.first, coupling.second} <= knowledge.causes.keys():
            continue
        total[frozenset({coupling.first, coupling.second})] += coupling.share * weights[coupling.first]
        total[frozenset({coupling.first})] -= coupling.share * weights[coupling.first]
    return {present: weight / sum(total.values()) for present, weight in total.items()}


def persistence(cause: Cause, action: str) -> float:
    """P(the cause is present after a fix | it was present)."""
    return max(1 - cause.fixes.get(action, 0.0), LEAST_PERSISTENCE)


REMOVAL_SHOWS = 0.9
"""A removed cause changes what is seen with this probability by itself."""


def seen_after_fix(knowledge: Knowledge, evidence: Evidence, epoch: int, before: Set, after: Set) -> float:
    """P(what was seen after the fix that began this epoch | causes before and after it), by noisy-OR of them all."""
    outcome, action = evidence.outcome(epoch), knowledge.actions.get(evidence.failed_repairs[epoch - 1])
    if not outcome or action is None or action.changes is None:
        return 1.0
    same = math.prod(1 - knowledge.causes[name].changes.get(action.id, action.changes) for name in after)
    same *= (1 - REMOVAL_SHOWS) ** len(before - after)
    return same if outcome == "same" else 1 - same


def past_reports(knowledge: Knowledge, evidence: Evidence, epoch: int) -> list[Report]:
    """Reports of the history, told before this epoch and not again in it: they are about the past, which no fix changes."""
    again = {r.finding for r in evidence.reports if r.epoch == epoch}
    earlier = sorted((r for r in evidence.reports if r.epoch < epoch), key=lambda r: r.epoch)
    past = {r.finding: r for r in earlier if knowledge.findings[r.finding].combine is Combine.HISTORY}
    return [r for name, r in past.items() if name not in again]


def unlisted_likelihood(knowledge: Knowledge, evidence: Evidence) -> float:
    """P(reports and what was seen after fixes | something that nobody wrote down): after a fix it is the mean listed cause."""
    result = math.prod(_of_epoch(knowledge, evidence, None, epoch) for epoch in range(len(evidence.failed_repairs) + 1))
    alone = {name: p for present, p in priors(knowledge).items() if len(present) == 1 for name in present}
    for epoch in range(1, len(evidence.failed_repairs) + 1):
        shown = [p * seen_after_fix(knowledge, evidence, epoch, frozenset({n}), frozenset({n})) for n, p in alone.items()]
        result *= sum(shown) / sum(alone.values())
    return result


def _of_epoch(knowledge: Knowledge, evidence: Evidence, present: Set | None, epoch: int) -> float:
    reports = [r for r in evidence.reports if r.epoch == epoch]
    return likelihood(knowledge, reports, present, past_reports(knowledge, evidence, epoch))


def enumerated(knowledge: Knowledge, evidence: Evidence) -> dict[Set, float]:
    """Posterior of each set of causes by summing over all that may be left after each fix; the empty set is the unlisted one."""

    def from_epoch(left: Set, epoch: int) -> float:
        """P(everything from this epoch on | these causes are left)."""
        here = _of_epoch(knowledge, evidence, left, epoch)
        if epoch == len(evidence.failed_repairs):
            return here
        rest = {name: persistence(knowledge.causes[name], evidence.failed_repairs[epoch]) for name in left}
        later = 0.0
        for size in range(1, len(left) + 1):
            for kept in map(frozenset, itertools.combinations(sorted(left), size)):
                chance = math.prod(rest[n] if n in kept else 1 - rest[n] for n in left)
                chance *= seen_after_fix(knowledge, evidence, epoch + 1, left, kept)
                later += chance * from_epoch(kept, epoch + 1)
        return here * later

    def by_rules(present: Set) -> float:
        """Factor that the rules put on it."""
        return (
            0.0
            if present & evidence.ruled_out
            else math.prod(10 ** (d / 10) for c, d, _ in evidence.rule_weights if c in present)
        )

    share = knowledge.base.unlisted_share
    total = {present: (1 - share) * p * by_rules(present) * from_epoch(present, 0) for present, p in priors(knowledge).items()}
    total[frozenset()] = share * unlisted_likelihood(knowledge, evidence)
    return {present: weight / sum(total.values()) for present, weight in total.items()}
