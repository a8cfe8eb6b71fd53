"""Knowledge put to the proof: case files, simulated machines, two editions side by side, and what closed cases teach."""
