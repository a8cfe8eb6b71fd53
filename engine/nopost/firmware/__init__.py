"""Firmware of boards: which release knows which CPU, the way to a release, and whether an update did what it should.

`records` finds board and CPU records, `record_facts` answers questions to one of them and says what they settle for the
rules, and `release_graph` says which release can be written over which; these come before the diagnosis.
`route/` plans the way from the release on the board to the CPU that shall run. `release_list/` reads a list of releases
into a board record. `image/` and `stick/` look at the file and at the stick before a write, `verify/` at the machine
that starts again after it. `check_result` holds the one value in which image, stick and machine are spoken of,
`bounded_bytes` reads bytes of which nothing is trusted.

Nothing here writes to a medium or to a chip; nothing compares versions as numbers: the order of releases is that of
the record.
"""
