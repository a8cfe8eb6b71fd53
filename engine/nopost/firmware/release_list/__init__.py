"""Release lists: pages, tables and texts in which releases stand, read into a board record. What prose tells stays a
guess until a person confirms it.

`list_reader` goes from bytes to entries: text, then rows from `table_rows` or `text_blocks`, for which `cell_values`
says what a cell can be (date, version, size, check sum, file name), then entries in their order.
`note_meaning` adds what the notes of all releases tell together; it reads them with the phrases of `note_phrases`
(CPU families gained and lost, prerequisites, no way back), which stand on `prose` (sentences, negation, names of
families). `board_record` makes YAML of it, each guess marked.

A new phrase is one line in one of the three tables of `note_phrases`, and its sentence in the tests with a trap
beside it. No pattern sees more than 400 characters. Versions are never compared. A new shape of list is a file and what it
must come to, as a `.yaml` of the same name, in `tests/firmware/release_lists/`.
"""
