"""The questions of a case: what was seen and what it turned out to be; from a kept session, or typed."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from nopost.diagnosis.history import OUTCOMES, History
from nopost.evaluation.learning import before_any_fix, fixes_tried
from nopost.knowledge.model import ABSENT, UNKNOWN, Knowledge
from nopost_cli.kb.forms.item_form import ItemForm, Steps
from nopost_cli.kb.forms.shared_questions import ask_id, ask_source
from nopost_cli.shared.prompts import ask, ask_number, choose, choose_or_none, of_length, or_nothing, tell

WITHIN = 3


def case_steps(form: ItemForm) -> Steps:
    """Step -> its question."""
    answers = form.answers
    return {
        "title": lambda: ask("\nThe case in one line", check=of_length(3, 100)),
        "id": lambda: ask_id(form, answers["title"]),
        "story": lambda: ask("What the person told (Enter: nothing to say)", check=or_nothing(of_length(3, 1500))),
        "answers": lambda: _answers(form),
        "tried": lambda: _tried(form),
        "records": lambda: _records(form),
        "cause": lambda: _cause(form),
        "within": lambda: _within(answers["cause"]),
        "resolution": lambda: ask(
            "\nWhat was done, and what it proved (Enter: nothing to say)", check=or_nothing(of_length(3, 1500))
        ),
        "source": lambda: ask_source("the case"),
    }


def case_item(answers: dict[str, Any]) -> dict[str, Any]:
    """The case as data; what is empty is left out."""
    always = {key: answers[key] for key in ("id", "title", "source")}
    maybe = {key: answers[key] for key in ("story", "records", "answers", "tried", "resolution") if answers[key]}
    expect = {"cause": answers["cause"], "within": int(answers["within"])} if answers["cause"] else {}
    return {**always, **maybe, **({"expect": expect} if expect else {})}


def case_follow(form: ItemForm, name: str, nested: bool) -> list[Path]:
    """Nothing else is touched."""
    return []


def take_session(form: ItemForm, name: str) -> None:
    """Fill the form with what a kept session saw, tried and found. Raises SessionError and UnknownNameError."""
    from nopost.loading import load_knowledge
    from nopost.store.sessions import load

    knowledge = load_knowledge(form.root)
    session = load(name, knowledge)
    for line in session.dropped:
        tell(f"Left out, for this knowledge base does not know it: {line}")
    form.answers |= {**_seen(session.history, knowledge), "records": _parts(session.history, knowledge)}
    end = session.history.end
    if end and end.item in knowledge.causes:
        form.answers["cause"] = end.item
    seen, tried = len(form.answers["answers"]), len(form.answers["tried"])
    counts = f"{seen} answer{'' if seen == 1 else 's'}, {tried} fix{'' if tried == 1 else 'es'} tried"
    tell(f"From the session: {counts}{', and what it was' if 'cause' in form.answers else ''}.")


def _seen(history: History, knowledge: Knowledge) -> dict[str, Any]:
    tried = [{"action": action, "outcome": outcome} for action, outcome in fixes_tried(history)]
    return {"answers": before_any_fix(history, knowledge), "tried": tried}


def _parts(history: History, knowledge: Knowledge) -> dict[str, Any]:
    """Records that the base has too, and what was told to be there; a record in a file of its own cannot be named in a case."""
    known = {"board": knowledge.boards, "cpu": knowledge.cpus}
    named = history.parts.named()
    found = {key: named[key] for key in known if named.get(key) in known[key]}
    there = {"there": dict(history.parts.there)} if history.parts.there else {}
    return {**found, **({"firmware": named["firmware"]} if "board" in found and "firmware" in named else {}), **there}


def _answers(form: ItemForm) -> dict[str, str]:
    found: dict[str, str] = {}
    tell("\nWhat was seen, in the order in which it was told?")
    while True:
        findings = {name: title for name, title in form.titles("findings").items() if name not in found}
        name = choose_or_none("Finding", findings)
        if not name:
            return found
        finding = form.context.findings[name]
        texts = {answer.id: answer.text for answer in finding.answers}
        found[name] = choose("  Answer", {**texts, UNKNOWN: "can't tell", **({ABSENT: finding.absent} if finding.absent else {})})


def _tried(form: ItemForm) -> list[dict[str, str]]:
    found: list[dict[str, str]] = []
    fixes = {name: action.title for name, action in sorted(form.context.actions.items()) if action.kind == "fix"}
    tell(
        "\nWhich fixes were tried, and what came of them?"
        + ("" if form.answers["answers"] else " At least one, for nothing was seen.")
    )
    while fixes:
        need = not found and not form.answers["answers"]
        name = choose("Fix", fixes) if need else choose_or_none("Fix", fixes)
        if not name:
            break
        found.append({"action": name, "outcome": choose("  It then", dict.fromkeys(OUTCOMES, ""), "same")})
    return found


def _records(form: ItemForm) -> dict[str, str]:
    """Board and CPU, where the base has records of any."""
    records: dict[str, str] = {}
    for key, folder in (("board", "boards"), ("cpu", "cpus")):
        titles = form.titles(folder)
        name = choose_or_none(f"\nRecord of the {key}", titles, "not known") if titles else ""
        if name:
            records[key] = name
    if "board" in records:
        releases = {release.version: release.date for release in form.context.boards[records["board"]].releases}
        version = choose_or_none("Firmware on it", releases, "not known")
        records |= {"firmware": version} if version else {}
    return records


def _cause(form: ItemForm) -> str:
    tell("\nWhat did it turn out to be?")
    return choose_or_none("Cause", form.titles("causes"), "nobody knows") if form.titles("causes") else ""


def _within(cause: str) -> float:
    if not cause:
        return WITHIN
    tell("\nHow high must it stand among the causes for these answers? 1 is first. nopost kb try looks.")
    return round(ask_number("Within the first", 1, 20, WITHIN))
