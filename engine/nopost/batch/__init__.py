"""Many logs at once: one row of results for each log.

`log_sources` makes logs of the files of a folder or of the lines of a JSONL file, `parallel_decoding` hands chunks of them to
processes and keeps their order, `log_row` makes one row of a log, and `row_writers` writes the rows as JSONL, CSV or Parquet.

A new column is a new field of `LogRow`. A row needs no advice, so it takes rules and belief without the advice; it
remembers the ranking of each set of answers it met, and leaves out the search for digits noted wrong. What costs the time then is
the reading, inference and tracing of each code, in equal parts.
"""
