"""Small pieces of SVG: text that can do no harm, the patterns of the phases, signs."""

from __future__ import annotations

from collections.abc import Iterable

from nopost.page import safe, shown

INK, SOFT, PAPER = "#111", "#555", "#fff"
MONO = "ui-monospace, monospace"
MONO_SHARE = 0.605
"""Width of a letter of even width, as a share of its size."""

_PATTERNS = {
    "sec": ("#f4efe2", '<circle cx="4" cy="4" r="1.1" fill="#111"/>'),
    "pei": ("#e4ecf5", '<path d="M-2 2L2-2M0 8L8 0M6 10L10 6" stroke="#111" stroke-width=".9"/>'),
    "memory": ("#dce9dc", '<path d="M2 0V8M6 0V8" stroke="#111" stroke-width=".9"/>'),
    "late-pei": ("#efe3f0", '<path d="M-2 6L2 10M0 0L8 8M6-2L10 2" stroke="#111" stroke-width=".9"/>'),
    "dxe": ("#fbeadb", '<path d="M0 2H8M0 6H8" stroke="#111" stroke-width=".8"/>'),
    "bds": ("#e3f1f1", '<path d="M0 0H8M0 0V8" stroke="#111" stroke-width="1.1"/>'),
    "hand-over": ("#d5d5d5", ""),
    "runtime": ("#fff", ""),
    "recovery": ("#f6dede", '<path d="M0 5L2 2 4 5 6 2 8 5" fill="none" stroke="#111" stroke-width="1.1"/>'),
    "resume": ("#f2f0d8", '<circle cx="4" cy="4" r="2.4" fill="none" stroke="#111" stroke-width=".9"/>'),
    "any": ("#fff", '<path d="M2 4H6" stroke="#111" stroke-width="1"/>'),
    "several": ("#fff", '<path d="M0 0H4V4H0ZM4 4H8V8H4Z" fill="#999"/>'),
    "": ("#fff", '<path d="M2 2L6 6M6 2L2 6" stroke="#777" stroke-width=".9"/>'),
}


def text_width(text: str, size: float, share: float = MONO_SHARE) -> float:
    """How wide text is, rather too wide; `share` of the size for a usual letter, more for broad and for foreign ones."""
    broad = 1.0 if share == MONO_SHARE else 1.5
    return size * sum(
        (share * (broad if c in "mwMW" else 1.0)) if " " <= c < "\u2000" or c in "…–×“”" else 1.1 for c in shown(text)
    )


def text_at(x: float, y: float, text: str, size: float, more: str = "") -> str:
    """A line of text; `more`: further attributes."""
    return f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size:g}"{" " + more if more else ""}>{safe(text)}</text>'


def box(x: float, y: float, width: float, height: float, more: str) -> str:
    """A rectangle."""
    return f'<rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}" {more}/>'


def line(points: Iterable[tuple[float, float]], more: str = "") -> str:
    """A line through points."""
    path = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    return f'<polyline points="{path}" fill="none" stroke="{INK}" {more}/>'


def pattern_name(phase: str) -> str:
    """The fill of a phase."""
    return f"url(#phase-{phase if phase in _PATTERNS and phase else 'unknown'})"


def patterns(phases: Iterable[str]) -> str:
    """The definitions of the fills."""
    found = []
    for phase in dict.fromkeys(phase if phase in _PATTERNS else "" for phase in phases):
        tint, lines = _PATTERNS[phase]
        head = f'<pattern id="phase-{phase or "unknown"}" width="8" height="8" patternUnits="userSpaceOnUse">'
        found.append(f'{head}<rect width="8" height="8" fill="{tint}"/>{lines}</pattern>')
    return f"<defs>{''.join(found)}</defs>"


def sign(ending: str, x: float, y: float) -> str:
    """How a boot ended, around a point, 22 wide and high; empty for one that has no sign."""
    inner = {
        "stopped": '<path d="M-4.6-11H4.6L11-4.6V4.6L4.6 11H-4.6L-11 4.6V-4.6Z" fill="#111"/>'
        '<rect x="-6.5" y="-2.2" width="13" height="4.4" fill="#fff"/>',
        "restarted": '<path d="M-7 0A7 7 0 1 0 0-7" fill="none" stroke="#111" stroke-width="2.2"/>'
        '<path d="M1-11.5V-2.5L-5.5-7Z" fill="#111"/>',
        "handed-over": '<path d="M-10-3.2H1V-8.5L11 0 1 8.5V3.2H-10Z" fill="#fff" stroke="#111" stroke-width="1.6"/>',
        "busy": '<circle r="10" fill="#fff" stroke="#111" stroke-width="1.6"/>'
        '<path d="M-5 0h.01M0 0h.01M5 0h.01" stroke="#111" stroke-width="3" stroke-linecap="round"/>',
        "silent": '<circle r="9.5" fill="#fff" stroke="#111" stroke-width="2"/>'
        '<path d="M-6.5 6.5L6.5-6.5" stroke="#111" stroke-width="2"/>',
        "record-ends": '<path d="M-3-10V10M3-10V10" stroke="#111" stroke-width="1.4" stroke-dasharray="3 2"/>',
    }.get(ending, "")
    return f'<g transform="translate({x:.1f} {y:.1f})">{inner}</g>' if inner else ""
