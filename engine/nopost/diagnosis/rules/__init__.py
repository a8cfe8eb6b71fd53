"""Forward chaining from what is known to what follows. Experta runs the rules; only `adapter` imports it.

`engine` compiles the rules of a knowledge base once and runs them as a pure function of answers and facts; how each effect
applies stands there, and what is true of it in `nopost.knowledge.effects`. A run comes to an `Inference`. Rules fire by
layers, so that what a condition under `none` asks about is settled before, and in a fixed order.

A new effect is one row in `nopost.knowledge.effects`, one function in `engine` and one key in `schemas/rule.schema.json`. The
tests fire the same rules by a plain oracle and compare.
"""
