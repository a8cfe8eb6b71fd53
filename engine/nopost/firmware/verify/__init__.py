"""The SMBIOS table of a running machine, from a file. Facts: DMTF DSP0134.

`smbios_structures` walks the table and gives types 0, 1, 2, 4, 16 and 17 as values; `dump` reads a file with the
table, with or without an entry point before it. Serial numbers are not read. No length in the bytes is trusted.
"""
