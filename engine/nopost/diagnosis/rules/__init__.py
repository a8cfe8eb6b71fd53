"""Forward chaining from what is known to what follows. Experta runs the rules; only `adapter` imports it."""
