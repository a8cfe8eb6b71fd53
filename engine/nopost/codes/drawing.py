"""A timeline as a picture: plain SVG that needs nothing from outside and is told by pattern and letters, so that it prints."""

from __future__ import annotations

from collections.abc import Sequence

from nopost.codes.alike import Between, Loop
from nopost.codes.phase_words import PHASE_NAMES, full_name, letter
from nopost.codes.row_drawing import row_drawing
from nopost.codes.svg_parts import INK, MONO, PAPER, SOFT, box, line, pattern_name, patterns, sign, text_at, text_width
from nopost.codes.timeline import Ending, Row, Timeline
from nopost.page import html_page, safe, sections_html

WIDTH = 900
MARGIN = 24
BRACKET = 70
"""Room for the bracket of a loop, at the left."""
LEGEND_COLUMNS = 2
_BOLD = 'font-weight="bold" text-anchor="middle"'
SIGNS = {
    Ending.STOPPED: "the start-up stopped here",
    Ending.RESTARTED: "restart, next boot",
    Ending.HANDED_OVER: "handed over to the system",
    Ending.BUSY: "still at work when the record ends",
    Ending.SILENT: "nothing began",
    Ending.RECORD_ENDS: "the record ends",
}


def timeline_svg(timeline: Timeline) -> str:
    """The picture as one SVG text."""
    body = [
        text_at(MARGIN, 34, _fitted(timeline.headline, 19, 0.68), 19, 'font-weight="bold"'),
        text_at(MARGIN, 55, _fitted(timeline.detail, 12.5, 0.6), 12.5, f'fill="{SOFT}"'),
    ]
    y = 78.0
    left = MARGIN + (BRACKET if timeline.loop else 0)
    places: list[tuple[int, int, float, float]] = []
    for row in timeline.rows:
        part, height = _between(row, left, y) if isinstance(row, Between) else row_drawing(row, timeline, left, WIDTH - MARGIN, y)
        body.append(part)
        first, last = (row.first, row.last) if isinstance(row, Between) else (row.number, row.number)
        places.append((first, last, y, y + height))
        y += height + 12
    if timeline.loop:
        body.append(_bracket(timeline.loop, places))
        body.append(text_at(MARGIN, y + 10, _fitted(f"Loop: {timeline.loop.words}.", 13, 0.68), 13, 'font-weight="bold"'))
        y += 26
    legend, y = _legend(timeline, y + 4)
    height = round(y + 14)
    described = " ".join(_described(timeline))
    paper = box(0, 0, WIDTH, height, f'fill="{PAPER}"')
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" width="{WIDTH}" height="{height}" role="img" '
        f'font-family="system-ui, sans-serif" fill="{INK}">\n'
        f"<title>{safe(timeline.headline)}</title>\n<desc>{safe(described)}</desc>\n{patterns(timeline.phases())}\n"
        f"{paper}\n" + "\n".join([*body, legend]) + "\n</svg>\n"
    )


def _fitted(text: str, size: float, share: float) -> str:
    """Text cut to the width of the picture."""
    most = int((WIDTH - 2 * MARGIN) / (size * share))
    if text_width(text, size, share) <= WIDTH - 2 * MARGIN:
        return text
    while text and text_width(text[:most] + "…", size, share) > WIDTH - 2 * MARGIN:
        most -= 1
    return text[:most] + "…"


def _described(timeline: Timeline) -> list[str]:
    """The rows in words, for those who do not see the picture."""
    told = [f"{row.words}." if isinstance(row, Between) else f"{row.title}, {row.words}." for row in timeline.rows]
    return [timeline.detail, *told, *([f"Loop: {timeline.loop.words}."] if timeline.loop else [])]


def _between(row: Between, left: float, y: float) -> tuple[str, float]:
    """Boots that are not drawn: dots down, and words."""
    dots = "".join(f'<circle cx="{left + 8:.1f}" cy="{y + 3 + 8 * k:.1f}" r="1.8"/>' for k in range(3))
    return dots + text_at(left + 24, y + 15, row.words, 13), 24.0


def _bracket(loop: Loop, places: Sequence[tuple[int, int, float, float]]) -> str:
    """Around the boots of a loop, with how often it went round."""
    inside = [(top, bottom) for _, last, top, bottom in places if last >= loop.first]
    top, bottom = inside[0][0], inside[-1][1]
    right, spine, middle = MARGIN + BRACKET - 14, MARGIN + BRACKET - 26, (top + bottom) / 2
    number, _, noun = loop.short.rpartition(" ")
    words = [(number, 22.0), (noun, 12.5)] if number else [(noun, 11.0)]
    x = MARGIN + (BRACKET - 26) / 2 - 4
    told = [
        text_at(x, middle + k * 17, word, min(size, 40 / max(1, len(word) * 0.6)), _BOLD) for k, (word, size) in enumerate(words)
    ]
    return line([(right, top), (spine, top), (spine, bottom), (right, bottom)], 'stroke-width="2.5"') + "".join(told)


def _legend(timeline: Timeline, y: float) -> tuple[str, float]:
    """What patterns, letters and signs mean; where it ends."""
    drawn = timeline.phases()
    rows = [row for row in timeline.rows if isinstance(row, Row)]
    pieces = [segment.piece for row in rows for segment in row.segments]
    entries = [(full_name(phase), _swatch(phase)) for phase in PHASE_NAMES if phase in drawn]
    for ending in SIGNS:
        if any(row.ending is ending for row in rows):
            entries.append((SIGNS[ending], f'<g transform="translate(17 0) scale(.72)">{sign(ending.value, 0, 0)}</g>'))
    if any(piece.error for piece in pieces):
        frame = box(9, -7, 16, 14, f'fill="{PAPER}" stroke="{INK}" stroke-width="1.3"')
        entries.append(("an error code", frame + text_at(17, 4.3, "!", 12, _BOLD)))
    if any(not piece.code for piece in pieces):
        entries.append(("so many codes that are not drawn one by one", text_at(17, 4, "+…", 12, f'{_BOLD} font-family="{MONO}"')))
    if any(segment.cut for row in rows for segment in row.segments):
        edges = "".join(line([(x + 3, -9), (x - 3, -3), (x + 3, 3), (x - 3, 9)], 'stroke-width="1.2"') for x in (14, 20))
        entries.append(("a long wait, drawn short", edges))
    parts = [line([(MARGIN, y), (WIDTH - MARGIN, y)], 'stroke-width=".8"')]
    lines = max(1, (len(entries) + LEGEND_COLUMNS - 1) // LEGEND_COLUMNS)
    for i, (words, mark) in enumerate(entries):
        x = MARGIN + i // lines * (WIDTH - 2 * MARGIN) / LEGEND_COLUMNS
        middle = y + 20 + i % lines * 24
        parts.append(f'<g transform="translate({x:.1f} {middle:.1f})">{mark}</g>{text_at(x + 44, middle + 4.5, words, 12.5)}')
    return "\n".join(parts), y + 20 + lines * 24 - 8


def _swatch(phase: str) -> str:
    """A bit of a phase's pattern with its letter."""
    fill = box(0, -9, 34, 18, f'fill="{pattern_name(phase)}" stroke="{INK}" stroke-width=".8"')
    return fill + box(10.5, -7, 13, 14, f'fill="{PAPER}" rx="2"') + text_at(17, 4.3, letter(phase), 12, _BOLD)


def timeline_html(timeline: Timeline, title: str, sections: Sequence[tuple[str, Sequence[str]]]) -> str:
    """A page with the picture and lists under it."""
    return html_page(title, f"<figure>{timeline_svg(timeline)}</figure>\n{sections_html(sections)}")
