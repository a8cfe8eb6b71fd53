"""Lists of releases with notes, as people copy them, turned into the firmware part of a board record."""
