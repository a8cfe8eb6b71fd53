"""Everything that is drawn or laid out: writers of SVG, PDF, HTML and Markdown, and the sheets made with them.

The writers know nothing of a diagnosis. `nopost.text` makes text safe for HTML, XML and Markdown, and `documents` writes HTML and
Markdown from the folder `templates`, whose `page.html` is the base of all pages. `svg` writes the elements of all drawings, each
escaped once. `scene` says what a printed page holds, in points; `svg` and `pdf` write a scene; `typesetting` breaks text into
rows by the widths of letters in its medium; `page_layout` flows blocks through columns and puts head and foot on every page. All
rooms may use these.

The sheets use the knowledge. `decision_tree` grows the questions by the advice itself, `chart_boxes` and `decision_chart` lay
that tree out; `link_map` draws causes beside the findings that speak for them; `cause_page` puts one cause on paper; `report`
writes a session down. The timeline of codes (`timeline_svg`, `code_labels`), the graph of releases (`release_graph`) and the
checklist of a route (`route_checklist`) stand here too. No writer imports a sheet.

A new document is a template and a call of `documents`; a new drawing builds on `svg`; a new sheet on paper makes items, hands
them to `page_layout.with_head_and_foot`, and goes through `tests/render/page_faults.py`. Each is added to
`tests/cli/test_escaping.py`.
"""
