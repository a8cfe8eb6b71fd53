"""Questions that several kinds of item share."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from nopost.authoring.edit import add_entry
from nopost.authoring.items import change_file, item_path
from nopost.authoring.names import id_fault, proposed_id
from nopost.authoring.shares import ShareError, percent, read_ratios, read_shares, share_fault
from nopost.knowledge import model as m
from nopost.knowledge.facts import FACTS
from nopost_cli.guided import ask, ask_number, choose, choose_or_none, choose_several, confirm, say, tell
from nopost_cli.kb.add_form import Form

SOURCES = {
    "judgement": "your own experience",
    "practice": "common practice, no source",
    "text": "a book, a standard, a count: you type it",
}
FACT = "fact:"


def between(least: int, most: int, *, empty: bool = False) -> Callable[[str], str]:
    """Checks a text's length; `empty`: nothing at all is good too."""

    def wrong(text: str) -> str:
        good = least <= len(text) <= most or (empty and not text)
        return "" if good else f"{least} to {most} characters, here {len(text)}"

    return wrong


def ask_id(form: Form, title: str) -> str:
    """The id, proposed from the title; another one when a file has it already and is to stay."""

    def wrong(text: str) -> str:
        taken = item_path(form.root, form.kind, text).exists() if not id_fault(text) else False
        return id_fault(text) or ("there is a file of this id already; choose another" if taken else "")

    taken = {path.stem for path in item_path(form.root, form.kind, "x").parent.glob("*.yaml")}
    return ask("Id, which also names the file", proposed_id(title, taken), wrong)


def ask_part(form: Form) -> str:
    """A part of base.yaml, or a new one, which is added there."""
    tell("\nWhich part of the machine does it belong to?")
    parts = dict(form.context.base.parts) if form.context.base else {}
    found = choose("Part", {**parts, "+": "a part that is not listed"})
    if found != "+":
        return found
    name = ask("Name of the part", check=between(3, 100))
    key = ask("Id of the part", proposed_id(name, parts), lambda text: id_fault(text) or ("taken" if text in parts else ""))
    change_file(form.root / "base.yaml", lambda text: add_entry(text, ("parts",), key, name))
    form.reload()
    return key


def ask_effort(what: str) -> dict[str, float]:
    """Minutes, money, risk."""
    tell(f"\nWhat {what} takes, for someone who has done it once or twice:")
    effort = {"minutes": ask_number("Minutes of work", 0, 10_000)}
    money = ask_number("Money spent for it (not for tools)", 0, 1e9, 0)
    risk = ask_number("Risk: chance to break something, times what that costs", 0, 1e9, 0)
    return {**effort, **({"money": money} if money else {}), **({"risk": risk} if risk else {})}


def ask_needs(form: Form) -> list[str]:
    """Tools and spares of base.yaml, or new ones, which are added there."""
    needs: list[str] = []
    tell("\nTools and spares that it needs:")
    while True:
        tools = {name: tool.title for name, tool in form.context.base.tools.items()} if form.context.base else {}
        rest = {name: title for name, title in tools.items() if name not in needs}
        found = choose_or_none("Tool", {**rest, "+": "a tool or spare that is not listed"}, "no more")
        if not found:
            return needs
        needs.append(_new_tool(form, tools) if found == "+" else found)


def _new_tool(form: Form, tools: Mapping[str, str]) -> str:
    title = ask("Name of the tool or spare", check=between(3, 100))
    key = ask("Its id", proposed_id(title, tools), lambda text: id_fault(text) or ("taken" if text in tools else ""))
    effort = {"minutes": ask_number("Minutes to get it when it is not at hand", 0, 10_000, 5)}
    money = ask_number("What it costs then", 0, 1e9, 0)
    tool = {"title": title, "effort": {**effort, **({"money": money} if money else {})}}
    change_file(form.root / "base.yaml", lambda text: add_entry(text, ("tools",), key, tool))
    form.reload()
    return key


def ask_hazards(form: Form) -> list[str]:
    """What can hurt; the cautions are shown before the step."""
    hazards = form.titles("hazards")
    if not hazards:
        tell("\nNo hazards are written down yet. If this can hurt anyone, add one (nopost kb add hazard) and name it here.")
        return []
    tell("\nWhat can hurt here? The cautions are shown before the step. Several with commas, Enter: nothing.")
    return list(choose_several("Hazards", hazards))


def ask_source(of_what: str) -> str:
    """Where a kind of number comes from."""
    tell(f"\nWhere is it from: {of_what}?")
    kind = choose("Source", SOURCES, "judgement")
    if kind == "text":
        return ask("The source: title, year, page, or what was counted", check=between(5, 300))
    return "common practice, no source" if kind == "practice" else "judgement"


def ask_conditions(form: Form, question: str, *, must: bool = False) -> dict[str, Any]:
    """`all` and `none`; {} for always. `must`: at least one thing that holds."""
    if not must and not confirm(f"\n{question}", default=False):
        return {}
    wanted = _condition_list(form, "What must hold (all of these)", must)
    without = _condition_list(form, "What must not hold (none of these; what is not known counts as not holding)", False)
    return {**({"all": wanted} if wanted else {}), **({"none": without} if without else {})}


def _condition_list(form: Form, headline: str, must: bool) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = []
    facts = {f"{FACT}{name}": "from the records of the parts" for name in FACTS} if form.context.boards else {}
    choices = {**form.titles("findings"), **facts}
    tell(f"\n{headline}:")
    while choices:
        name = choose("Finding", choices) if must and not found else choose_or_none("Finding", choices)
        if not name:
            break
        found.append(_condition(form, name))
    return found


def _condition(form: Form, name: str) -> dict[str, Any]:
    if name.startswith(FACT):
        fact = name.removeprefix(FACT)
        return {"fact": fact, "is": choose("Value", dict.fromkeys(FACTS[fact], ""))}
    answers = {answer.id: answer.text for answer in form.context.findings[name].answers}
    values: tuple[str, ...] = ()
    while not values:
        values = choose_several("Answer (several with commas: any of them)", answers)
    return {"finding": name, "is": values[0] if len(values) == 1 else list(values)}


def ask_shares(finding: m.Finding) -> dict[str, float]:
    """What a cause makes a finding show; asked until the mathematics can combine it."""
    _show_answers(finding)
    ratios = finding.combine is m.Combine.HISTORY
    tell(_HOW[ratios], 2)
    while True:
        typed = ask("  Numbers")
        try:
            shown = (read_ratios if ratios else read_shares)(typed, finding.answer_ids)
        except ShareError as error:
            tell(str(error), 2)
            continue
        fault = share_fault(finding, shown)
        if not fault:
            tell(_shown(shown, ratios), 2)
            return shown
        tell(f"Not so: {fault}.", 2)


_HOW = {
    False: "Of 100 machines with this cause, how many show each? As in 80 15 5, counts too; or answer=number.",
    True: "How many times as likely as usual is each? 1 is as usual. As in 1 1 4; or answer=number for those that differ.",
}


def _shown(shown: Mapping[str, float], ratios: bool) -> str:
    return ", ".join(f"{name} {ratio:g} times" for name, ratio in shown.items()) if ratios else percent(shown)


def _show_answers(finding: m.Finding) -> None:
    order = ", from least to most abnormal" if finding.combine is m.Combine.GRADED else ""
    tell(f"{finding.title}{order}. Usual: when no cause touches it.", 2)
    width = max(len(name) for name in finding.answer_ids)
    for answer in finding.answers:
        usual = finding.baseline.get(answer.id, 0.0) * 100
        say(f"    {answer.id:{width}}  usual {usual:5.3g} %  {answer.text}")
