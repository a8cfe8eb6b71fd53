"""Options that several commands share, and what they mean: a knowledge base, a kept session, a person.

What they stand for is imported only when it is asked for, so that the help stays quick.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from nopost.errors import NopostError, SessionError, UnknownNameError

if TYPE_CHECKING:
    from nopost.diagnosis.history import Person
    from nopost.knowledge.model import Knowledge
    from nopost.store.sessions import Session

F = TypeVar("F", bound=Callable[..., Any])
LONGEST_CURRENCY = 20


class NamedPath(click.Path):
    """A path; an empty name is refused, for it would be the current folder."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The path of what was typed."""
        if value == "":
            self.fail("the name is empty; . is the current folder", param, ctx)
        return super().convert(value, param, ctx)


def kb_option(command: F) -> F:
    """--kb DIR."""
    return click.option(
        "--kb", "kb", metavar="DIR", type=NamedPath(path_type=Path), help="Use this knowledge base instead of the shipped one."
    )(command)


def own_kb_option(command: F) -> F:
    """--kb DIR of the commands for trainers: without it the knowledge base at hand."""
    return click.option(
        "--kb",
        "kb",
        metavar="DIR",
        type=NamedPath(path_type=Path),
        callback=lambda ctx, option, given: given or kb_at_hand(),
        help="Use this knowledge base; default: the one in this folder or in kb/, else the shipped one.",
    )(command)


def kb_at_hand() -> Path | None:
    """The knowledge base of this folder, or of kb/ in it."""
    return next((path for path in (Path("."), Path("kb")) if (path / "base.yaml").is_file()), None)


def json_option(command: F) -> F:
    """--json."""
    return click.option("--json", "as_json", is_flag=True, help="Print the result as JSON.")(command)


def currency_option(command: F) -> F:
    """--currency NAME."""
    return click.option(
        "--currency",
        metavar="NAME",
        envvar="NOPOST_CURRENCY",
        default="",
        callback=_currency,
        help="Currency to show money in.",
    )(command)


def person_options(command: F) -> F:
    """Who is at the machine: currency, worth of a minute, what is at hand."""
    for option in (
        click.option("--have", metavar="TOOL", multiple=True, help="A tool or spare at hand (again for more)."),
        click.option(
            "--per-minute",
            metavar="MONEY",
            type=click.FloatRange(0, 1_000_000, min_open=True),
            help="What a minute is worth to you.",
        ),
        currency_option,
    ):
        command = option(command)
    return command


def parts_options(command: F) -> F:
    """What the person knows of the parts."""
    for option in (
        click.option("--memory-type", metavar="TYPE", default="", help="Type on the modules' label, such as DDR4."),
        click.option("--slots", metavar="A,B", default="", help="Memory slots in use, as printed on the board."),
        click.option(
            "--image-for", metavar="VARIANT", default="", help="Board variant that a written firmware file was made for."
        ),
        click.option("--firmware", metavar="VERSION", default="", help="Firmware release on the board."),
        click.option("--cpu", metavar="NAME|FILE", default="", help="CPU record: one of the knowledge base, or a file."),
        click.option("--board", metavar="NAME|FILE", default="", help="Board record: one of the knowledge base, or a file."),
    ):
        command = option(command)
    return command


def there_option(command: F) -> F:
    """--there ENTRY=CHOICE."""
    what = "What is there, such as has-card=no (again for more)."
    return click.option("--there", metavar="ENTRY=CHOICE", multiple=True, help=what)(command)


def there_of(knowledge: Knowledge, texts: tuple[str, ...]) -> dict[str, str]:
    """Entry -> choice, as told by the option. Raises UnknownNameError, and NopostError for what is no pair."""
    from nopost.diagnosis.inventory import check_there
    from nopost.diagnosis.replay import split_pairs

    there = dict(split_pairs(texts, "--there", "has-card=no"))
    check_there(knowledge, there)
    return there


def _currency(ctx: click.Context, option: click.Parameter, name: str) -> str:
    """A name that a session can hold."""
    if len(name) > LONGEST_CURRENCY:
        raise click.BadParameter(f"at most {LONGEST_CURRENCY} characters")
    return name


def knowledge_of(kb: Path | None) -> Knowledge:
    """The knowledge base that was asked for. Raises KnowledgeError."""
    from nopost.loading import load_knowledge

    return load_knowledge(kb)


def own_base(kb: Path | None) -> Path:
    """The folder of a knowledge base to write into; the one that comes with an installed nopost is not to be changed.

    Raises NopostError.
    """
    from nopost.files import data_dir

    root = kb or Path(".")
    if not (root / "base.yaml").is_file():
        what = f"{root} has no base.yaml" if kb else "there is no knowledge base in this folder"
        raise NopostError(f"{what}: name yours with --kb DIR, or begin one with: nopost kb new DIR")
    shipped = data_dir("kb").resolve()
    if root.resolve() == shipped and shipped.parent.name == "_data":
        raise NopostError(f"{root}: this one came with nopost and goes when the next comes: begin yours with: nopost kb new DIR")
    return root


def kept_session(name: str | None, kb: Path | None) -> tuple[Knowledge, Session]:
    """The session of this name, or the one worked on last; with this knowledge base, or the one it was begun with.

    Records that its parts name by a file are read now and are in the knowledge base.

    Raises SessionError, UnknownNameError or KnowledgeError.
    """
    from nopost.diagnosis.parts_facts import with_readable_records
    from nopost.store.sessions import load, recorded_kb, session_names

    if name is None:
        name = next(iter(session_names()), None)
    if name is None:
        raise SessionError("there are no sessions yet; begin with: nopost diagnose")
    told = None if kb else recorded_kb(name)
    if told and not (told / "base.yaml").is_file():
        raise SessionError(f"{told}: the knowledge base that {name!r} was begun with is not there; give its place with --kb DIR")
    knowledge = knowledge_of(kb or told)
    session = load(name, knowledge)
    return with_readable_records(knowledge, session.history.parts), session


def person_of(knowledge: Knowledge, per_minute: float | None, have: tuple[str, ...]) -> Person:
    """The person; raises UnknownNameError for a tool that the knowledge base does not know."""
    from nopost.diagnosis.history import Person

    if per_minute is not None and math.isnan(per_minute):
        raise click.BadParameter("it must be a number", param_hint="--per-minute")
    for tool in have:
        if tool not in knowledge.base.tools:
            raise UnknownNameError("tool or spare", tool, knowledge.base.tools)
    return Person(per_minute, frozenset(have))
