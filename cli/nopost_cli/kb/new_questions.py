"""The questions of an empty knowledge base. Enter takes a placeholder, which base.yaml explains."""

from __future__ import annotations

from nopost.authoring.fresh import Beginning
from nopost.authoring.names import proposed_id
from nopost_cli.guided import ask, ask_lines, ask_number, tell
from nopost_cli.kb.add_questions import between


def ask_beginning(name: str) -> Beginning:
    """Name, parts, last resort and proof. Ctrl-C raises click.Abort; nothing was written then."""
    usual = Beginning()
    tell("A few things hold for the whole knowledge base. Enter takes what stands in brackets; base.yaml can be changed later.")
    name = name or ask("Its name, as a headline", usual.name, between(3, 100))
    works = ask("What you say when it is mended, as a sentence without its stop", usual.works, between(3, 100))
    fails = ask("And while it is not", usual.fails, between(3, 100))
    machine = ask("A machine to be mended, as a headline", usual.machine, between(3, 100))
    machines = ask("Many of them, within a sentence", usual.machines, between(3, 100))
    parts = _ids(ask_lines("\nParts of the machine, such as Pump or Mains and cable.", check=between(3, 100)))
    tell("\nThe last resort, when nothing helps:")
    shop = ask("What to do then", usual.shop, between(3, 100))
    minutes = ask_number("Minutes it takes the person", 0, 10_000, usual.shop_minutes)
    money = ask_number("What it costs", 0, 1e9, usual.shop_money)
    rate = ask_number("What a minute of work is worth, in the same money", 0.0001, 1e6, usual.minute_rate)
    proof = ask_lines("\nWhat shows that a mended machine is really well?", check=between(3, 1500))
    money_and_proof = (minutes, money, usual.hand_over, proof or usual.proof, rate)
    return Beginning(name, parts or usual.parts, shop, *money_and_proof, works, fails, machine, machines)


def _ids(names: list[str]) -> dict[str, str]:
    parts: dict[str, str] = {}
    for name in names:
        parts[proposed_id(name, parts, words=3) or f"part-{len(parts) + 1}"] = name
    return parts
