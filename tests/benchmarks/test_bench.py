"""Each section of the benchmark runs on tiny sizes, says what its columns promise, and checks its own equalities."""

from __future__ import annotations

import importlib
import io
import json

import pytest
from rich.console import Console

from bench import __main__ as bench
from bench.clock import in_turn, timed
from bench.growth import exponent
from bench.section import Options, Section, shown
from diagnosis.belief.generated_base import generated, sampled_evidence
from nopost.diagnosis.belief.posterior import BeliefModel

TINY = Options(quick=True, seed=3, causes_findings=((12, 9),))


@pytest.fixture(autouse=True)
def few(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two games, logs or problems, timed once."""
    monkeypatch.setattr(Options, "few", lambda self, many, few: min(few, 2))
    monkeypatch.setattr(Options, "repeats", 1)


@pytest.mark.slow
@pytest.mark.parametrize("name", [name for name in bench.SECTIONS if name not in {"batch", "memory", "start"}])
def test_section_runs(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Rows come out, with a positive number in each but the words."""
    if name == "growth":
        monkeypatch.setattr("bench.growth.CAUSES", 8)
        monkeypatch.setattr("bench.growth.FINDINGS", 6)
    for section in importlib.import_module(f"bench.{name}").sections(TINY):
        assert section.rows, section.title
        assert all(len(row) == len(section.columns) for row in section.rows)
        assert json.loads(json.dumps(section.data()))["rows"][0]
        assert bench.drawn(section).row_count == len(section.rows)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["batch", "memory", "start"])
def test_section_of_processes_runs(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Those that start processes, with as few as can be."""
    monkeypatch.setattr("bench.batch.CORES", (1,))
    monkeypatch.setattr("bench.memory._cases", lambda options, notes: {"Python alone": "pass"})
    (section,) = importlib.import_module(f"bench.{name}").sections(TINY)
    assert section.rows or section.notes


def test_sizes_that_do_not_fit_are_told() -> None:
    """A size whose tables would not fit into the machine is not tried, and the notes say so."""
    notes: list[str] = []
    assert list(Options(causes_findings=((5, 5), (100_000, 100_000))).sizes(notes)) == [(5, 5)]
    assert len(notes) == 1
    assert "100,000 × 100,000: not tried" in notes[0]


def test_a_wide_table_lies_on_its_side() -> None:
    """Names down the side, no number cut, at 80 columns."""
    names = tuple(f"a-long-name-{k}" for k in range(12))
    section = Section("sizes", ("size", *names), [("1,000 × 1,000", *range(12))])
    console = Console(width=80, record=True, file=io.StringIO())
    console.print(bench.fitting(section, console))
    text = console.export_text()
    assert all(name in text for name in names)
    assert "1,000" in text
    assert bench.fitting(section, Console(width=400)).row_count == 1


@pytest.mark.slow
def test_command_line(capsys: pytest.CaptureFixture[str]) -> None:
    """JSON on standard output, names checked."""
    bench.main(["belief", "--quick", "--size", "6x5", "--json"])
    data = json.loads(capsys.readouterr().out)
    assert data["environment"]["seed"] == "1"
    rows = data["sections"]["belief"][0]["rows"]
    assert [row["causes × findings"] for row in rows][1:] == ["6 × 5"]
    assert all(row["largest difference"] < 1e-9 for row in rows)
    with pytest.raises(SystemExit):
        bench.main(["beliefs"])
    assert "no section is called beliefs" in capsys.readouterr().err


def test_generated_bases_are_what_their_name_says() -> None:
    """The size that was asked for, the same for the same seed, graded causes pushing upwards only."""
    knowledge = generated(15, 11, 5)
    assert (len(knowledge.causes), len(knowledge.findings)) == (15, 11)
    assert generated.__wrapped__(15, 11, 5) == knowledge
    assert generated(15, 11, 6) != knowledge
    assert sampled_evidence(knowledge, 6, 2) == sampled_evidence(knowledge, 6, 2)
    posterior = BeliefModel(knowledge).posterior(sampled_evidence(knowledge, 6, 2))
    assert posterior.sum() == pytest.approx(1)


def test_exponent_is_a_slope() -> None:
    """Three times the square."""
    assert exponent([1, 2, 4, 8], [3 * k**2 for k in (1, 2, 4, 8)]) == pytest.approx(2)


def test_timings_are_in_order() -> None:
    """As many as asked for, and each work in its own column."""
    done: list[str] = []
    timings = in_turn([lambda: done.append("a"), lambda: done.append("b")], 3)
    assert done == ["a", "b"] * 4
    assert [len(t.seconds) for t in timings] == [3, 3]
    assert len(timed(lambda: None, 5).seconds) == 5


@pytest.mark.parametrize(("cell", "words"), [(None, "-"), (12345, "12,345"), (0.01234, "0.0123"), (1234.5, "1,234"), ("x", "x")])
def test_cells(cell: object, words: str) -> None:
    """How numbers are shown."""
    assert shown(cell) == words  # type: ignore[arg-type]
