"""Advice: the next step by decision theory.

`available_steps` says what can be done now, `lookahead` which faults are worth considering, `repair` computes the expected cost
of repair from the `promising_fixes`, with the `preparations` that steps need, `value_of_information` what a question is worth,
`rounds` which looks are made in one go, `looking_again` which answers are looked at once more, and `adviser` chooses between
them. cli/manual/model.md says it in words, with the sources.
"""
