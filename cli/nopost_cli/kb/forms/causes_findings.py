"""The questions of a cause (a thing that is wrong) and of a finding (something that can be observed)."""

from __future__ import annotations

from collections import Counter
from functools import partial
from pathlib import Path
from typing import Any

from nopost.knowledge.build import finding
from nopost.knowledge.edit.item_files import id_fault, proposed_id
from nopost.knowledge.edit.shares import ShareError, percent, read_shares, share_fault
from nopost.knowledge.model import ABSENT, UNKNOWN, Words
from nopost_cli.kb.forms.item_form import ItemForm, Steps, choose_or_new
from nopost_cli.kb.forms.shared_questions import (
    ask_area,
    ask_conditions,
    ask_effort,
    ask_hazards,
    ask_id,
    ask_needs,
    ask_part,
    ask_places,
    ask_shares,
    ask_source,
    causes_showing,
    first_asked,
)
from nopost_cli.shared.prompts import ask, ask_number, choose, choose_or_none, confirm, of_length, or_nothing, say, tell

NEIGHBOURS = 8
"""So many causes show the scale of the weights."""
MANY = 20
"""With more findings than these, those that most causes name are told first."""


def cause_steps(form: ItemForm) -> Steps:
    """Step -> its question."""
    return {
        "title": lambda: ask("\nWhat is wrong, as a full statement (The tank is empty)", check=of_length(3, 100)),
        "id": lambda: ask_id(form, form.answers["title"]),
        "part": lambda: ask_part(form),
        "area": lambda: ask_area(form),
        "weight": lambda: _weight(form),
        "shows": lambda: _shows(form),
        "fixes": lambda: _fixes(form),
        "proof": lambda: ask("\nHow to be sure afterwards that it was this", check=of_length(3, 1500)),
        "explanation": lambda: ask(
            "For an apprentice: why this stops the machine, and why it looks so", check=of_length(3, 1500)
        ),
        "hazards": lambda: ask_hazards(form),
        "alone": lambda: not confirm("\nCan there be another fault besides?", default=True),
        "source-weight": lambda: ask_source("how common it is"),
        "source-shows": lambda: ask_source("what it shows"),
        "source-fixes": lambda: ask_source("what mends it"),
    }


def cause_item(answers: dict[str, Any]) -> dict[str, Any]:
    """The cause as data."""
    keys = ("id", "title", "part", "weight", "shows", "fixes", "proof", "explanation")
    source = {key: answers[f"source-{key}"] for key in ("weight", "shows", "fixes")}
    more = {key: answers[key] for key in ("hazards", "alone") if answers[key]}
    area = {"area": answers["area"]} if answers.get("area") else {}
    return {**{key: answers[key] for key in keys}, **area, **more, "source": source}


def cause_follow(form: ItemForm, name: str, nested: bool) -> list[Path]:
    """Nothing else is touched."""
    return []


def _weight(form: ItemForm) -> float:
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


def _shows(form: ItemForm) -> dict[str, dict[str, float]]:
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


def _most_named(form: ItemForm) -> list[str]:
    """Findings that most causes touch, most named first."""
    named = Counter(
        name for cause in form.context.causes.values() for name in cause.named_findings if name in form.context.findings
    )
    return [name for name, _ in named.most_common(6)]


def _fixes(form: ItemForm) -> dict[str, float]:
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


COMBINE = {
    "graded": "what is seen now: of two faults the more abnormal sign wins",
    "history": "what happened before: it makes causes more or less likely",
    "either": "one thing is shown, such as a code: with two faults it is one or the other",
}
READS = "reads"
INSTRUMENT = {READS: "an instrument: it shows another finding, such as a lamp that shows how far it got"}
FINDING_RESTS = {
    "combine": ("baseline", "unnamed"),
    "answers": ("baseline", "unnamed"),
    "baseline": ("unnamed",),
    "action": ("unnamed", "effort", "needs"),
}
"""Answer -> those that mean nothing any more once it is another."""
MOST_ANSWERS = 14


def finding_steps(form: ItemForm) -> Steps:
    """Step -> its question."""
    answers = form.answers
    return {
        "question": lambda: ask("\nWhat the person is asked (Does the pump make a sound?)", check=of_length(3, 1500)),
        "title": lambda: ask("The same as a headline (Sound of the pump)", check=of_length(3, 100)),
        "id": lambda: ask_id(form, answers["title"]),
        "part": lambda: ask_part(form),
        "combine": lambda: _combine(form),
        "answers": lambda: _answers(answers["combine"]),
        "baseline": lambda: _reads(form) if answers["combine"] == READS else _baseline(answers),
        "misreport": lambda: ask_number("\nOf 100 people, how many report it wrongly", 0.1, 40, 3) / 100,
        "look": lambda: ask(
            "\nHow to look, for someone who never did (Enter: nothing to say)", check=or_nothing(of_length(3, 1500))
        ),
        "action": lambda: _test(form),
        "unnamed": lambda: _unnamed(answers),
        "effort": lambda: {} if answers["action"] else ask_effort("looking"),
        "needs": lambda: [] if answers["action"] else ask_needs(form),
        "hazards": lambda: ask_hazards(form),
        "powered": lambda: confirm("\nMust the power be on to see it?", default=False),
        "when": lambda: ask_conditions(form, "Does the question make sense only after some other answer?"),
        "more": lambda: _more(form),
        "source": lambda: ask_source("what is usual"),
    }


def finding_item(answers: dict[str, Any]) -> dict[str, Any]:
    """The finding as data; what is empty or usual is left out."""
    always = {key: answers[key] for key in ("id", "title", "part", "question", "answers", "combine", "baseline", "source")}
    if answers["combine"] == READS:
        always = {READS if key == "baseline" else key: value for key, value in always.items() if key != "combine"}
    maybe = ("look", "unnamed", "effort", "needs", "action", "hazards", "powered", "when")
    misreport = {} if answers["misreport"] == 0.03 else {"misreport": round(answers["misreport"], 4)}
    return {**always, **misreport, **answers["more"], **{key: answers[key] for key in maybe if answers[key]}}


def finding_follow(form: ItemForm, name: str, nested: bool) -> list[Path]:
    """Asked first of all; and existing causes that show it, but for an instrument. Within a cause only the first."""
    return [*first_asked(form, name), *([] if nested or form.answers["combine"] == READS else causes_showing(form, name))]


def _combine(form: ItemForm) -> str:
    tell("\nWhat kind of finding is it?")
    instrument = INSTRUMENT if form.asked_by != "cause" and _can_be_read(form) else {}  # a cause never names one
    return choose("Kind", {**COMBINE, **instrument}, "graded")


def _can_be_read(form: ItemForm) -> dict[str, str]:
    """Findings that an instrument can show."""
    return {name: f.title for name, f in sorted(form.context.findings.items()) if f.has_own_combination}


def _reads(form: ItemForm) -> dict[str, Any]:
    """What an instrument reads, and what it shows for each answer of that."""
    tell("\nWhich finding does it show? Causes name that one, never the instrument.")
    target = form.context.findings[choose("Reads", _can_be_read(form))]
    tell("\nOf 100 machines in each state, how many show each answer? In the order above, or one answer's id for all of them.")
    table = {}
    for answer in target.answers:
        tell(f"\n{target.title}: {answer.text}")
        table[answer.id] = _shares(form.answers, need_all=False)
    return {"finding": target.id, "table": table}


def _answers(combine: str) -> list[dict[str, str]]:
    order = " from least to most abnormal" if combine == "graded" else ""
    tell(f"\nThe answers{order}, as the person reads them; at least two. Enter alone ends. Can't tell is always offered besides.")
    found: list[dict[str, str]] = []
    while len(found) < MOST_ANSWERS:
        enough = len(found) >= 2
        check = of_length(3, 100)
        text = ask(f"  Answer {len(found) + 1}", check=or_nothing(check) if enough else check)
        if not text:
            break
        taken = {answer["id"] for answer in found} | {UNKNOWN, ABSENT}
        name = ask("    its id", proposed_id(text, taken, 2), partial(_answer_fault, taken))
        found.append({"id": name, "text": text})
    return found


def _answer_fault(taken: set[str], name: str) -> str:
    return id_fault(name) or ("taken, or a word that is kept for the program" if name in taken else "")


def _baseline(answers: dict[str, Any]) -> dict[str, float]:
    history = answers["combine"] == "history"
    who = "Of 100 machines that come in," if history else "When no fault touches it: of 100 such machines,"
    tell(f"\n{who} how many show each? As in 95 5, in the order above; or one answer's id for all of them.")
    return _shares(answers, need_all=history)


def _unnamed(answers: dict[str, Any]) -> dict[str, float]:
    """Only for what a test shows: a fault that does not name it mostly leaves the machine as it was."""
    if not answers["action"] or answers["combine"] == READS:
        return {}
    tell("\nThe test on a machine with a fault that has nothing to do with it: of 100, how many show each? Mostly: as before.")
    keys = ("id", "title", "part", "answers", "combine", "baseline")
    so_far = finding({**{key: answers[key] for key in keys}, "source": ""})
    while fault := share_fault(so_far, shown := _shares(answers, need_all=False)):
        tell(f"Not so: {fault}.", 2)
    return shown


def _shares(answers: dict[str, Any], *, need_all: bool) -> dict[str, float]:
    names = [answer["id"] for answer in answers["answers"]]
    tell(", ".join(names), 2)
    while True:
        try:
            shown = read_shares(ask("  Numbers"), names)
        except ShareError as error:
            tell(str(error), 2)
            continue
        empty = [name for name in names if name not in shown]
        if need_all and empty:
            tell(f"give {', '.join(empty)} a share above 0: causes make it so many times as likely", 2)
            continue
        tell(percent(shown), 2)
        return shown


def _more(form: ItemForm) -> dict[str, Any]:
    """`at`, `absent`, `closed` and `parent`: not every finding has them."""
    rarer = "a machine made ready for the look, or without such a thing, asked only when a rule opens it, following from another"
    if not confirm(f"\nSomething rarer: {rarer}?", default=False):
        return {}
    places = ask_places(form)
    text = ask("One more answer, for a machine that has no such thing (Enter: none)", check=or_nothing(of_length(3, 100)))
    closed = confirm("Is it asked only once a rule opens it?", default=False)
    parent = {} if form.answers["combine"] == READS else _parent(form)
    return {**places, **({"absent": text} if text else {}), **({"closed": True} if closed else {}), **parent}


def _parent(form: ItemForm) -> dict[str, Any]:
    """The finding on whose answer this one depends whatever is wrong, and what is usual for each answer of it."""
    above = form.titles("findings")
    if not above:
        return {}
    tell("\nDoes its answer follow from another one, whatever is wrong with the machine? Then one fact is not counted twice.")
    name = choose_or_none("Finding", above, "no, only from what is wrong")
    if not name:
        return {}
    parent = form.context.findings[name]
    tell("\nOf 100 machines with each answer there, how many show each one here?")
    given = {}
    for answer in parent.answers:
        tell(f"\n{parent.title}: {answer.text}")
        given[answer.id] = _shares(form.answers, need_all=False)
    return {"parent": name, "given": given}


def _test(form: ItemForm) -> str:
    tests = {name: action.title for name, action in sorted(form.context.actions.items()) if action.kind == "test"}
    if not tests:
        return ""
    tell("\nIs a test done to see it?")
    return choose_or_none("Test", tests, "no, one just looks")
