"""Belief: P(hypothesis | evidence). Priors of hypotheses, likelihoods of answers, the posterior, and what explains it.

`hypotheses`, `likelihood` and `posterior` compute it; `evidence` says what is given, and holds the `Observations` that a
history amounts to; `expected_weight` says which findings discriminate between causes; `explanation` has the weights of evidence
and the conflict measure of one session; `bif` exports the network. cli/manual/model.md says in words what the numbers mean,
with the sources.
"""
