"""Readings of a meter: what was written, the limits of each guide, what they mean together.

`reading` makes a pattern of the names that the limits give, and holds one reading and the power state it was taken in;
`parse_readings` reads typed text or a CSV table with it. `limit_check` doubts readings that no supply gives and judges the others
by each guide, `supply` brings all together and says how each voltage and signal of the supply
stands. `supply_state` decides each thing once, and `interpretation` says what it means: as answers to findings, with which a
diagnosis goes on, and in sentences.
"""
