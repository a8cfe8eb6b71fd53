"""`nopost kb try --score`: coded cases ranked, and whether the stated probabilities are right."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

from nopost.text import percent
from nopost_cli.kb.try_results import LABEL_WIDTH, read_folder, result_data, share_text, tell
from nopost_cli.shared.terminal import make_console, print_json, refuse_existing, write_result

if TYPE_CHECKING:
    from nopost.evaluation.case_scores import LabelledCases, ScoredCase, ScoreSummary
    from nopost.knowledge.model import Knowledge


def score_cases(
    knowledge: Knowledge, folder: Path, labels: Path | None, *, chart: str | None, force: bool, listed: bool, as_json: bool
) -> None:
    """Rank every case of a folder and tell how good that was.

    `chart`: file for the reliability diagram. Raises KnowledgeError when there is no case with a label, and OutputError when that
    file is there already.
    """
    from rich.progress import track

    from nopost.diagnosis.diagnose import Diagnostician
    from nopost.evaluation.calibration import FLOOR
    from nopost.evaluation.case_scores import read_labelled_cases, read_labels, score_case, summarise_scores
    from nopost.evaluation.reliability_diagram import reliability_diagram

    if chart:
        refuse_existing(chart, force)

    def read() -> LabelledCases:
        return read_labelled_cases(folder, knowledge, read_labels(labels) if labels else None)

    found = read_folder(folder, read, lambda found: found.cases, "case files")
    diagnostician, console = Diagnostician(knowledge), make_console(stderr=True)
    shown = track(found.cases, "Cases", console=console, transient=True, disable=not console.is_terminal)
    scored = [score_case(diagnostician, case) for case in shown]
    summary = summarise_scores(scored)
    if chart:
        write_result(chart, reliability_diagram(f"Cases of {folder.name}", {"this edition": summary.reliability}))
    if as_json:
        figures = {**asdict(summary), "log_base": 2, "log_floor": FLOOR}
        print_json(
            "case-score", result_data(knowledge, figures, [asdict(c) | {"confidence": c.confidence} for c in scored], found)
        )
        return
    tell((*score_summary_lines(summary), *(case_lines(scored) if listed else ())), found)


def score_summary_lines(summary: ScoreSummary) -> Iterator[str]:
    """The figures of all cases, and the reliability of the first cause."""
    from nopost.evaluation.calibration import FLOOR

    yield f"{summary.cases} case{'s' if summary.cases != 1 else ''} scored"
    figures = (
        ("Right cause first", share_text(summary.cause_first)),
        ("Right cause among three", share_text(summary.cause_among_three)),
        ("Right area first", share_text(summary.area_first)),
        (f"Log score, bits (0 is best, {FLOOR:g} the floor)", f"{summary.log_score:.2f}"),
        ("Brier score, all causes (0 is best, 2 worst)", f"{summary.brier:.3f}"),
        ("Brier score, first cause (0 is best, 1 worst)", f"{summary.brier_first:.3f}"),
        ("Calibration error, first cause", f"{summary.calibration.mean:.3f}"),
    )
    yield from (f"{label:<{LABEL_WIDTH}}{figure:>8}" for label, figure in figures)
    yield ""
    yield f"{'Said of the first cause':<26}{'cases':>8}{'said':>8}{'right':>8}"
    for row in summary.reliability:
        said = f"{100 * row.low:.0f} to {100 * row.high:.0f} %"
        yield f"{said:<26}{row.count:>8.0f}{share_text(row.confidence):>8}{share_text(row.right):>8}"


def case_lines(scored: Sequence[ScoredCase]) -> Iterator[str]:
    """Each case with its first three causes, the one whose right cause stands lowest first."""
    yield ""
    for case in sorted(scored, key=lambda case: (-(case.cause_place or float("inf")), case.case)):
        place = f"place {case.cause_place}" if case.cause_place else "not known"
        leading = ", ".join(f"{cause} {percent(chance)}" for cause, chance in case.leading)
        yield f"{case.case}: {case.causes[0]} at {place}; {leading}"
