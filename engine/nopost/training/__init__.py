"""Exercises for apprentices: a simulated dead machine, what was done with it, a debrief, and when to practise what again.

`exercise` draws a machine of a level and keeps every step of an attempt beside the advice's own; its debrief says where effort
was lost and which evidence was overlooked, and grades the attempt; `progress` keeps the scores on disk and reckons from them
which causes are due again; `exercise_sheet` puts exercises on paper. What a step is expected to have lost is its expected total
cost against that of the best step at that moment (`Adviser.expected_total_cost`).
"""
