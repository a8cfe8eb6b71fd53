"""The questions of an action (a test or a fix), of a hazard, and of a rule (what follows from what is known)."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from nopost.knowledge.effects import EFFECTS, Effect
from nopost.text import comma_parts
from nopost_cli.kb.forms.item_form import ItemForm, Steps
from nopost_cli.kb.forms.shared_questions import (
    ask_conditions,
    ask_effort,
    ask_hazards,
    ask_id,
    ask_needs,
    ask_part,
    ask_places,
    ask_source,
    causes_mended,
    findings_seen,
)
from nopost_cli.shared.prompts import ask, ask_lines, ask_number, choose, choose_or_none, choose_several, confirm, of_length, tell

ACTION_KINDS = {"fix": "it may mend a cause", "test": "it is done to see something, then put back"}


def action_steps(form: ItemForm) -> Steps:
    """Step -> its question."""
    answers = form.answers
    return {
        "title": lambda: ask("\nWhat to do, as an order (Descale the boiler)", check=of_length(3, 100)),
        "id": lambda: ask_id(form, answers["title"]),
        "kind": lambda: choose("Kind", ACTION_KINDS, "fix"),
        "part": lambda: ask_part(form),
        "steps": lambda: ask_lines("\nThe steps in order.", 1, of_length(3, 1500), 12),
        "effort": lambda: ask_effort("it"),
        "needs": lambda: ask_needs(form),
        "hazards": lambda: ask_hazards(form),
        "powered": lambda: confirm("\nIs the machine switched on as part of it?", default=False),
        "when": lambda: ask_conditions(form, "Does it make sense only under some conditions?"),
        "after": lambda: _after(form),
        "resets": lambda: answers["kind"] == "fix" and confirm("Does it put settings back to their defaults?", default=False),
        "more": lambda: _more(form),
        "source": lambda: ask_source("the effort"),
    }


def action_item(answers: dict[str, Any]) -> dict[str, Any]:
    """The action as data; what is empty is left out."""
    always = {key: answers[key] for key in ("id", "title", "kind", "part", "steps", "effort", "powered", "source")}
    return {
        **always,
        **answers["more"],
        **{key: answers[key] for key in ("needs", "hazards", "when", "after", "resets") if answers[key]},
    }


def action_follow(form: ItemForm, name: str, nested: bool) -> list[Path]:
    """Existing causes that it mends, or findings that it shows, name it; not when a cause is just being asked."""
    if nested:
        return []
    return causes_mended(form, name) if form.answers["kind"] == "fix" else findings_seen(form, name)


def _more(form: ItemForm) -> dict[str, Any]:
    """`at`, `tells` and `closed`: not every action has them."""
    rarer = "a machine made ready for it, what its failure says, or to be offered only when a rule opens it"
    if not confirm(f"\nSomething rarer: {rarer}?", default=False):
        return {}
    places = ask_places(form)
    tells: dict[str, str] = {}
    tell("\nWhen it was done and did not help, what holds from then on?")
    findings = form.titles("findings")
    while name := choose_or_none("Finding", {key: title for key, title in findings.items() if key not in tells}):
        tells[name] = choose("Answer", {answer.id: answer.text for answer in form.context.findings[name].answers})
    closed = confirm("Is it offered only once a rule opens it?", default=False)
    return {**places, **({"tells": tells} if tells else {}), **({"closed": True} if closed else {})}


def _after(form: ItemForm) -> list[str]:
    findings = {name: f.title for name, f in sorted(form.context.findings.items()) if f.question}
    if not findings:
        return []
    tell("\nFindings worth asking again when it changed something. Several with commas, Enter: none.")
    return list(choose_several("Findings", findings))


POWER = {"any": "with or without power", "on": "only with the power on", "off": "only with the power off"}


def hazard_steps(form: ItemForm) -> Steps:
    """Step -> its question."""
    return {
        "title": lambda: ask("\nWhat can hurt, in one line (Boiler and steam burn)", check=of_length(3, 100)),
        "id": lambda: ask_id(form, form.answers["title"]),
        "caution": lambda: ask("What to do and not to do, shown before the step", check=of_length(3, 1500)),
        "words": _words,
        "also": lambda: _also(form),
        "stop": lambda: confirm("\nOnce a rule raises it, must everything that needs power wait?", default=False),
        "source": lambda: ask_source("the caution"),
    }


def hazard_item(answers: dict[str, Any]) -> dict[str, Any]:
    """The hazard as data."""
    data = {key: answers[key] for key in ("id", "title", "caution", "source")}
    words = [{"words": answers["words"]}] if answers["words"] else []
    applies = [*words, *([answers["also"]] if answers["also"] else [])]
    return {**data, **({"stop": True} if answers["stop"] else {}), **({"applies": applies} if applies else {})}


def hazard_follow(form: ItemForm, name: str, nested: bool) -> list[Path]:
    """Nothing else is touched."""
    return []


def _words() -> list[str]:
    tell("\nWords in a step's title or text that call for this caution; nopost kb check looks for them. A last * is any ending.")

    def wrong(text: str) -> str:
        bad = next((word for word in comma_parts(text.casefold(), once=True) if not 3 <= len(word) <= 60), "")
        return f"{bad!r}: 3 to 60 characters" if bad else ""

    return comma_parts(ask("Words, parted by commas (Enter: none)", check=wrong).casefold(), once=True)


def _also(form: ItemForm) -> dict[str, Any]:
    """A second way to be meant: by part, tool and power, all of them together."""
    if not confirm("\nDoes it also threaten steps by their part or tool, whatever their words?", default=False):
        return {}
    base = form.context.base
    tell("Parts, several with commas (Enter: any part).")
    parts = choose_several("Parts", dict(base.parts) if base else {})
    tools = {name: tool.title for name, tool in base.tools.items()} if base else {}
    needs = choose_several("Tools (Enter: any or none)", tools) if tools else ()
    power = choose("Power", POWER, "any")
    with_power = {} if power == "any" else {"powered": power == "on"}
    return {**({"parts": list(parts)} if parts else {}), **({"needs": list(needs)} if needs else {}), **with_power}


MOST_CONSEQUENCES = 12


def rule_steps(form: ItemForm) -> Steps:
    """Step -> its question."""
    return {
        "title": lambda: ask("\nThe rule as a headline (An empty tank keeps the pump dry)", check=of_length(3, 100)),
        "id": lambda: ask_id(form, form.answers["title"]),
        "when": lambda: ask_conditions(form, "", must=True),
        "then": lambda: _consequences(form),
        "because": lambda: ask("\nThe reason in plain words, shown to the person", check=of_length(3, 1500)),
        "source": lambda: ask_source("it"),
    }


def rule_item(answers: dict[str, Any]) -> dict[str, Any]:
    """The rule as data."""
    return {key: answers[key] for key in ("id", "title", "when", "then", "because", "source")}


def rule_follow(form: ItemForm, name: str, nested: bool) -> list[Path]:
    """Nothing else is touched."""
    return []


def _consequences(form: ItemForm) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = []
    offered = {
        effect.value: traits.meaning for effect, traits in EFFECTS.items() if not traits.folder or form.titles(traits.folder)
    }
    tell("\nWhat follows?")
    while len(found) < MOST_CONSEQUENCES:
        chosen = choose_or_none("Then", offered) if found else choose("Then", offered)
        if not chosen:
            break
        found.append({chosen: _about(form, Effect(chosen))})
    return found


def _about(form: ItemForm, effect: Effect) -> Any:
    if effect is Effect.KEEP_UNPOWERED:
        tell("What may have power all the same? Several with commas (Enter: nothing).")
        powered = {name: action.title for name, action in sorted(form.context.actions.items()) if action.powered}
        names = choose_several("May have power", powered) if powered else ()
        return {"except": list(names)} if names else {}
    name = choose("Which", form.titles(EFFECTS[effect].folder))
    if effect is Effect.DERIVE:
        answers = {answer.id: answer.text for answer in form.context.findings[name].answers}
        return {"finding": name, "answer": choose("Answer", answers)}
    if effect is Effect.WEIGH:
        tell("In decibans: 10 is ten to one for the cause, 3 two to one, -10 ten to one against.", 2)
        return {"cause": name, "decibans": ask_number("  Decibans", -40, 40)}
    return name
