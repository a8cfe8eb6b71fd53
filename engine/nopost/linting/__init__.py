"""The checks of a knowledge base: what a schema cannot see. Stands above `nopost.knowledge` and `nopost.diagnosis.belief`.

A check is a class (`lint_check.Check`) that holds its code, with severity, title, why and what to do, beside the function that
finds the problems. Its stage says when it runs. The first two stages look for errors with which the knowledge base is not used at
all: names that lead nowhere, numbers that do not add up, rules that depend on their own absence. The third is a closer look at a
knowledge base that loads: rules that cannot work, causes that nobody can tell apart, cautions left out. What it says can be
excepted in writing.

The modules `check_...` hold the checks, by what they look at: `check_references` names, `check_unused` what is never used and
never happens, `check_findings` and `check_causes` numbers, `check_parents` findings that depend on others, `check_repairs` fixes
in vain and coupled causes, `check_preparations` where steps take place, `check_rules` what rules do, `check_hazards` cautions,
`check_texts` words, `check_limits` limits and records, `check_checklist` the fixed checklist, `check_renamed` ids that were split
or renamed. `reachability` knows what can ever happen, and the logic of conditions. `runner` lists all checks and codes, runs
them, takes off the list what is excepted in writing, and says what concerns someone who is just adding items; `sarif` writes the
result for code hosts.

A new check is a class in one of these modules, in its `CHECKS`, with files that show the problem in the tests: see DEVELOPERS.md.
"""
