"""HTML and Markdown documents, written from the templates of the folder `templates`.

What a template is given is text: each value is escaped for the document's language, and what would control a page or turn the
direction of writing is replaced. Markup stands in the templates alone; a picture that is SVG already says so there (`safe`).
`page.html` is the base of all HTML pages: plain, nothing taken from outside, good to print in black and white. A name that a
template is not given raises an error (StrictUndefined).
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from nopost.text import escaped_markdown, without_controls

if TYPE_CHECKING:
    from jinja2 import Environment


def html_document(template: str, **values: Any) -> str:
    """The page of a template, such as "report.html", with these values as text."""
    return _environment(autoescape=True).get_template(template).render(values)


def markdown_document(template: str, **values: Any) -> str:
    """The document (CommonMark) of a template, such as "report.md", with these values as text, each in one line."""
    return _environment(autoescape=False).get_template(template).render(values)


@lru_cache
def _environment(*, autoescape: bool) -> Environment:
    """Templates with `autoescape` for HTML; without it, everything that comes from outside is escaped for Markdown."""
    from jinja2 import Environment, PackageLoader, StrictUndefined  # only who writes a document pays for it

    return Environment(
        loader=PackageLoader("nopost.render", "templates"),
        autoescape=autoescape,
        finalize=_finalizer(without_controls if autoescape else escaped_markdown),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )


def _finalizer(make_safe: Callable[[str], str]) -> Callable[[Any], Any]:
    """What Jinja2 does to each value before it is written; what a template calls safe stays as it is."""

    def finalize(value: Any) -> Any:
        return value if hasattr(value, "__html__") else make_safe(str(value))

    return finalize
