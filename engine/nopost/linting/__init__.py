"""The checks of a knowledge base: what a schema cannot see. Stands above `nopost.knowledge` and `nopost.diagnosis.belief`.

A check is a class (`lint_check.Check`) that holds its code, with severity, title, why and what to do, beside the function that
finds the problems. Its stage says when it runs. The first two stages look for errors with which the knowledge base is not used at
all: names that lead nowhere, numbers that do not add up, rules that depend on their own absence. The third is a closer look at a
knowledge base that loads: rules that cannot work, causes that nobody can tell apart, cautions left out. What it says can be
excepted in writing.

`check_*`: the checks, by what they look at. `reachability`: what can ever happen, and the logic of conditions. `registry`: all
checks and all codes. `runner` runs them; `written_exceptions` takes single problems off the list; `after_writing` says what
concerns someone who is just adding items; `sarif` writes the result for code hosts.
"""
