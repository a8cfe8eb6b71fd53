"""Advice: the next step by decision theory.

`available_steps` says what can be done now, `lookahead` which faults are worth considering, `repair` computes the expected cost
of repair, `value_of_information` what a question is worth, and `adviser` chooses between them. cli/manual/model.md says it in
words, with the sources.
"""
