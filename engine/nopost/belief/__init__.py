"""The belief: hypotheses, likelihoods, posterior, weights of evidence and surprise. Exact, in log space, in arrays."""
