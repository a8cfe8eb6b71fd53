"""Faults: programs killed at any moment, full disks, odd surroundings. `python -m tests.bench.faults --help`.

Sessions, exercises and drafts are killed with SIGKILL at random moments, and what was confirmed to the person is compared with
what is on disk. Then come full and read-only disks, several processes at once, clocks, encodings, closed streams and odd files.
The exit code is 1 when anything was lost. It takes about 15 minutes on two cores; mounting small disks needs root, else these
trials say that they were skipped. A new trial is one function and one line in `TRIALS`.

What the program does for it: a file that a person names is opened with `files.open_plain`; what is read, changed and written back
goes under `files.locked`.
"""
