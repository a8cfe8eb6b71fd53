"""What closed cases say about the numbers: counts, a Dirichlet update of each, and what changes in the files if accepted."""
