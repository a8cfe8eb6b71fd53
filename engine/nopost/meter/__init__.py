"""Readings of a meter: what was written, the limits of each guide, what they mean together."""
