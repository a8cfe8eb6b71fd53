"""Readers: each turns one kind of text or bytes into a `CodeReading`, oldest event first.

`format_detection` tries them in order: formats that are certain when they fit (`redfish`, `ipmi_event_log`, `sbmr`), then
words of people and consoles (`hex_codes`, `beeps`, `lamps`). What they share: `timestamps` takes time stamps and line
numbers off the lines and puts events in order of time; `tokens` classifies the words of a line; `hex_dump` makes bytes of
rows of digits.

A reader never raises on any input and takes time linear in its length: every pattern is anchored and its repeats are
bounded. To add one: return a `CodeReading` or None, give up early on other texts, call it in `format_detection`.
"""
