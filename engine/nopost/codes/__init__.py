"""POST codes: what a display, lamps, a speaker or a log showed, which code table it follows, and where the start-up stopped.

Data flows one way, and `decode` runs the whole of it:

    text -> readers -> CodeReading -> table_inference -> TableInference -> trace -> Trace -> answers to findings
                                          |                                 |
                       tables, table_likelihood, misread_digits    boots, periodicity, boot_outcome

`code_events` defines what a reader hands on, and the phases of a start-up. `tables` looks codes up in the tables of the
knowledge base; `status_value` takes apart a 32-bit status value that no table has.
`table_likelihood` gives the probability of a sequence under one table and under a table that nobody knows;
`table_inference` turns that into a posterior over the tables and the order of the events. `misread_digits` finds codes
that a person probably misread on a seven-segment display. `boots` cuts the sequence at its resets, `periodicity` finds
rounds that repeat, `boot_outcome` judges the boots under one table, and `trace` weighs the judgements of all tables.
`decode` is the one call that the commands and the dialogue use.

What people see: `wording` puts results into sentences and plain data; `timeline` decides what a drawing of the start-up
shows and `timeline_layout` how it fits the width. The terminal and `nopost.render.timeline_svg` draw it.
"""
