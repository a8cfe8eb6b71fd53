"""The checks of a knowledge base: what a schema cannot see. Stands above `nopost.knowledge` and `nopost.diagnosis.belief`.

Two groups run one after the other. The first looks for errors with which the knowledge base is not used at all: names that lead
nowhere, numbers that do not add up, rules that contradict. Each check yields problems from what could be read so far and says
nothing about what it cannot judge because of another problem, so that all problems are told at once. The second is a closer look
at a knowledge base that loads: rules that cannot work, causes that nobody can tell apart, cautions left out. What it says can be
excepted in writing.

`check_*`: the checks, by what they look at. `lint_context`: what a check of the closer look sees. `reachability`: what can ever
happen, and the logic of conditions. `runner` runs all checks in order; `written_exceptions` takes single problems off the list;
`problem_codes` explains every code; `sarif` writes the result for code hosts.
"""
