"""Simulations: the same rows on any number of cores, paired machines, honest intervals, and sums that add up."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from diagnosis.advice.random_problems import random_knowledge
from nopost.errors import KnowledgeError, NopostError, UnknownNameError
from nopost.evaluation.episode import read_checklist
from nopost.evaluation.scores import (
    TWO_CAUSES,
    UNLISTED_CAUSE,
    mean_estimate,
    ratio_estimate,
    regret_by_cause,
    risk_difference,
    summaries,
    total_regret,
    values_of,
)
from nopost.evaluation.simulation import EpisodeResult, SimulationResult, simulate
from nopost.evaluation.strategies import STRATEGIES
from nopost.knowledge.model import Knowledge
from nopost.linting.check_checklist import ChecklistEntry

LIST = (ChecklistEntry("question-0"), ChecklistEntry(do="fix-1"), ChecklistEntry(do="fix-0"))
EFFORTS = st.lists(st.tuples(st.floats(0.1, 500), st.floats(0.1, 500)), min_size=2, max_size=12)


@pytest.fixture(scope="module")
def kb() -> Knowledge:
    """A small one with pairs."""
    return random_knowledge(3, two_faults=0.5)


@pytest.fixture(scope="module")
def result(kb: Knowledge) -> SimulationResult:
    """Every strategy, in this process."""
    return simulate(kb, 60, 9, workers=1, checklist=LIST, unlisted=True)


@pytest.mark.slow
def test_the_same_on_any_number_of_cores(kb: Knowledge, result: SimulationResult) -> None:
    """Workers started afresh give the rows of this process, in the same order; and progress counts every machine."""
    seen: list[int] = []
    assert simulate(kb, 60, 9, workers=2, progress=seen.append, checklist=LIST, unlisted=True) == result
    assert sum(seen) == 60
    assert len(seen) > 2


def test_another_seed_is_another_sample(kb: Knowledge, result: SimulationResult) -> None:
    """And more runs begin with the same machines."""
    assert simulate(kb, 60, 10, workers=1, checklist=LIST, unlisted=True).episodes != result.episodes
    longer = simulate(kb, 70, 9, workers=1, checklist=LIST, unlisted=True).episodes
    assert longer[: len(result.episodes)] == result.episodes


def test_strategies_meet_the_same_machines(kb: Knowledge, result: SimulationResult) -> None:
    """Each machine once for each strategy, with the same causes; and leaving strategies out changes nothing for the others."""
    assert result.strategies == tuple(STRATEGIES)
    for k, episode in enumerate(result.episodes):
        number, place = divmod(k, len(STRATEGIES))
        assert (episode.machine, episode.strategy) == (number, result.strategies[place])
        assert episode.causes == result.episodes[number * len(STRATEGIES)].causes
    alone = simulate(kb, 60, 9, ["ratio"], workers=1, unlisted=True)
    assert alone.episodes == result.of("ratio")


def test_nothing_beats_the_oracle_for_long(result: SimulationResult) -> None:
    """Not on each machine, for luck is luck; on the mean."""
    means = {name: values_of(result.of(name), lambda p: p.effort).mean() for name in result.strategies}
    assert min(means, key=lambda name: means[name]) == "oracle"


def test_only_what_was_asked_for(kb: Knowledge) -> None:
    """One cause, one fault, nothing unlisted."""
    assert all("cause-1" in p.causes for p in simulate(kb, 30, 1, ["ratio"], 1, cause="cause-1").episodes)
    single = simulate(kb, 30, 1, ["ratio"], 1, two_faults=False)
    assert {len(p.causes) for p in single.episodes} == {1}
    assert all(p.causes for p in simulate(kb, 60, 1, ["ratio"], 1).episodes)
    assert "checklist" not in simulate(kb, 1, 1).strategies


def test_wrong_names(kb: Knowledge) -> None:
    """One clear line."""
    with pytest.raises(UnknownNameError, match="no strategy is called 'advise'; did you mean advice"):
        simulate(kb, 2, strategies=["advise"])
    with pytest.raises(UnknownNameError, match="no cause is called 'cause-9'"):
        simulate(kb, 2, cause="cause-9")
    with pytest.raises(NopostError, match="has no checklist"):
        simulate(kb, 2, strategies=["checklist"])


@pytest.mark.slow
@given(rows=EFFORTS)
def test_interval_of_a_mean_is_that_of_scipy(rows: list[tuple[float, float]]) -> None:
    """The normal one."""
    values = np.array(rows)[:, 0]
    found = mean_estimate(values)
    low, high = stats.norm.interval(0.95, values.mean(), stats.sem(values) or 1e-300)
    assert (found.value - (found.margin or 0), found.value + (found.margin or 0)) == pytest.approx(
        (low, high), rel=1e-6, abs=1e-6
    )


@pytest.mark.slow
@given(rows=EFFORTS, scale=st.floats(0.1, 5))
def test_a_fixed_ratio_has_no_doubt(rows: list[tuple[float, float]], scale: float) -> None:
    """When one strategy always takes the same multiple of the other."""
    values = np.array(rows)[:, 0]
    found = ratio_estimate(scale * values, values)
    assert found.value == pytest.approx(scale)
    assert found.margin == pytest.approx(0, abs=1e-9)


def test_interval_of_a_ratio_is_near_that_of_the_bootstrap() -> None:
    """Percentile bootstrap over machines (scipy), for efforts as skewed as they are."""
    rng = np.random.default_rng(2)
    bound = rng.gamma(0.8, 80, 800)
    ours = bound * rng.uniform(1, 1.5, 800) + rng.gamma(0.5, 60, 800)
    found = ratio_estimate(ours, bound)

    def quotient(a: np.ndarray, b: np.ndarray, axis: int = -1) -> np.ndarray:
        return np.asarray(a.mean(axis=axis) / b.mean(axis=axis))

    boot = stats.bootstrap((ours, bound), quotient, paired=True, n_resamples=2000, method="percentile", rng=rng)
    low, high = boot.confidence_interval
    assert found.margin is not None
    assert found.value == pytest.approx(ours.mean() / bound.mean())
    assert found.value - found.margin == pytest.approx(low, abs=0.1 * found.margin + 0.005)
    assert found.value + found.margin == pytest.approx(high, abs=0.1 * found.margin + 0.005)


def test_summaries(result: SimulationResult) -> None:
    """By hand from the rows."""
    found = {s.strategy: s for s in summaries(result)}
    rows = result.of("advice")
    assert found["advice"].effort.value == pytest.approx(sum(p.effort for p in rows) / 60)
    assert found["advice"].repaired == sum(p.shop_cost == 0 for p in rows) / 60
    assert found["advice"].p90 == pytest.approx(np.percentile([p.effort for p in rows], 90))
    assert found["advice"].top_one <= found["advice"].top_three
    assert found["oracle"].to_oracle is not None
    assert found["oracle"].to_oracle.value == 1.0
    one = summaries(simulate(random_knowledge(3, 0.5), 1, 1, ["advice"], 1))[0]
    assert (one.effort.margin, one.to_oracle, one.to_checklist) == (None, None, None)


def test_losses_add_up(result: SimulationResult) -> None:
    """Over the kinds of cost, and over the causes."""
    total, each = total_regret(result), regret_by_cause(result)
    assert total is not None
    assert total.looks + total.wrong_fixes + total.giving_up + total.right_fixes == pytest.approx(total.lost)
    assert sum(loss.machines for loss in each) == 60
    assert sum(loss.lost * loss.machines for loss in each) / 60 == pytest.approx(total.lost)
    assert sum(loss.share for loss in each) == pytest.approx(1)
    assert {TWO_CAUSES, UNLISTED_CAUSE} < {loss.cause for loss in each}
    assert regret_by_cause(replace(result, strategies=("ratio",), episodes=result.of("ratio"))) == ()


def row(strategy: str, *steps: str) -> EpisodeResult:
    """An episode with these risky steps."""
    return EpisodeResult(0, strategy, ("c",), True, 1, 0, 0, 1, 0, 0, 1, 0, steps, 0, 1)


def test_risk_avoided_are_those_of_the_list_alone() -> None:
    """Steps, not kinds: what both do is neither avoided nor added."""
    rows = (row("advice", "a", "b"), row("checklist", "b", "c", "d"))
    found = risk_difference(SimulationResult("", "", "", 1, 1, ("advice", "checklist"), rows))
    assert found is not None
    assert (found.avoided, found.added) == (2, 1)


def test_the_shipped_checklist(knowledge: Knowledge) -> None:
    """It reads, and names only what is there."""
    entries = read_checklist(knowledge)
    assert len(entries) > 20
    assert entries[0] == ChecklistEntry("danger-signs")
    assert ChecklistEntry("boot-entry", ("wrong-or-missing",), "set-boot-order") in entries


@pytest.mark.parametrize(
    ("text", "line", "message"),
    [
        ("- do: reseat-memori", 3, "no fix is called 'reseat-memori'"),
        ("- {look: scren, is: [message], do: clear-settings}", 3, "no finding is called 'scren'"),
        ("- {look: screen, is: [massage], do: clear-settings}", 3, "no answer to screen is called 'massage'"),
        ("- {is: [message], do: clear-settings}", 3, "is needs both look and do"),
        ("- {look: screen, is: [message]}", 3, "is needs both look and do"),
        ("- {}", 3, "one of look, do must stand here"),
        ("- do: try-other-memory", 3, "no fix is called 'try-other-memory'"),
        ("- do: [", 4, ""),
    ],
)
def test_a_wrong_checklist(tmp_path: Path, knowledge: Knowledge, text: str, line: int, message: str) -> None:
    """Each problem with its file and line."""
    (tmp_path / "checklist.yaml").write_text(f"title: Mine\norder:\n{text}\nsource: judgement\n", encoding="utf-8")
    with pytest.raises(KnowledgeError) as caught:
        read_checklist(knowledge, tmp_path)
    problem = caught.value.problems[0]
    assert problem.path.endswith("checklist.yaml")
    assert problem.line in (line, line + 1)
    assert message in problem.message


def test_no_checklist(tmp_path: Path, knowledge: Knowledge) -> None:
    """Then there is none."""
    assert read_checklist(knowledge, tmp_path) == ()
