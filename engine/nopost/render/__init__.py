"""Everything that is drawn or laid out: writers of SVG, PDF, HTML and Markdown, and the sheets made with them.

The writers know nothing of a diagnosis. `page` makes text safe for HTML, XML and Markdown and writes the one HTML page;
`scene` says what a printed page holds; `svg` and `pdf` write a scene; `typesetting` breaks text into rows by the widths of
letters; `page_layout` flows blocks through columns and puts head and foot on every page. All rooms may use these.

The sheets use the knowledge. `decision_tree` grows the questions by the advice itself, `chart_boxes` and `decision_chart` lay
that tree out; `link_map` draws causes beside the findings that speak for them; `cause_page` puts one cause on paper; `report`
writes a session down. The timeline of codes, the graph of releases and the checklist of a route stand here too. No writer
imports a sheet.
"""
