"""From a history to a diagnosis, one way: `history` is replayed into `Observations`; `rules` say what follows from them,
`belief` how probable each cause is, `advice` what to do next; `diagnose` runs the three, and `step_view` holds all that a face
shows of it.

A history is parts and events, and the only state; what a step costs the person in it is reckoned beside it, and `workplace` says
what preparations a step needs and leaves. `replay` turns it
into observations; `parts_facts` says what the records of the parts settle, and reads their files once, before; `inventory` says
what is there, and who told it. `replay` also checks answers that come in one go, from options or a file. `end_view` holds what a
face shows at an end, `firmware_offer` the firmware plan and what the board's record adds to a step. `history_words` puts events
and outcomes into words, `diagnosis_data` a diagnosis into plain data for `--json`, whose keys are only ever added within one
version.

Safety is decided here and nowhere else: which steps can be taken at all (`advice.available_steps`), and which cautions stand
before a step (`cautions`).
"""
