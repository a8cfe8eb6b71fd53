"""Questions that several kinds of item share, and those of an empty knowledge base.

Also the existing files that a new item concerns: a line more in each that the person names, everything else as it was.
For an empty knowledge base Enter takes a placeholder, which base.yaml explains.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from nopost.knowledge import model as m
from nopost.knowledge.edit.item_files import change_file, id_fault, item_path, names_taken, proposed_id
from nopost.knowledge.edit.new_base import NewBase
from nopost.knowledge.edit.shares import ShareError, percent, read_ratios, read_shares, share_fault
from nopost.knowledge.reference_records import FACTS
from nopost_cli.kb.forms.item_form import ItemForm
from nopost_cli.shared.prompts import (
    ask,
    ask_lines,
    ask_number,
    choose,
    choose_or_none,
    choose_several,
    confirm,
    of_length,
    say,
    tell,
)

SOURCES = {
    "judgement": "your own experience",
    "practice": "common practice, no source",
    "text": "a book, a standard, a count: you type it",
}
FACT = "fact:"


def ask_id(form: ItemForm, title: str) -> str:
    """The id, proposed from the title; another one when a file has it already and is to stay."""

    def wrong(text: str) -> str:
        taken = item_path(form.root, form.kind, text).exists() if not id_fault(text) else False
        return id_fault(text) or ("there is a file of this id already; choose another" if taken else "")

    taken = names_taken(form.root, form.kind)
    return ask("Id, which also names the file", proposed_id(title, taken), wrong)


def ask_part(form: ItemForm) -> str:
    """A part of base.yaml, or a new one, which is added there."""
    tell("\nWhich part of the machine does it belong to?")
    parts = dict(form.context.base.parts) if form.context.base else {}
    found = choose("Part", {**parts, "+": "a part that is not listed"})
    if found != "+":
        return found
    name = ask("Name of the part", check=of_length(3, 100))
    key = ask("Id of the part", proposed_id(name, parts), lambda text: id_fault(text) or ("taken" if text in parts else ""))
    change_file(form.root / "base.yaml", lambda file: file.add_entry(("parts",), key, name))
    form.reload()
    return key


def ask_area(form: ItemForm) -> str:
    """An area of base.yaml; "" when it names none."""
    areas = form.context.base.areas if form.context.base else {}
    return choose("\nIn which area is the trouble shown?", areas) if areas else ""


def ask_effort(what: str) -> dict[str, float]:
    """Minutes, money, risk."""
    tell(f"\nWhat {what} takes, for someone who has done it once or twice:")
    effort = {"minutes": ask_number("Minutes of work", 0, 10_000)}
    money = ask_number("Money spent for it (not for tools)", 0, 1e9, 0)
    risk = ask_number("Risk: chance to break something, times what that costs", 0, 1e9, 0)
    return {**effort, **({"money": money} if money else {}), **({"risk": risk} if risk else {})}


def ask_needs(form: ItemForm) -> list[str]:
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


def ask_places(form: ItemForm) -> dict[str, list[str]]:
    """Where it takes place: preparations of base.yaml, when there are any."""
    base = form.context.base
    titles = {name: preparation.title for name, preparation in base.preparations.items()} if base else {}
    if not titles:
        return {}
    tell("\nWhere does it take place? Getting there is paid once for all steps there. Several with commas, Enter: anywhere.")
    places = choose_several("Place", titles)
    return {"at": list(places)} if places else {}


def _new_tool(form: ItemForm, tools: Mapping[str, str]) -> str:
    title = ask("Name of the tool or spare", check=of_length(3, 100))
    key = ask("Its id", proposed_id(title, tools), lambda text: id_fault(text) or ("taken" if text in tools else ""))
    effort = {"minutes": ask_number("Minutes to get it when it is not at hand", 0, 10_000, 5)}
    money = ask_number("What it costs then", 0, 1e9, 0)
    tool = {"title": title, "effort": {**effort, **({"money": money} if money else {})}}
    change_file(form.root / "base.yaml", lambda file: file.add_entry(("tools",), key, tool))
    form.reload()
    return key


def ask_hazards(form: ItemForm) -> list[str]:
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
        return ask("The source: title, year, page, or what was counted", check=of_length(5, 300))
    return "common practice, no source" if kind == "practice" else "judgement"


def ask_conditions(form: ItemForm, question: str, *, must: bool = False) -> dict[str, Any]:
    """`all` and `none`; {} for always. `must`: at least one thing that holds."""
    if not must and not confirm(f"\n{question}", default=False):
        return {}
    wanted = _condition_list(form, "What must hold (all of these)", must)
    without = _condition_list(form, "What must not hold (none of these; what is not known counts as not holding)", False)
    return {**({"all": wanted} if wanted else {}), **({"none": without} if without else {})}


def _condition_list(form: ItemForm, headline: str, must: bool) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = []
    choices = {**form.titles("findings"), **{f"{FACT}{name}": text for name, text in _facts(form).items()}}
    tell(f"\n{headline}:")
    while choices:
        name = choose("Finding", choices) if must and not found else choose_or_none("Finding", choices)
        if not name:
            break
        found.append(_condition(form, name))
    return found


def _facts(form: ItemForm) -> dict[str, str]:
    """Facts that a condition can test: those of the records, when the base has boards, and the entries of the inventory."""
    of_records = dict.fromkeys(FACTS, "from the records of the parts") if form.context.boards else {}
    inventory = form.context.base.inventory if form.context.base else {}
    return {**of_records, **{name: entry.question for name, entry in inventory.items()}}


def _condition(form: ItemForm, name: str) -> dict[str, Any]:
    if name.startswith(FACT):
        fact = name.removeprefix(FACT)
        facts = form.context.base.facts if form.context.base else FACTS
        return {"fact": fact, "is": choose("Value", dict.fromkeys(facts[fact], ""))}
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


def causes_showing(form: ItemForm, finding: str) -> list[Path]:
    """Causes that the new finding tells apart."""
    if finding not in form.context.findings:
        return []
    rest = {
        name: title for name, title in form.titles("causes").items() if finding not in form.context.causes[name].named_findings
    }
    changed: list[Path] = []
    if rest:
        tell("\nWhich existing causes make it look different? A line is added to their files.")
    while rest and (name := choose_or_none("Cause", rest)):
        shown = ask_shares(form.context.findings[finding])
        changed.append(_add(form, "cause", name, ("shows",), finding, shown))
        del rest[name]
    return changed


def causes_mended(form: ItemForm, action: str) -> list[Path]:
    """Causes that the new fix mends."""
    rest = {name: title for name, title in form.titles("causes").items() if action not in form.context.causes[name].fixes}
    changed: list[Path] = []
    if rest:
        tell("\nWhich existing causes does it mend? It is added to their files.")
    while rest and (name := choose_or_none("Cause", rest)):
        chance = round(ask_number("  It mends it in how many of 100 cases", 0.1, 100) / 100, 4)
        changed.append(_add(form, "cause", name, ("fixes",), action, chance))
        del rest[name]
    return changed


def findings_seen(form: ItemForm, action: str) -> list[Path]:
    """Findings that the new test shows."""
    rest = {name: f.title for name, f in sorted(form.context.findings.items()) if f.question and not f.action}
    changed: list[Path] = []
    if rest:
        tell("\nWhich existing findings are seen only through this test? It is added to their files.")
    while rest and (name := choose_or_none("Finding", rest)):
        changed.append(_add(form, "finding", name, (), "action", action))
        del rest[name]
    return changed


def first_asked(form: ItemForm, finding: str) -> list[Path]:
    """Whether the new finding is one of those that are asked first of all."""
    opening = form.context.base.opening if form.context.base else ()
    if finding in opening or not confirm("\nShall it always be asked first, before anything is weighed?", default=False):
        return []
    path = form.root / "base.yaml"
    change_file(path, lambda file: file.add_item(("opening",), finding))
    say(f"Added to the opening questions: {path}")
    return [path]


def _add(form: ItemForm, kind: str, name: str, where: tuple[str, ...], key: str, value: Mapping[str, float] | Any) -> Path:
    path = item_path(form.root, kind, name)
    change_file(path, lambda file: file.add_entry(where, key, value))
    say(f"  Added: {path}")
    return path


def ask_beginning(name: str) -> NewBase:
    """Name, parts, last resort and proof. Ctrl-C raises click.Abort; nothing was written then."""
    usual = NewBase()
    tell("A few things hold for the whole knowledge base. Enter takes what stands in brackets; base.yaml can be changed later.")
    name = name or ask("Its name, as a headline", usual.name, of_length(3, 100))
    works = ask("What you say when it is mended, as a sentence without its stop", usual.works, of_length(3, 100))
    fails = ask("And while it is not", usual.fails, of_length(3, 100))
    machine = ask("A machine to be mended, as a headline", usual.machine, of_length(3, 100))
    machines = ask("Many of them, within a sentence", usual.machines, of_length(3, 100))
    parts = _ids(ask_lines("\nParts of the machine, such as Pump or Mains and cable.", check=of_length(3, 100)))
    tell("\nThe last resort, when nothing helps:")
    shop = ask("What to do then", usual.shop, of_length(3, 100))
    minutes = ask_number("Minutes it takes the person", 0, 10_000, usual.shop_minutes)
    money = ask_number("What it costs", 0, 1e9, usual.shop_money)
    rate = ask_number("What a minute of work is worth, in the same money", 0.0001, 1e6, usual.minute_rate)
    proof = ask_lines("\nWhat shows that a mended machine is really well?", check=of_length(3, 1500))
    money_and_proof = (minutes, money, usual.hand_over, proof or usual.proof, rate)
    return NewBase(name, parts or usual.parts, shop, *money_and_proof, works, fails, machine, machines)


def _ids(names: list[str]) -> dict[str, str]:
    parts: dict[str, str] = {}
    for name in names:
        parts[proposed_id(name, parts, words=3) or f"part-{len(parts) + 1}"] = name
    return parts
