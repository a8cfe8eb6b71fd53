"""A page as SVG: text is text, the font is the viewer's own sans-serif."""

from __future__ import annotations

from nopost.charts.scene import Frame, Item, Line, Page, Point, Text
from nopost.page import safe


def svg_of(page: Page) -> str:
    """The page as one document, its size in points."""
    size = f'width="{page.width:g}pt" height="{page.height:g}pt" viewBox="0 0 {page.width:g} {page.height:g}"'
    lines = [f'<svg xmlns="http://www.w3.org/2000/svg" {size} font-family="sans-serif" fill="#000">']
    lines.append(f"<title>{safe(page.title)}</title>")
    lines.append(f'<rect width="{page.width:g}" height="{page.height:g}" fill="#fff"/>')
    lines += [_drawn(item) for item in page.items]
    return "\n".join([*lines, "</svg>", ""])


def _drawn(item: Item) -> str:
    if isinstance(item, Frame):
        return _frame(item)
    return _line(item) if isinstance(item, Line) else _text(item)


def _frame(frame: Frame) -> str:
    place = f'x="{frame.x:.2f}" y="{frame.y:.2f}" width="{frame.width:.2f}" height="{frame.height:.2f}"'
    corner = f' rx="{frame.corner:g}"' if frame.corner else ""
    grey = "none" if frame.fill is None else f"#{round(255 * frame.fill):02x}" + f"{round(255 * frame.fill):02x}" * 2
    return f'<rect {place}{corner} fill="{grey}"{_stroke(frame.stroke, frame.dash)}/>'


def _line(line: Line) -> str:
    points = " ".join(f"{x:.2f},{y:.2f}" for x, y in line.points)
    shape = "polygon" if line.closed else "polyline"
    return f'<{shape} points="{points}" fill="none"{_stroke(line.stroke, line.dash)}/>'


def _text(text: Text) -> str:
    bold = ' font-weight="bold"' if text.bold else ""
    return f'<text x="{text.x:.2f}" y="{text.y:.2f}" font-size="{text.size:g}"{bold}>{safe(text.text)}</text>'


def _stroke(width: float, dash: Point | None) -> str:
    if not width:
        return ""
    dashes = f' stroke-dasharray="{dash[0]:g} {dash[1]:g}"' if dash else ""
    return f' stroke="#000" stroke-width="{width:g}"{dashes}'
