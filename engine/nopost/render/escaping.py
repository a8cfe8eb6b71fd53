"""Text made safe for HTML, XML and Markdown: shown as it is, whatever it holds.

`documents` and `svg` escape with these functions whatever they write; nobody else needs to.
"""

from __future__ import annotations

import re
from html import escape

_UNFIT = re.compile("[\x00-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff\ufffe\uffff]")

_BLANKS = str.maketrans("\t\n\r", "   ")


def without_controls(text: str) -> str:
    """Text as a page shows it: what controls, turns the direction of writing or is no character is replaced."""
    return _UNFIT.sub("\ufffd", text)


def escaped(text: str) -> str:
    """Text for any place in HTML or XML: shown as it is, markup escaped."""
    return escape(without_controls(text))


def escaped_markdown(text: str) -> str:
    """Text that Markdown (CommonMark) shows as it is, in one line."""
    line = "".join("\\" + c if c in "\\`*_[]<>#|&~!" else c for c in " ".join(without_controls(text.translate(_BLANKS)).split()))
    return re.sub(r"^(\d*)([-+.)=])", r"\1\\\2", line)  # else it would begin a list or a line across
