"""Belief: P(hypothesis | evidence). Priors of hypotheses, likelihoods of answers, the posterior, and what explains it.

`hypotheses`, `likelihood` and `posterior` compute it, `finding_forest` and `finding_node` for findings that depend on others;
`evidence` says what is given, and holds the `Observations` that a history amounts to; `repair_outcomes` says what is seen after
a fix in vain; `expected_weight` says which findings discriminate between causes; `explanation` has the weights of evidence
and the conflict measure of one session; `bif` exports the network. cli/manual/model.md says in words what the numbers mean,
with the sources.
"""
