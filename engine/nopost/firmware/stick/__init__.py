"""The stick with the firmware on it: partitions, file systems, names, and what keeps a button from reading it. Only reads."""
