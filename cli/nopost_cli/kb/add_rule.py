"""The questions of a rule: what follows from what is known."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from nopost.knowledge.model import Verb
from nopost_cli.guided import ask, ask_number, choose, choose_or_none, tell
from nopost_cli.kb.add_form import Form, Steps
from nopost_cli.kb.add_questions import ask_conditions, ask_id, ask_source, between

VERBS: Mapping[Verb, tuple[str, str]] = {
    Verb.DERIVE: ("findings", "another finding has this answer"),
    Verb.RULE_OUT: ("causes", "this cause is impossible"),
    Verb.WEIGH: ("causes", "evidence for or against a cause"),
    Verb.CAUTION: ("hazards", "show a caution from now on"),
    Verb.ASK_FIRST: ("findings", "ask this next, before anything else"),
    Verb.DO_FIRST: ("actions", "do this fix next, before anything else"),
    Verb.OPEN_QUESTION: ("findings", "this may be asked now"),
    Verb.CLOSE_QUESTION: ("findings", "this makes no sense to ask"),
    Verb.OPEN_ACTION: ("actions", "this may be done now"),
    Verb.CLOSE_ACTION: ("actions", "this makes no sense or is not safe"),
}
"""Verb -> the folder of what it is about, and its meaning."""
MOST = 12


def steps(form: Form) -> Steps:
    """Step -> its question."""
    return {
        "title": lambda: ask("\nThe rule as a headline (An empty tank keeps the pump dry)", check=between(3, 100)),
        "id": lambda: ask_id(form, form.answers["title"]),
        "when": lambda: ask_conditions(form, "", must=True),
        "then": lambda: _consequences(form),
        "because": lambda: ask("\nThe reason in plain words, shown to the person", check=between(3, 1500)),
        "source": lambda: ask_source("it"),
    }


def item(answers: dict[str, Any]) -> dict[str, Any]:
    """The rule as data."""
    return {key: answers[key] for key in ("id", "title", "when", "then", "because", "source")}


def follow(form: Form, name: str, nested: bool) -> list[Path]:
    """Nothing else is touched."""
    return []


def _consequences(form: Form) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = []
    verbs = {verb.value: text for verb, (folder, text) in VERBS.items() if form.titles(folder)}
    tell("\nWhat follows?")
    while len(found) < MOST:
        verb = choose_or_none("Then", verbs) if found else choose("Then", verbs)
        if not verb:
            break
        found.append({verb: _about(form, Verb(verb))})
    return found


def _about(form: Form, verb: Verb) -> Any:
    name = choose("Which", form.titles(VERBS[verb][0]))
    if verb is Verb.DERIVE:
        answers = {answer.id: answer.text for answer in form.context.findings[name].answers}
        return {"finding": name, "answer": choose("Answer", answers)}
    if verb is Verb.WEIGH:
        tell("In decibans: 10 is ten to one for the cause, 3 two to one, -10 ten to one against.", 2)
        return {"cause": name, "decibans": ask_number("  Decibans", -40, 40)}
    return name
