"""Faults: programs killed at any moment, full disks, odd surroundings. `python -m tests.bench.faults --help`."""
