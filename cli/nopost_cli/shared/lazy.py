"""Groups of commands that are imported only when they run, so that `--help` stays quick."""

from __future__ import annotations

import importlib
import keyword
from collections.abc import Mapping
from typing import Any

import click


class LazyGroup(click.Group):
    """A group that knows its commands' names and imports one when it is called.

    `commands_of` maps command -> its line in the help; each lives in the module of its name in `package`, and there it is
    called `command`. A name that Python keeps for itself gets an underscore: `import` lives in `import_.py`.
    """

    def __init__(self, *args: Any, package: str, commands_of: Mapping[str, str], **more: Any) -> None:
        super().__init__(*args, **more)
        self.package = package
        self.commands_of = commands_of

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(self.commands_of)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in self.commands_of:
            return None
        module = cmd_name.replace("-", "_") + ("_" if keyword.iskeyword(cmd_name) else "")
        command: click.Command = importlib.import_module(f"{self.package}.{module}").command
        return command

    def resolve_command(self, ctx: click.Context, args: list[str]) -> tuple[str | None, click.Command | None, list[str]]:
        if args and args[0] not in self.commands_of and not args[0].startswith("-"):
            import difflib

            near = difflib.get_close_matches(args[0], list(self.commands_of), n=1, cutoff=0.5)
            hint = f"; did you mean {near[0]}?" if near else f"; there are {', '.join(self.commands_of)}"
            raise click.UsageError(f"no command is called {args[0]!r}{hint}", ctx)
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(self.commands_of.items()))
