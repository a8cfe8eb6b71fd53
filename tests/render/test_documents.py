"""Documents from templates: every value is text, whatever it holds, and nothing that a template needs is missing unnoticed.

Escaping of HTML: the HTML standard, "serializing HTML fragments"; of Markdown: CommonMark 0.31, "backslash escapes", read by
another library here and in `test_report`.
"""

from __future__ import annotations

import subprocess
import sys

import pytest
from jinja2 import UndefinedError
from markdown_it import MarkdownIt

from cli.terminal import ROOT
from nopost.render.documents import html_document, markdown_document

TEMPLATES = sorted(path.name for path in (ROOT / "engine" / "nopost" / "render" / "templates").iterdir())
HOSTILE = "<b>&\"'\x1b\u202e *a* [b](c)"


def written(template: str, **values: object) -> str:
    """The document of a template of either language."""
    return (html_document if template.endswith(".html") else markdown_document)(template, **values)


def test_values_of_html_are_text() -> None:
    """Markup is escaped, controls and what turns the direction of writing are replaced."""
    page = html_document("report.html", title=HOSTILE, sections=[(HOSTILE, [HOSTILE])], footer=HOSTILE)
    assert page.count("&lt;b&gt;&amp;&#34;&#39;\ufffd\ufffd *a* [b](c)") == 5
    assert "<b>" not in page


def test_values_of_markdown_are_text() -> None:
    """Read by another library there is no markup in it, and each value stays in its line."""
    text = markdown_document("report.md", title="a\n# b", sections=[(HOSTILE, ["1. x", "- y\n- z", HOSTILE])], footer=HOSTILE)
    tokens = MarkdownIt("commonmark").parse(text)
    assert [token.type for token in tokens].count("list_item_open") == 3
    assert [token.type for token in tokens].count("heading_open") == 2
    inner = {child.type for token in tokens for child in token.children or ()}
    assert inner <= {"text", "text_special"}


@pytest.mark.parametrize("template", TEMPLATES)
def test_a_missing_value_is_an_error(template: str) -> None:
    """No template writes nothing in place of what it was not given."""
    with pytest.raises(UndefinedError):
        written(template)


def test_only_who_writes_a_document_imports_the_library() -> None:
    """Start-up does not pay for it."""
    code = "import sys, nopost.render.report, nopost.training.exercise_sheet, nopost_cli.main; print('jinja2' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, env={"PYTHONPATH": ":".join(sys.path)})
    assert (done.stdout.strip(), done.stderr) == ("False", "")
