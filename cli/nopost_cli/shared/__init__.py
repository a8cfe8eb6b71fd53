"""What several commands share.

`lazy` imports a command when it is called, `options` holds the options of more than one command and what they mean, `terminal`
is the console, the cleaning of text, what comes from a named file or standard input, and how results go out; `prompts` asks a
person and makes sense of what was typed, `drafts` keeps answers until a record is written. `screens` draws what several
commands show; `decode_screen` and `code_tables_screen` belong to one command each and are imported only when it shows
something, so that its help stays quick.
"""
