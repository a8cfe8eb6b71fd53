"""The questions of an action: a test or a fix."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from nopost_cli.guided import ask, ask_lines, choose, choose_or_none, choose_several, confirm, tell
from nopost_cli.kb.add_form import Form, Steps
from nopost_cli.kb.add_questions import (
    ask_conditions,
    ask_effort,
    ask_hazards,
    ask_id,
    ask_needs,
    ask_part,
    ask_source,
    between,
)
from nopost_cli.kb.add_touch import causes_mended, findings_seen

KINDS = {"fix": "it may mend a cause", "test": "it is done to see something, then put back"}


def steps(form: Form) -> Steps:
    """Step -> its question."""
    answers = form.answers
    return {
        "title": lambda: ask("\nWhat to do, as an order (Descale the boiler)", check=between(3, 100)),
        "id": lambda: ask_id(form, answers["title"]),
        "kind": lambda: choose("Kind", KINDS, "fix"),
        "part": lambda: ask_part(form),
        "steps": lambda: ask_lines("\nThe steps in order.", 1, between(3, 1500), 12),
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


def item(answers: dict[str, Any]) -> dict[str, Any]:
    """The action as data; what is empty is left out."""
    always = {key: answers[key] for key in ("id", "title", "kind", "part", "steps", "effort", "powered", "source")}
    return {
        **always,
        **answers["more"],
        **{key: answers[key] for key in ("needs", "hazards", "when", "after", "resets") if answers[key]},
    }


def follow(form: Form, name: str, nested: bool) -> list[Path]:
    """Existing causes that it mends, or findings that it shows, name it; not when a cause is just being asked."""
    if nested:
        return []
    return causes_mended(form, name) if form.answers["kind"] == "fix" else findings_seen(form, name)


def _more(form: Form) -> dict[str, Any]:
    """`tells` and `closed`: few actions have them."""
    if not confirm("\nSomething rarer: what its failure says, or to be offered only when a rule opens it?", default=False):
        return {}
    tells: dict[str, str] = {}
    tell("\nWhen it was done and did not help, what holds from then on?")
    findings = form.titles("findings")
    while name := choose_or_none("Finding", {key: title for key, title in findings.items() if key not in tells}):
        tells[name] = choose("Answer", {answer.id: answer.text for answer in form.context.findings[name].answers})
    closed = confirm("Is it offered only once a rule opens it?", default=False)
    return {**({"tells": tells} if tells else {}), **({"closed": True} if closed else {})}


def _after(form: Form) -> list[str]:
    findings = {name: f.title for name, f in sorted(form.context.findings.items()) if f.question}
    if not findings:
        return []
    tell("\nFindings worth asking again when it changed something. Several with commas, Enter: none.")
    return list(choose_several("Findings", findings))
