"""Faults: programs killed at any moment, disks that are full, surroundings that are odd. `python -m bench.faults --help`."""
