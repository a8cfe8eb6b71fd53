"""Exercises for apprentices: a simulated dead machine, what was done with it, a debrief, and when to practise what again."""
