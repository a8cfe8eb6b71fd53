"""The command line of nopost: one module per command, of the command's name; it formats and asks, and decides nothing.

`main` holds the table of commands and turns errors into lines; each command is imported only when it is called. So that its
help is quick, the module of a command imports the engine and rich inside the functions that use them.
`board`, `drill` and `kb` are groups with commands of their own. `shared` holds what several commands use, `dialogue`
the conversation at the dead machine, which `diagnose` begins and `resume` goes on with. Imports point from the commands
to `dialogue` and from there to `shared`.
"""
