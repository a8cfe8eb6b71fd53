"""`nopost board new`: a board record, asked item by item; each answer can be changed before it is written."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from nopost.errors import KnowledgeError
from nopost_cli.shared.options import kb_option, knowledge_of
from nopost_cli.shared.prompts import choose, confirm, need_terminal, say, tell
from nopost_cli.shared.terminal import clean

if TYPE_CHECKING:
    from nopost.knowledge.model import Knowledge
    from nopost_cli.shared.drafts import Draft


def step_names() -> dict[str, str]:
    """Name of each question -> what it is about, for changing one."""
    return {
        "variant": "exact variant",
        "revision": "revision",
        "id": "id of the record",
        "title": "title",
        "identifiers": "other names",
        "look_alikes": "variants easily mistaken for it",
        "socket": "CPU socket",
        "memory_type": "memory type",
        "slots": "memory slots",
        "order": "slots by the manual",
        "cpu_power": "CPU power sockets",
        "video_outputs": "display sockets",
        "indicators": "lamps, display, speaker",
        "code_table": "code table",
        "first_families": "CPU families of the oldest release",
        "releases": "firmware releases",
        "recovery": "ways to write without starting",
        "source": "source",
    }


@click.command("new", short_help="Write a board record, asked item by item.")
@click.option("--out", metavar="FILE", type=click.Path(path_type=Path), help="Write it here; default: ID.yaml in this folder.")
@kb_option
def command(out: Path | None, kb: Path | None) -> None:
    """Ask for everything that a board record holds, say where it is found, check it and write it.

    Ctrl-C keeps what was answered; the next start offers it again.
    """
    from nopost_cli.shared.drafts import kept_drafts, may_write, new_draft, write_record

    need_terminal("write the record in an editor, from a copy of one in kb/boards, or use nopost board import")
    knowledge = knowledge_of(kb)
    if out is not None:
        may_write(out)
    draft = new_draft()
    answers = _kept(draft)
    tell("Ctrl-C leaves; what was answered is kept.")
    with kept_drafts([draft], "nopost board new goes on from there."):
        text, name = _asked(knowledge, answers, draft)
        target = out or Path(f"{name}.yaml")
        if out is None:
            may_write(target)
        write_record(target, text)
    draft.drop()
    click.echo(clean(f"Written: {target}"))
    tell(f"Look at it: nopost board show {shlex.quote(str(target))}")


def _kept(draft: Draft) -> dict[str, Any]:
    answers = draft.answers()
    if not answers:
        return {}
    done = f"{len(answers)} of {len(step_names())} questions answered"
    tell(f"There is a draft: {answers.get('variant', 'without a variant')}, {done}.")
    if confirm("Go on with it?"):
        return answers
    draft.drop()
    return {}


def _asked(knowledge: Knowledge, answers: dict[str, Any], draft: Draft) -> tuple[str, str]:
    """The checked text and its id, once the person is content with it."""
    from nopost_cli.board.record_questions import ask_record
    from nopost_cli.shared.drafts import checked_text

    while True:
        data = ask_record(knowledge, answers, draft=draft)
        answers = draft.answers()
        try:
            text = checked_text(data, {}, "the record")
        except KnowledgeError as error:
            for problem in error.problems:
                tell(str(problem))
        else:
            say(f"\n{text}")
            if confirm("Write it?"):
                return text, str(data["id"])
        tell("Which answer is to be changed?")
        name = choose("answer", {"none": "leave; what was answered is kept", **step_names()}, "none")
        if name == "none":
            raise click.Abort
        answers = {key: value for key, value in answers.items() if key != name and not (name == "slots" and key == "order")}
