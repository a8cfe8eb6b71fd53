"""What `nopost decode` shows: what was read, the timeline, the meaning, the causes and the first steps."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.console import Console, RenderableType
from rich.text import Text

from nopost.advice.assess import Assessment, Assessor
from nopost.advice.step import Step, StepKind
from nopost.cases.summary import step_title
from nopost.codes import telling
from nopost.codes.decode import Decoded
from nopost.codes.drawing import timeline_html, timeline_svg
from nopost.codes.tables import TableSet
from nopost.codes.timeline import timeline_of
from nopost.knowledge.model import Knowledge
from nopost_cli import screens, words
from nopost_cli.code_screen import timeline_lines
from nopost_cli.terminal import clean, make_console

CAUSES = 5
STEPS = 3


def show(assessor: Assessor, tables: TableSet, found: Sequence[Decoded], assessment: Assessment, again: str) -> None:
    """Print everything; `again`: the command that goes on from here."""
    console = make_console()
    for decoded in found:
        for part in _decoded(console, decoded, tables):
            console.print(part)
    for part in _advice(console, assessor.knowledge, assessment):
        console.print(part)
    if assessment.evidence.reports:
        console.print(Text(clean(f"To go on from here: {again}"), style="dim"), soft_wrap=True)


def _decoded(console: Console, decoded: Decoded, tables: TableSet) -> Iterator[RenderableType]:
    yield screens.heading(console, "Codes")
    yield screens.line("Read", telling.told_read(decoded))
    yield screens.line("Map", telling.told_map(decoded, tables))
    yield timeline_lines(console, timeline_of(decoded, tables))
    yield screens.line("Outcome", telling.told_outcome(decoded), style="bold")
    for event in telling.notable_events(decoded):
        yield screens.line(event.code, telling.told_code(event, decoded, tables))
    for note in telling.told_notes(decoded, tables):
        yield screens.line("Note", note)


def _advice(console: Console, knowledge: Knowledge, assessment: Assessment) -> Iterator[RenderableType]:
    yield screens.heading(console, "Causes")
    if not assessment.evidence.reports:
        yield Text("The codes say too little to weigh causes; nopost diagnose asks for the rest.")
        return
    yield screens.ranking(console, knowledge, assessment, CAUSES)
    yield screens.heading(console, "First steps")
    first = _steps(assessment)
    for step in first[:1]:
        yield from screens.cautions(knowledge, assessment, step)
    yield screens.ordered([step_title(knowledge, step) for step in first])


def _steps(assessment: Assessment) -> list[Step]:
    """The first steps that are of use now: those that the codes did not settle already."""
    steps = [assessment.advice.step, *assessment.advice.others]
    useful = [step for step in steps if not step.opening and step.kind is not StepKind.SHOP]
    return (useful or steps)[:STEPS]


def drawn(assessor: Assessor, tables: TableSet, found: Sequence[Decoded], assessment: Assessment, form: str) -> str:
    """The timeline of the first result as SVG, or a page with it and with what follows."""
    timeline = timeline_of(found[0], tables)
    if form == "svg":
        return timeline_svg(timeline)
    return timeline_html(timeline, "Codes of a start-up", list(_sections(assessor.knowledge, tables, found[0], assessment)))


def _sections(
    knowledge: Knowledge, tables: TableSet, decoded: Decoded, assessment: Assessment
) -> Iterator[tuple[str, list[str]]]:
    yield "Outcome", [telling.told_outcome(decoded)]
    yield "Read", [telling.told_read(decoded), f"Map: {telling.told_map(decoded, tables)}"]
    yield "Meaning", [f"{e.code}: {telling.told_code(e, decoded, tables)}" for e in telling.notable_events(decoded)]
    notes = list(telling.told_notes(decoded, tables))
    if notes:
        yield "Notes", notes
    yield "Causes", [f"{words.percent(p)} {knowledge.causes[c].title}" for c, p in assessment.ranking[:CAUSES]]
    yield "First steps", [clean(step_title(knowledge, step)) for step in _steps(assessment)]
