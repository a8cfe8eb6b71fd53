"""Two editions of a knowledge base side by side: what changed, which cases flip, what a repair takes."""
