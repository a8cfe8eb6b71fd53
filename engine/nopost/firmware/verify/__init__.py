"""A machine that starts again: what its SMBIOS table says, which records it is of, and whether it is what it was meant to be.

`smbios_structures` walks the table (facts: DMTF DSP0134) and gives types 0, 1, 2, 4, 16 and 17 as values; `smbios_dump`
reads a file with the table, with or without an entry point before it; `machine` puts both into words of a bench, or holds
what a person typed. `recognise` finds the records of board, release and CPU, from which a plan can begin;
`verify_machine` checks the machine against them. Serial numbers are not read. No
length in the bytes is trusted.
"""
