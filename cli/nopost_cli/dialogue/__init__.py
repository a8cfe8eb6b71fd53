"""The conversation at the dead machine.

`start` checks that somebody can be asked and runs it, `dialogue` takes one typed line after the other and keeps the
session, `session_screens` draws the step, the pages beside it and the ends, `plan_screen` a firmware plan (for `nopost
plan` too).
"""
