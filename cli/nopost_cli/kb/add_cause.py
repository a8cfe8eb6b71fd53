"""The questions of a cause: a thing that is wrong."""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import Any

from nopost.knowledge.model import Words
from nopost_cli.guided import ask, ask_number, confirm, say, tell
from nopost_cli.kb.add_form import Form, Steps, choose_or_new
from nopost_cli.kb.add_questions import ask_hazards, ask_id, ask_part, ask_shares, ask_source, between

NEIGHBOURS = 8
"""So many causes show the scale of the weights."""
MANY = 20
"""With more findings than these, those that most causes name are told first."""


def steps(form: Form) -> Steps:
    """Step -> its question."""
    return {
        "title": lambda: ask("\nWhat is wrong, as a full statement (The tank is empty)", check=between(3, 100)),
        "id": lambda: ask_id(form, form.answers["title"]),
        "part": lambda: ask_part(form),
        "weight": lambda: _weight(form),
        "shows": lambda: _shows(form),
        "fixes": lambda: _fixes(form),
        "proof": lambda: ask("\nHow to be sure afterwards that it was this", check=between(3, 1500)),
        "explanation": lambda: ask("For an apprentice: why this stops the machine, and why it looks so", check=between(3, 1500)),
        "hazards": lambda: ask_hazards(form),
        "alone": lambda: not confirm("\nCan there be another fault besides?", default=True),
        "source-weight": lambda: ask_source("how common it is"),
        "source-shows": lambda: ask_source("what it shows"),
        "source-fixes": lambda: ask_source("what mends it"),
    }


def item(answers: dict[str, Any]) -> dict[str, Any]:
    """The cause as data."""
    keys = ("id", "title", "part", "weight", "shows", "fixes", "proof", "explanation")
    source = {key: answers[f"source-{key}"] for key in ("weight", "shows", "fixes")}
    more = {key: answers[key] for key in ("hazards", "alone") if answers[key]}
    return {**{key: answers[key] for key in keys}, **more, "source": source}


def follow(form: Form, name: str, nested: bool) -> list[Path]:
    """Nothing else is touched."""
    return []


def _weight(form: Form) -> float:
    causes = sorted(form.context.causes.values(), key=lambda cause: -cause.weight)
    machines = form.context.base.words.machines if form.context.base else Words().machines
    tell(f"\nHow common is it? Think of a thousand {machines}: how many have it? Only the ratio to the other causes counts.")
    if not causes:
        tell("There is no other cause to compare with yet; 10 is a fair beginning.", 2)
    step = max(1, -(-len(causes) // NEIGHBOURS))
    for cause in causes[::step]:
        say(f"  {cause.weight:6g}  {cause.title}")
    weight = ask_number("Of a thousand", 0.001, 1000, None if causes else 10)
    rarer = next((cause for cause in causes if cause.weight <= weight), None)
    commoner = next((cause for cause in reversed(causes) if cause.weight > weight), None)
    for word, near in (("rarer than", commoner), ("at least as common as", rarer)):
        if near:
            tell(f"{word}: {near.title} ({near.weight:g})", 2)
    return weight


def _shows(form: Form) -> dict[str, dict[str, float]]:
    """Findings that look different with it; kept one by one, so that a draft has them."""
    shows: dict[str, dict[str, float]] = form.answers.get("shows-begun", {})
    tell("\nWhich findings look different with it? Name only these: all others look as usual. At least one.")
    if len(form.context.findings) > MANY:
        tell(f"Most causes name {', '.join(_most_named(form))}.")
    while True:
        findings = {
            name: f.title for name, f in sorted(form.context.findings.items()) if name not in shows and f.combine is not None
        }
        name = choose_or_new(form, "Finding", findings, "finding", must=not shows)
        if not name:
            return shows
        if name in form.context.findings:  # a new one may have problems
            shows[name] = ask_shares(form.context.findings[name])
            form.keep("shows-begun", shows)


def _most_named(form: Form) -> list[str]:
    """Findings that most causes touch, most named first."""
    named = Counter(name for cause in form.context.causes.values() for name in cause.shows if name in form.context.findings)
    return [name for name, _ in named.most_common(6)]


def _fixes(form: Form) -> dict[str, float]:
    """Fixes with their chances, likewise."""
    fixes: dict[str, float] = form.answers.get("fixes-begun", {})
    tell("\nWhat mends it? With the chance that it does when done once with care.")
    while True:
        actions = {
            name: action.title
            for name, action in sorted(form.context.actions.items())
            if name not in fixes and action.kind == "fix"
        }
        name = choose_or_new(form, "Fix", actions, "action", must=not fixes)
        if not name:
            return fixes
        if name in form.context.actions:
            tell(f"{form.context.actions[name].title}:", 2)
        fixes[name] = round(ask_number("  It mends it in how many of 100 cases", 0.1, 100) / 100, 4)
        form.keep("fixes-begun", fixes)
