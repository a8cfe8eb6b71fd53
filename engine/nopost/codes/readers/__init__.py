"""Readers: each turns one kind of text or bytes into `CodeReading`s, oldest event first.

`format_detection` recognises the kind and calls the reader. Formats that are certain when they fit come first: `redfish`,
`ipmi_event_log` (records and their listings), `boot_progress` (with SBMR records); then words of people and consoles:
`hex_codes`, `beeps`, `lamps`. What they share: `source_text` is the text and its lines without time stamps and line numbers;
`timestamps` reads stamps and puts events in order of time; `tokens` classifies the words of a line; `hex_codes` also makes
bytes of rows of digits.

A reader never raises on any input and takes time linear in its length: every pattern is anchored and its repeats are
bounded. To add one: a module with one entry function that gives up early on other texts, and a row in `format_detection`.
"""
