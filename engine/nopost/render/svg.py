"""The one SVG writer: elements, patterns, text and whole documents, for a scene and for drawings that build their own.

All text and every attribute is escaped here and nowhere else, numbers are written here with at most two decimals, and an id is
made and referred to here. An element is a string; drawings join them. Attributes are given as keywords with _ for the hyphen:
`rectangle(0, 0, 10, 10, stroke_width=1.2)`. A scene is set in the viewer's own sans-serif font.
"""

from __future__ import annotations

from collections.abc import Iterable

from nopost.render.scene import Item, Page, Point, Polyline, Rectangle, TextLine
from nopost.text import escaped, without_controls

INK, SOFT, PAPER = "#111", "#555", "#fff"
MONO = "ui-monospace, monospace"
MONO_SHARE = 0.605
"""Width of a letter of even width, as a share of its size."""
Attribute = str | float | None
"""A value of an attribute; None: the element does not have it."""


def element(name: str, *inside: str, **attributes: Attribute) -> str:
    """An element; `inside`: the elements in it, SVG already."""
    head = name + "".join(
        f' {key.replace("_", "-")}="{_written(value)}"' for key, value in attributes.items() if value is not None
    )
    return f"<{head}>{''.join(inside)}</{name}>" if inside else f"<{head}/>"


def _written(value: str | float) -> str:
    return escaped(value) if isinstance(value, str) else number(value)


def number(value: float) -> str:
    """A number with at most two decimals."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def text_at(x: float, y: float, text: str, size: float, **attributes: Attribute) -> str:
    """A line of text, its left end on the base line at (x, y) unless `text_anchor` says otherwise."""
    return element("text", escaped(text), x=x, y=y, font_size=size, **attributes)


def rectangle(x: float, y: float, width: float, height: float, **attributes: Attribute) -> str:
    """A rectangle."""
    return element("rect", x=x, y=y, width=width, height=height, **attributes)


def polyline(points: Iterable[Point], *, closed: bool = False, **attributes: Attribute) -> str:
    """A line through points in ink, and back to its beginning when `closed`."""
    path = " ".join(f"{number(x)},{number(y)}" for x, y in points)
    return element("polygon" if closed else "polyline", points=path, **{"fill": "none", "stroke": INK, **attributes})


def path(data: str, **attributes: Attribute) -> str:
    """A path; `data` in the commands of SVG."""
    return element("path", d=data, **attributes)


def circle(x: float, y: float, radius: float, **attributes: Attribute) -> str:
    """A circle around a point."""
    return element("circle", cx=x, cy=y, r=radius, **attributes)


def placed(x: float, y: float, *inside: str, scale: float = 1.0) -> str:
    """Elements drawn around (0, 0), moved to a point and then scaled."""
    turned = f" scale({number(scale)})" if scale != 1 else ""
    return element("g", *inside, transform=f"translate({number(x)} {number(y)}){turned}")


def pattern(name: str, size: float, *inside: str) -> str:
    """A square pattern that fills areas; `name` is its id in the document."""
    return element("pattern", *inside, id=name, width=size, height=size, patternUnits="userSpaceOnUse")


def fill_of(name: str) -> str:
    """The fill that is the pattern of this name."""
    return f"url(#{name})"


def document(
    width: float,
    height: float,
    title: str,
    body: Iterable[str],
    *,
    description: str = "",
    definitions: Iterable[str] = (),
    unit: str = "",
    **attributes: Attribute,
) -> str:
    """A whole document on white paper. `unit`: of width and height, pixels without one; `definitions`: patterns."""
    defined = "".join(definitions)
    lines = [
        element("title", escaped(title)),
        *([element("desc", escaped(description))] if description else []),
        *([element("defs", defined)] if defined else []),
        rectangle(0, 0, width, height, fill=PAPER),
        *body,
    ]
    size: dict[str, Attribute] = {
        "xmlns": "http://www.w3.org/2000/svg",
        "width": f"{number(width)}{unit}",
        "height": f"{number(height)}{unit}",
        "viewBox": f"0 0 {number(width)} {number(height)}",
        "role": "img",
    }
    return element("svg", "\n", "\n".join(lines), "\n", **size, **attributes) + "\n"


def svg_of(page: Page) -> str:
    """The page as one document, its size in points."""
    body = map(_drawn, page.items)
    return document(page.width, page.height, page.title, body, unit="pt", font_family="sans-serif", fill="#000")


def _drawn(item: Item) -> str:
    if isinstance(item, TextLine):
        return text_at(item.x, item.y, item.text, item.size, font_weight="bold" if item.bold else None)
    if isinstance(item, Polyline):
        return polyline(item.points, closed=item.closed, **_stroke(item.stroke, item.dash))
    frame = _stroke(item.stroke, item.dash)
    return rectangle(item.x, item.y, item.width, item.height, rx=item.corner or None, fill=_grey(item), **frame)


def _grey(frame: Rectangle) -> str:
    return "none" if frame.fill is None else "#" + f"{round(255 * frame.fill):02x}" * 3


def _stroke(width: float, dash: Point | None) -> dict[str, Attribute]:
    dashes = f"{number(dash[0])} {number(dash[1])}" if dash and width else None
    return {"stroke": "#000" if width else None, "stroke_width": width or None, "stroke_dasharray": dashes}


def text_width(text: str, size: float, share: float = MONO_SHARE) -> float:
    """How wide text is, rather too wide; `share` of the size for a usual letter, more for broad and for foreign ones."""
    broad = 1.0 if share == MONO_SHARE else 1.5
    return size * sum(
        (share * (broad if c in "mwMW" else 1.0)) if " " <= c < "\u2000" or c in "…–×“”" else 1.1 for c in without_controls(text)
    )
