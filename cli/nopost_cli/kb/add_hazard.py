"""The questions of a hazard."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from nopost_cli.guided import ask, choose, choose_several, confirm, tell
from nopost_cli.kb.add_form import Form, Steps
from nopost_cli.kb.add_questions import ask_id, ask_source, between

POWER = {"any": "with or without power", "on": "only with the power on", "off": "only with the power off"}


def steps(form: Form) -> Steps:
    """Step -> its question."""
    return {
        "title": lambda: ask("\nWhat can hurt, in one line (Boiler and steam burn)", check=between(3, 100)),
        "id": lambda: ask_id(form, form.answers["title"]),
        "caution": lambda: ask("What to do and not to do, shown before the step", check=between(3, 1500)),
        "words": _words,
        "also": lambda: _also(form),
        "stop": lambda: confirm("\nOnce a rule raises it, must everything that needs power wait?", default=False),
        "source": lambda: ask_source("the caution"),
    }


def item(answers: dict[str, Any]) -> dict[str, Any]:
    """The hazard as data."""
    data = {key: answers[key] for key in ("id", "title", "caution", "source")}
    words = [{"words": answers["words"]}] if answers["words"] else []
    applies = [*words, *([answers["also"]] if answers["also"] else [])]
    return {**data, **({"stop": True} if answers["stop"] else {}), **({"applies": applies} if applies else {})}


def follow(form: Form, name: str, nested: bool) -> list[Path]:
    """Nothing else is touched."""
    return []


def _words() -> list[str]:
    tell("\nWords in a step's title or text that call for this caution; nopost kb check looks for them. A last * is any ending.")

    def wrong(text: str) -> str:
        bad = next((word for word in _parts(text) if not 3 <= len(word) <= 60), "")
        return f"{bad!r}: 3 to 60 characters" if bad else ""

    return _parts(ask("Words, parted by commas (Enter: none)", check=wrong))


def _also(form: Form) -> dict[str, Any]:
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


def _parts(text: str) -> list[str]:
    return list(dict.fromkeys(part.strip().casefold() for part in text.split(",") if part.strip()))
