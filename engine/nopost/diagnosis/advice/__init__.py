"""The next step by decision theory: which steps are available, the expected cost of repair, the value of information."""
