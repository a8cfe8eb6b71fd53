"""Codes: read what a display, lamps, a speaker or a log showed, find its table, and see where the start-up stopped."""
