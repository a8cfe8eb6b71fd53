"""A form: the questions of one item, what was answered so far, and the way from answers to a file."""

from __future__ import annotations

import hashlib
import importlib
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import click

from nopost.authoring.items import item_file, item_path, read_base, write_item
from nopost.errors import NopostError
from nopost.knowledge.context import Context
from nopost.paths import user_dir
from nopost_cli.board.draft import Draft
from nopost_cli.guided import choose, choose_or_none, confirm, say, tell

Steps = Mapping[str, Callable[[], Any]]

TEXTS = ("title", "id", "question", "part", "combine", "kind")
MAPPINGS = ("shows", "shows-begun", "fixes", "fixes-begun", "effort", "baseline", "unnamed", "when", "more", "also")
"""Answers of these steps are text, and such mappings."""


class Form:
    """One item that is being asked for. `answers`: step -> what was answered; each is kept at once. `asked_by`: the kind of item
    whose form asks for this one on the way."""

    def __init__(self, root: Path, kind: str, session: str = "", asked_by: str = "") -> None:
        self.root, self.kind, self.asked_by = root, kind, asked_by
        self.answers: dict[str, Any] = {}
        place = hashlib.sha256(f"{root.resolve()}\0{session}".encode("utf-8", "surrogateescape")).hexdigest()[:12]
        self.draft = Draft(user_dir() / "drafts" / f"kb-{kind}-{place}.yaml")
        self.context: Context = read_base(root)[0]

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


def add_item(form: Form, *, nested: bool = False) -> list[Path]:
    """Ask, check, write; the files that were written or changed, the new one first.

    Ctrl-C raises click.Abort; what was answered is kept.
    """
    module: Any = importlib.import_module(f"nopost_cli.kb.add_{form.kind}")
    if not nested:
        tell("Ctrl-C leaves; what was answered is kept and offered next time.")
    _go_on(form)
    begun = bool(form.answers)
    try:
        path = _asked(form, module)
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
    more: list[Path] = module.follow(form, path.stem, nested)
    return [path, *more]


def _asked(form: Form, module: Any) -> Path:
    """Ask until a file is written."""
    while True:
        _ask(form, module.steps(form))
        if path := _written(form, module.item(form.answers)):
            return path
        _change(form, module.steps(form), getattr(module, "RESTS", {}))


def _go_on(form: Form) -> None:
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


def _ask(form: Form, steps: Steps) -> None:
    for name, question in steps.items():
        if name not in form.answers:
            form.keep(name, question())


def _written(form: Form, data: dict[str, Any]) -> Path | None:
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


def _change(form: Form, steps: Steps, rests: Mapping[str, tuple[str, ...]]) -> None:
    """Forget an answer, so that it is asked again, and those that rest on it."""
    answered = {name: "ask it again" for name in steps}
    name = choose_or_none("Which answer is to be changed", answered, "none: leave, and keep the draft")
    if not name:
        raise click.Abort
    for key in (name, *rests.get(name, ())):
        form.answers.pop(key, None)
        form.answers.pop(f"{key}-begun", None)
    form.draft.keep(form.answers)


def nested_item(form: Form, kind: str) -> str:
    """A new item of another kind, asked in between; its id."""
    tell(f"\nA new {kind}. The {form.kind} goes on after it.")
    inner = Form(form.root, kind, asked_by=form.kind)
    path = add_item(inner, nested=True)[0]
    form.reload()
    tell(f"\nBack to the {form.kind}.")
    return path.stem


def choose_or_new(form: Form, question: str, choices: Mapping[str, str], kind: str, *, must: bool) -> str:
    """One of the choices, a new item of this kind, or nothing: "". `must`: nothing is not offered."""
    offered = {**choices, "+": f"a new {question.lower()}"}
    found = choose(question, offered, "" if choices else "+") if must else choose_or_none(question, offered)
    return nested_item(form, kind) if found == "+" else found
