"""What `nopost decode` shows: what was read, the timeline, the meaning, the causes and the first steps.

The timeline of a start-up has one line for each boot, told by letters, so that it needs no colour.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence

from rich.console import Console, Group, RenderableType
from rich.text import Text

from nopost import text
from nopost.codes import wording
from nopost.codes.code_events import phase_of
from nopost.codes.decode import Decoded
from nopost.codes.tables import TableSet
from nopost.codes.timeline import BootEnding, BootRow, OmittedBoots, Timeline, timeline_of
from nopost.codes.timeline_layout import Importance, TimelinePiece
from nopost.codes.wording import duration
from nopost.diagnosis.advice.adviser import Step, StepKind
from nopost.diagnosis.cautions import cautions_of
from nopost.diagnosis.diagnose import Diagnosis, Diagnostician
from nopost.diagnosis.step_view import cause_views, step_title
from nopost.knowledge.model import Knowledge
from nopost.render.timeline_svg import timeline_html, timeline_svg
from nopost_cli.shared import screens
from nopost_cli.shared.screens import packed
from nopost_cli.shared.terminal import clean, make_console

LONGEST_CODE = 24
LONGEST_ENDING = 32
SIGNS = {
    BootEnding.STOPPED: ("■", "#"),
    BootEnding.RESTARTED: ("↺", "<-"),
    BootEnding.HANDED_OVER: ("→", "->"),
    BootEnding.BUSY: ("⋯", ".."),
    BootEnding.SILENT: ("∅", "-"),
    BootEnding.RECORD_ENDS: ("┊", ":"),
}
_PLAIN = {"×": "x", "…": "...", "“": '"', "”": '"', "–": "-"}
Part = tuple[str, str]
"""Text and its style."""


def timeline_lines(console: Console, timeline: Timeline) -> RenderableType:
    """One line for each boot or for boots between, the loop at their left, then what the letters mean."""
    screen = _TimelineDrawing(console)
    numbers = [_number(row) for row in timeline.rows]
    width = max((len(number) for number in numbers), default=0)
    lines: list[RenderableType] = []
    for row, number in zip(timeline.rows, numbers, strict=True):
        edge = screen.bracket(timeline, row)
        head: list[Part] = [(f"{edge}{number:>{width}} ", "bold")] if len(numbers) > 1 else []
        room = console.width - sum(len(text) for text, _ in head)
        body = [(row.words.partition(": ")[2], "dim")] if isinstance(row, OmittedBoots) else screen.boot(row, room)
        lines.append(screen.text([*head, *body]))
    if timeline.loop:
        lines.append(screen.text([(f"Loop: {timeline.loop.words}.", "bold")]))
    pieces = [segment.piece for row in timeline.rows if isinstance(row, BootRow) for segment in row.segments]
    legend = [f"[{phase.letter}] {phase.short_name}" for phase in map(phase_of, timeline.phases())]
    legend += ["! error code"] if any(piece.error for piece in pieces) else []
    legend += ["+n codes not shown"] if any(not piece.code for piece in pieces) else []
    return Group(*lines, packed(legend, console.width)) if legend else Group(*lines)


def _number(row: BootRow | OmittedBoots) -> str:
    if isinstance(row, BootRow):
        return str(row.number)
    return f"{row.first}-{row.last}" if row.last > row.first else str(row.first)


class _TimelineDrawing:
    """Draws with what the output can carry."""

    def __init__(self, console: Console) -> None:
        self.width = console.width
        self.encoding = console.encoding or "ascii"
        self.plain = not self.carries("×…■↺→⋯∅┊┌│└“”")

    def carries(self, text: str) -> bool:
        try:
            text.encode(self.encoding)
        except (UnicodeError, LookupError):
            return False
        return True

    def shown(self, text: str) -> str:
        """Text without control characters, in characters that the output has."""
        text = clean(text.replace("\t", " ").replace("\n", " "))
        if self.plain:
            text = "".join(_PLAIN.get(c, c) for c in text)
        return text if self.carries(text) else text.encode("ascii", "replace").decode("ascii")

    def cut(self, text: str, most: int) -> str:
        """Text no longer than this."""
        text = self.shown(text)
        dots = self.shown("…")
        return text if len(text) <= most else text[: max(0, most - len(dots))] + dots

    def text(self, parts: Sequence[Part]) -> Text:
        """A line that never wraps."""
        line, left = Text(no_wrap=True, overflow="crop"), self.width
        for words, style in parts:
            words = self.cut(words, left) if words.strip() else words[:left]
            line.append(words, style)
            left -= len(words)
        return line

    def bracket(self, timeline: Timeline, row: BootRow | OmittedBoots) -> str:
        """The piece of the loop's bracket before a row."""
        if timeline.loop is None:
            return ""
        inside = [one for one in timeline.rows if _last(one) >= timeline.loop.first]
        if row not in inside:
            return "  "
        piece = "┌" if row is inside[0] else "└" if row is inside[-1] else "│"
        return ("+" if piece in "┌└" else "|") + " " if self.plain else f"{piece} "

    def boot(self, row: BootRow, room: int) -> list[Part]:
        """Phases with their codes, then how it ended; what matters least is left out until it fits."""
        ending = f" {SIGNS[row.ending][self.plain]} {self.cut(row.words, LONGEST_ENDING)}"
        spans = [list(g) for _, g in itertools.groupby((s.piece for s in row.segments), key=lambda piece: piece.phase)]
        shown = {id(piece): self._code(piece, row) for span in spans for piece in span}
        pieces = [piece for span in spans for piece in span]
        depth = {id(piece): k for span in spans for k, piece in enumerate(span)}
        major = sorted((p for p in pieces if p.importance is Importance.ENDPOINT), key=lambda p: p.stop)
        minor = [p for p in pieces if p.importance is not Importance.ENDPOINT]
        minor.sort(key=lambda p: (-p.importance, -depth[id(p)], -len(shown[id(p)])))
        middle = sorted(range(1, len(spans) - 1), key=lambda i: abs(2 * i - len(spans)))
        steps = [*(id(piece) for piece in minor), *(-i for i in middle), *(id(piece) for piece in major)]
        hidden: set[int] = set()
        parts = self._codes(spans, shown, hidden)
        for step in steps:
            if sum(len(text) for text, _ in parts) + len(ending) <= room:
                break
            hidden.add(step)
            parts = self._codes(spans, shown, hidden)
        return [*parts, (ending, "bold" if row.ending is not BootEnding.RESTARTED else "")]

    def _code(self, piece: TimelinePiece, row: BootRow) -> str:
        stay = piece.seconds if piece.seconds and piece.seconds >= row.long_stay else None
        text = self.cut(piece.label, LONGEST_CODE)
        return f"{'!' if piece.error else ''}{text}{f' ({duration(stay)})' if stay else ''}"

    def _codes(self, spans: Sequence[Sequence[TimelinePiece]], shown: dict[int, str], hidden: set[int]) -> list[Part]:
        """The line; `hidden`: ids of pieces, and negative numbers of whole phases, that are left out."""
        parts: list[Part] = []
        for number, span in enumerate(spans):
            gap = -number in hidden
            if gap:
                parts += [(f" {self.shown('…')}", "dim")] if 1 - number not in hidden else []
                continue
            parts.append((f"{' ' if parts else ''}[{phase_of(span[0].phase).letter}]", "bold cyan"))
            for piece in span:
                if id(piece) not in hidden:
                    parts += [(" ", ""), (shown[id(piece)], "reverse" if piece.stop else "bold" if piece.error else "")]
                elif not gap:
                    parts.append((f" {self.shown('…')}", "dim"))
                gap = id(piece) in hidden
        return parts


def _last(row: BootRow | OmittedBoots) -> int:
    return row.number if isinstance(row, BootRow) else row.last


CAUSES = 5
STEPS = 3


def show_decoded(
    diagnostician: Diagnostician, tables: TableSet, found: Sequence[Decoded], diagnosis: Diagnosis, again: str
) -> None:
    """Print everything; `again`: the command that goes on from here."""
    console = make_console()
    for decoded in found:
        for part in _decoded(console, decoded, tables):
            console.print(part)
    for part in _advice(console, diagnostician.knowledge, diagnosis):
        console.print(part)
    if diagnosis.evidence.reports:
        console.print(Text(clean(f"To go on from here: {again}"), style="dim"), soft_wrap=True)


def _decoded(console: Console, decoded: Decoded, tables: TableSet) -> Iterator[RenderableType]:
    yield screens.heading(console, "Codes")
    yield screens.line("Read", wording.reading_sentence(decoded))
    yield screens.line("Map", wording.tables_sentence(decoded, tables))
    yield timeline_lines(console, timeline_of(decoded, tables))
    yield screens.line("Outcome", wording.outcome_sentence(decoded), style="bold")
    for event in wording.notable_events(decoded):
        yield screens.line(event.code, wording.code_sentence(event, decoded, tables))
    for note in wording.note_sentences(decoded, tables):
        yield screens.line("Note", note)


def _advice(console: Console, knowledge: Knowledge, diagnosis: Diagnosis) -> Iterator[RenderableType]:
    yield screens.heading(console, "Causes")
    if not diagnosis.evidence.reports:
        yield Text("The codes say too little to weigh causes; nopost diagnose asks for the rest.")
        return
    yield screens.ranking(console, cause_views(knowledge, diagnosis), CAUSES)
    yield screens.heading(console, "First steps")
    first = _steps(diagnosis)
    for step in first[:1]:
        yield from screens.cautions(list(cautions_of(knowledge, diagnosis, step)))
    yield screens.ordered([step_title(knowledge, step) for step in first])


def _steps(diagnosis: Diagnosis) -> list[Step]:
    """The first steps that are of use now: those that the codes did not settle already."""
    steps = [diagnosis.advice.step, *diagnosis.advice.others]
    useful = [step for step in steps if not step.opening and step.kind is not StepKind.LAST_RESORT]
    return (useful or steps)[:STEPS]


def drawn(diagnostician: Diagnostician, tables: TableSet, found: Sequence[Decoded], diagnosis: Diagnosis, form: str) -> str:
    """The timeline of the first result as SVG, or a page with it and with what follows."""
    timeline = timeline_of(found[0], tables)
    if form == "svg":
        return timeline_svg(timeline)
    return timeline_html(timeline, "Codes of a start-up", list(_sections(diagnostician.knowledge, tables, found[0], diagnosis)))


def _sections(knowledge: Knowledge, tables: TableSet, decoded: Decoded, diagnosis: Diagnosis) -> Iterator[tuple[str, list[str]]]:
    yield "Outcome", [wording.outcome_sentence(decoded)]
    yield "Read", [wording.reading_sentence(decoded), f"Map: {wording.tables_sentence(decoded, tables)}"]
    yield "Meaning", [f"{e.code}: {wording.code_sentence(e, decoded, tables)}" for e in wording.notable_events(decoded)]
    notes = list(wording.note_sentences(decoded, tables))
    if notes:
        yield "Notes", notes
    yield "Causes", [f"{text.percent(p)} {knowledge.causes[c].title}" for c, p in diagnosis.remaining[:CAUSES]]
    yield "First steps", [clean(step_title(knowledge, step)) for step in _steps(diagnosis)]
