"""Writing knowledge: files made and changed by a program, as a person would have written them.

`canonical_yaml`: the one form of a knowledge file, by ruamel.yaml, and new YAML from data. `change_yaml`: a value, an
entry or an item of a file, everything else as it was. `item_files`: new items and their ids. `new_base`: a new knowledge base
and what helps a text editor with it. `shares`: distributions as people type them.

`nopost.knowledge.yaml_reader` alone says what a file means: ruamel.yaml only changes files, holds each scalar as text, with
comments and quotes, and what it writes is read back by the reader before anyone gets it. Every file of `kb/` has the canonical
form, which a test holds: read and written again it has the same bytes.

ruamel.yaml is imported in this room alone, and by commands only when they write: it takes a tenth of a second to start.
"""
