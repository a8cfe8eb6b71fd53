"""Probabilities of causes: hypotheses and their priors, likelihoods of answers, the posterior, and why it is what it is."""
