"""Routes: from the release that a board has to the CPU that it shall run.

`task` is what a route moves through (release, CPU in the socket, what is at hand) and where it shall end. `moves`
says what can be done in a state, what it takes, and why everything else cannot: `why_not` is the only rule, and the
search takes the moves for which it gives no reason, so the two never disagree. `route_search` finds the cheapest
route, and those that are best in minutes, money or risk. `route_plan` joins routes, refusals and, when there is no
route, what is missing; `route_steps` puts the best route into words for hands. The checklist on paper is in
`nopost.render.route_checklist`.

A new way of writing needs its entry in `Way`, its rule in `why_not`, its effort, its sentences, its hazards, and the
same rule once more in the tests' own boards, which know nothing of the search.
"""
