"""The rules: forward chaining from what is known to what follows. Experta runs them; only `adapter` imports it."""
