"""The questions of a hazard."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from nopost_cli.guided import ask, confirm, tell
from nopost_cli.kb.add_form import Form, Steps
from nopost_cli.kb.add_questions import ask_id, ask_source, between


def steps(form: Form) -> Steps:
    """Step -> its question."""
    return {
        "title": lambda: ask("\nWhat can hurt, in one line (Boiler and steam burn)", check=between(3, 100)),
        "id": lambda: ask_id(form, form.answers["title"]),
        "caution": lambda: ask("What to do and not to do, shown before the step", check=between(3, 1500)),
        "words": _words,
        "stop": lambda: confirm("\nOnce a rule raises it, must everything that needs power wait?", default=False),
        "source": lambda: ask_source("the caution"),
    }


def item(answers: dict[str, Any]) -> dict[str, Any]:
    """The hazard as data."""
    data = {key: answers[key] for key in ("id", "title", "caution", "source")}
    applies = {"applies": [{"words": answers["words"]}]} if answers["words"] else {}
    return {**data, **({"stop": True} if answers["stop"] else {}), **applies}


def follow(form: Form, name: str, nested: bool) -> list[Path]:
    """Nothing else is touched."""
    return []


def _words() -> list[str]:
    tell("\nWords in a step's title or text that call for this caution; nopost kb check looks for them. A last * is any ending.")

    def wrong(text: str) -> str:
        bad = next((word for word in _parts(text) if not 3 <= len(word) <= 60), "")
        return f"{bad!r}: 3 to 60 characters" if bad else ""

    return _parts(ask("Words, parted by commas (Enter: none)", check=wrong))


def _parts(text: str) -> list[str]:
    return list(dict.fromkeys(part.strip().casefold() for part in text.split(",") if part.strip()))
