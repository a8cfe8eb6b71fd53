"""The conversation at the dead machine.

`start` checks that somebody can be asked and runs it, `dialogue` takes one typed line after the other and keeps the
session, `step_screen` draws the step, the pages beside it and a firmware plan (for `nopost plan` too), `end_screens` the ends.
"""
