"""The conversation at the dead machine.

`start` checks that somebody can be asked and runs it, `dialogue` takes one typed line after the other and keeps the
session, `step_screen` draws the step and the pages beside it, `end_screens` the ends, `plan_screen` a firmware plan (for `nopost
plan` too).
"""
