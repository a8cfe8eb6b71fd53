"""From a history to a diagnosis, one way: `history` is replayed into `observations`; `rules` say what follows from them,
`belief` how probable each cause is, `advice` what to do next; `diagnose` runs the three, and `step_view` holds all that a face
shows of it.
"""
