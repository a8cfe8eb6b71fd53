"""The knowledge: read from YAML, checked by schema, and held as frozen values. The first room of the flow; it imports no other.

How data flows: `yaml_reader` (one file: text to data with lines) -> `schema` (data against its JSON Schema) -> `source_files`
(all files of a folder, and the items built from those that passed) -> `build` (data to values) -> `model`, with `base_values` and
`conditions`, `effects`, `reference_records`, `meter_limits` and `roles` (the values; a role is an item that the program finds by
what it is for, so that no id of the knowledge stands in Python). Everything wrong with a file is a `problem`, a value and never
an exception. `record_faults` judges one board record by itself, also one that no knowledge base holds; `distributions` says what
a distribution must satisfy; `stratification` orders rules; `renamed` says what an old id is now. `edit` writes knowledge files.

What needs more than one item or the mathematics is checked in `nopost.linting`; `nopost.loading` runs it all.
"""
