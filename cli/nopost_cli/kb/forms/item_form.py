"""The form of one item: its questions, what was answered so far, and the way from answers to a file.

Each answer is kept in a draft at once. After writing, the whole knowledge base is looked through: what is wrong with
the new item, and what comes next.
"""

from __future__ import annotations

import hashlib
import importlib
import shlex
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any, NamedTuple

import click

from nopost.errors import NopostError
from nopost.files import user_dir
from nopost.knowledge.edit.item_files import item_file, item_path, write_item
from nopost.knowledge.problem import Problem
from nopost.knowledge.source_files import PartialKnowledge
from nopost.linting.runner import ProblemsAfterWriting, problems_after_writing, read_base
from nopost_cli.shared.drafts import Draft
from nopost_cli.shared.prompts import choose, choose_or_none, confirm, say, tell

Steps = Mapping[str, Callable[[], Any]]

TEXTS = ("title", "id", "question", "part", "combine", "kind")
MAPPINGS = ("shows", "shows-begun", "fixes", "fixes-begun", "effort", "baseline", "unnamed", "when", "more", "also")
"""Answers of these steps are text, and such mappings."""


class ItemForm:
    """One item that is being asked for. `answers`: step -> what was answered; each is kept at once. `asked_by`: the kind of item
    whose form asks for this one on the way."""

    def __init__(self, root: Path, kind: str, session: str = "", asked_by: str = "") -> None:
        self.root, self.kind, self.asked_by = root, kind, asked_by
        self.answers: dict[str, Any] = {}
        place = hashlib.sha256(f"{root.resolve()}\0{session}".encode("utf-8", "surrogateescape")).hexdigest()[:12]
        self.draft = Draft(user_dir() / "drafts" / f"kb-{kind}-{place}.yaml")
        self.context: PartialKnowledge = read_base(root)[0]

    def keep(self, step: str, value: Any) -> None:
        """Remember an answer, on disk too."""
        self.answers[step] = value
        self.draft.keep(self.answers)

    def reload(self) -> None:
        """Read the base again after something was written."""
        self.context = read_base(self.root)[0]

    def titles(self, folder: str) -> dict[str, str]:
        """Id -> title of the items of a folder that can be read."""
        items: Mapping[str, Any] = getattr(self.context, folder)
        return {name: item.title for name, item in sorted(items.items())}


class ItemQuestions(NamedTuple):
    """What the form of one kind of item asks (`steps`), makes of the answers (`item`), and does afterwards (`follow`).

    `rests`: step -> the steps whose answers rest on it.
    """

    steps: Callable[[ItemForm], Steps]
    item: Callable[[dict[str, Any]], dict[str, Any]]
    follow: Callable[[ItemForm, str, bool], list[Path]]
    rests: Mapping[str, tuple[str, ...]]


MODULE_OF_KIND = {
    "cause": "causes_findings",
    "finding": "causes_findings",
    "action": "actions_hazards_rules",
    "hazard": "actions_hazards_rules",
    "rule": "actions_hazards_rules",
    "case": "cases",
}
"""Kind of item -> the module of this folder that holds its questions, imported when they are asked."""


def questions_of(kind: str) -> ItemQuestions:
    """The questions of a kind of item."""
    module: Any = importlib.import_module(f"nopost_cli.kb.forms.{MODULE_OF_KIND[kind]}")
    steps, item, follow = (getattr(module, f"{kind}_{part}") for part in ("steps", "item", "follow"))
    return ItemQuestions(steps, item, follow, getattr(module, f"{kind.upper()}_RESTS", {}))


def add_item(form: ItemForm, *, nested: bool = False) -> list[Path]:
    """Ask, check, write; the files that were written or changed, the new one first.

    Ctrl-C raises click.Abort; what was answered is kept.
    """
    questions = questions_of(form.kind)
    if not nested:
        tell("Ctrl-C leaves; what was answered is kept and offered next time.")
    _go_on(form)
    begun = bool(form.answers)
    try:
        path = _asked(form, questions)
    except (TypeError, KeyError, AttributeError, ValueError, IndexError):
        if not begun:
            raise
        # answers of a draft that someone edited: each may be of any shape
        aside = form.draft.set_aside()
        again = f"nopost kb add {form.kind}"
        raise NopostError(f"the draft of last time does not fit together; it stays as {aside}. Begin again: {again}") from None
    except (click.Abort, KeyboardInterrupt):  # the latter between two questions
        if form.draft.path.is_file():
            tell(f"\nKept as a draft: the {form.kind}. nopost kb add {form.kind} goes on from there.")
        raise
    form.draft.drop()
    form.reload()
    say(f"Written: {path}")
    return [path, *questions.follow(form, path.stem, nested)]


def _asked(form: ItemForm, questions: ItemQuestions) -> Path:
    """Ask until a file is written."""
    while True:
        _ask(form, questions.steps(form))
        if path := _written(form, questions.item(form.answers)):
            return path
        _change(form, questions.steps(form), questions.rests)


def _go_on(form: ItemForm) -> None:
    """Offer the draft of last time."""
    kept = form.draft.answers()
    if not kept or not _sound(kept):
        if form.draft.path.is_file():
            tell(f"The draft of last time cannot be read; it stays as {form.draft.set_aside()}. Begin again.")
        return
    named = kept.get("title") or kept.get("question") or "without a title"
    tell(f"There is a draft of a {form.kind} from last time: {named}; {len(kept)} questions answered.")
    if confirm("Go on with it?"):
        form.answers |= kept
    else:
        form.draft.drop()


def _sound(kept: dict[str, Any]) -> bool:
    """Whether a draft's answers are of the kinds that the questions give; a person may have edited it."""
    texts = all(isinstance(kept.get(key, ""), str) for key in TEXTS)
    return texts and all(isinstance(kept.get(key, {}), dict) for key in MAPPINGS)


def _ask(form: ItemForm, steps: Steps) -> None:
    for name, question in steps.items():
        if name not in form.answers:
            form.keep(name, question())


def _written(form: ItemForm, data: dict[str, Any]) -> Path | None:
    """The file, once the person is content with what it will hold; None when something is to be changed."""
    text, problems = item_file(form.root, form.kind, data)
    if problems:
        for problem in problems:
            tell(str(problem))
        return None
    say(f"\n{text}")
    if not confirm("Write it?"):
        return None
    name = str(data["id"])
    over = item_path(form.root, form.kind, name).exists()
    if over and not confirm(f"{name}.yaml is there already. Write over it?", default=False):
        return None
    return write_item(form.root, form.kind, name, text, over=over)


def _change(form: ItemForm, steps: Steps, rests: Mapping[str, tuple[str, ...]]) -> None:
    """Forget an answer, so that it is asked again, and those that rest on it."""
    answered = {name: "ask it again" for name in steps}
    name = choose_or_none("Which answer is to be changed", answered, "none: leave, and keep the draft")
    if not name:
        raise click.Abort
    for key in (name, *rests.get(name, ())):
        form.answers.pop(key, None)
        form.answers.pop(f"{key}-begun", None)
    form.draft.keep(form.answers)


def nested_item(form: ItemForm, kind: str) -> str:
    """A new item of another kind, asked in between; its id."""
    tell(f"\nA new {kind}. The {form.kind} goes on after it.")
    inner = ItemForm(form.root, kind, asked_by=form.kind)
    path = add_item(inner, nested=True)[0]
    form.reload()
    tell(f"\nBack to the {form.kind}.")
    return path.stem


def choose_or_new(form: ItemForm, question: str, choices: Mapping[str, str], kind: str, *, must: bool) -> str:
    """One of the choices, a new item of this kind, or nothing: "". `must`: nothing is not offered."""
    offered = {**choices, "+": f"a new {question.lower()}"}
    found = choose(question, offered, "" if choices else "+") if must else choose_or_none(question, offered)
    return nested_item(form, kind) if found == "+" else found


NEXT = {
    "no-causes": "there is no cause yet: nopost kb add cause --kb {kb}",
    "unused-action": "{name} is needed for nothing yet: a cause names it as its fix, or a finding as its test",
    "never-open": "{name} starts closed: nopost kb add rule --kb {kb}, to open it",
}


def show_result(root: Path, written: Sequence[Path]) -> int:
    """Tell it; 1 when what was written has errors. The files stay in any case."""
    found = problems_after_writing(root, *written)
    place = shlex.quote(str(root))
    for problem in (*found.errors, *found.warnings):
        tell(str(problem))
    if found.errors:
        tell(f"The file stays. Mend it in an editor, then look again: nopost kb check {place}")
    for line in _to_come(found, place):
        tell(f"Still to come: {line}")
    if found.elsewhere:
        files = "one problem" if found.elsewhere == 1 else f"{found.elsewhere} problems"
        tell(f"There {'is' if found.elsewhere == 1 else 'are'} {files} in other files: nopost kb check {place}")
    if not (found.errors or found.to_come or found.elsewhere):
        tell(f"The knowledge base is in order. Try it: nopost diagnose --kb {place}, or look closer: nopost kb check {place}")
    return 1 if found.errors else 0


def _to_come(found: ProblemsAfterWriting, place: str) -> list[str]:
    return [NEXT[problem.code].format(name=_name(problem), kb=place) for problem in found.to_come]


def _name(problem: Problem) -> str:
    return Path(problem.path).stem
