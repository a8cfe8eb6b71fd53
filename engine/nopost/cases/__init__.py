"""Cases and sessions: what happened, kept on disk, replayed into observations, and reported."""
