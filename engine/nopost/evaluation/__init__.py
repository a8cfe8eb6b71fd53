"""Is the knowledge any good? Cases, simulated repairs, two editions side by side, and what closed cases teach.

`case_files` reads cases and holds each against what it expects (`nopost kb try`).

`answer_sheets` reads what owners of real machines would answer, `sheet_player` plays the dialogue against them and pays each step
by a `price_list` (`nopost kb try --machines`). `case_scores` ranks the causes of coded cases, and `calibration` says what the
stated probabilities are worth, which `reliability_diagram` draws (`nopost kb try --score`). `areas` sums causes up.

A `simulated_machine` answers and is mended exactly as the knowledge says, with luck that depends on a seed and a name alone, so
all strategies meet the same machines. An `episode` is one repair: the `Simulator` holds what all episodes on one knowledge base
share, the `Episode` what one strategy did and knows. `strategies` choose the next step, `simulation` runs them to the end, many
machines on all cores (`nopost.processes`), and `scores` makes means, intervals and regret of the results (`nopost kb simulate`).

`edition_report` says what differs between two editions and which cases come out otherwise, `cross_evaluation` lets both advise
on the same machines, and the report holds both (`nopost kb compare`).

`learning` counts what turned out to be wrong in closed cases, and makes proposals and changed files of the counts
(`nopost kb learn`). `judged_situations` reads what somebody holds of whole machines, and `judgement_fit` moves weights and shares
towards that (`nopost kb learn --judged`).

A new strategy is a function and a line in `STRATEGIES`, its name in `NAMES` of the command `nopost kb simulate`, and an exact
expected effort in its test.
"""
