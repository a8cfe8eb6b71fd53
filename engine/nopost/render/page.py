"""Text made safe for HTML, XML and Markdown, and the one HTML page for everything that is handed on.

The page is plain, takes nothing from outside, and prints well in black and white.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from html import escape

from nopost.text import without_controls

_BLANKS = str.maketrans("\t\n\r", "   ")


def escaped(text: str) -> str:
    """Text for any place in HTML or XML: shown as it is, markup escaped."""
    return escape(without_controls(text))


def escaped_markdown(text: str) -> str:
    """Text that Markdown (CommonMark) shows as it is, in one line."""
    line = "".join("\\" + c if c in "\\`*_[]<>#|&~!" else c for c in " ".join(without_controls(text.translate(_BLANKS)).split()))
    return re.sub(r"^(\d*)([-+.)=])", r"\1\\\2", line)  # else it would begin a list or a line across


def sections_html(sections: Iterable[tuple[str, Sequence[str]]]) -> str:
    """A heading and a list for each (title, lines)."""
    parts = []
    for title, lines in sections:
        items = "".join(f"<li>{escaped(line)}</li>" for line in lines)
        parts.append(f"<section><h2>{escaped(title)}</h2>\n<ul>{items}</ul></section>")
    return "\n".join(parts)


def html_page(title: str, body: str, footer: str = "") -> str:
    """The page; `body` is HTML already, title and footer are text."""
    end = f"\n<footer>{escaped(footer)}</footer>" if footer else ""
    return _PAGE.format(title=escaped(title), body=f"<h1>{escaped(title)}</h1>\n{body}{end}")


_PAGE = """<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{title}</title>
<style>
body {{ font: 1rem/1.5 system-ui, sans-serif; color: #111; background: #fff; }}
body {{ max-width: 57rem; margin: 1.5rem auto; padding: 0 1rem; }}
h1 {{ font-size: 1.4rem; border-bottom: 2px solid #111; padding-bottom: .3rem; margin: 0 0 .8rem; }}
h2 {{ font-size: 1.05rem; margin: 1.2rem 0 .3rem; break-after: avoid; }}
figure {{ margin: 0; border: 1px solid #111; break-inside: avoid; }}
figure svg {{ display: block; width: 100%; height: auto; }}
ul {{ margin: 0; padding-left: 1.3rem; }}
li {{ overflow-wrap: anywhere; }}
footer {{ margin-top: 2rem; font-size: .85rem; color: #444; }}
@media print {{ body {{ max-width: none; margin: 0; padding: 0; font-size: 10.5pt; }} @page {{ margin: 15mm; }} }}
</style>
</head>
<body>
{body}
</body>
</html>
"""
