"""The advice: effort, repair sequences, the value of asking, and the next step."""
