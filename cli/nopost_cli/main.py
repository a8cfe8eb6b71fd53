"""The entry point: commands are imported only when they run, and errors are turned into lines in one place."""

from __future__ import annotations

import importlib
import io
import os
import sys

import click

from nopost import __version__

COMMANDS = {
    "diagnose": "Find out why a machine does not start.",
    "decode": "Read POST codes, lamps, beeps or logs.",
    "codes": "Look into the code tables.",
    "plan": "Plan the way to firmware that knows a CPU.",
    "verify": "Check the machine after an update or a change of parts.",
    "image": "See what a firmware image is, and which board it is for.",
    "stick": "Check a stick before the firmware button reads it.",
    "resume": "Go on with a session.",
    "sessions": "List the sessions that are kept.",
    "report": "Write a session down for a message or a shop.",
}
"""Command -> its line in the help; each lives in a module of its own name."""
LONGEST = 2000
"""Characters of a message on standard error; what is quoted in it can be of any length."""


class LazyGroup(click.Group):
    """A group that knows its commands' names and imports one when it is called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        command: click.Command = importlib.import_module(f"nopost_cli.{cmd_name}").command
        return command

    def resolve_command(self, ctx: click.Context, args: list[str]) -> tuple[str | None, click.Command | None, list[str]]:
        if args and args[0] not in COMMANDS and not args[0].startswith("-"):
            import difflib

            near = difflib.get_close_matches(args[0], list(COMMANDS), n=1, cutoff=0.5)
            hint = f"; did you mean {near[0]}?" if near else f"; there are {', '.join(COMMANDS)}"
            raise click.UsageError(f"no command is called {args[0]!r}{hint}", ctx)
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


@click.group(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, "-V", "--version", prog_name="nopost")
def cli() -> None:
    """Find why a PC does not start: one question or one action at a time, causes ranked, dangers said first."""


def _settle_streams() -> None:
    """Closed output goes nowhere; what an encoding lacks becomes a question mark, in and out. Neither is an error."""
    if sys.stdout is None:
        sys.stdout = open(os.devnull, "w")  # noqa: SIM115  # for as long as the program runs
    for stream in (sys.stdin, sys.stdout):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")


def _drop_output() -> None:
    """What is still to be written goes nowhere, so that the end of the program does not try again."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _say(text: str) -> None:
    """A line on standard error; what is quoted in it cannot control the terminal."""
    from nopost_cli.terminal import clean

    shown = text if len(text) <= LONGEST else f"{text[: LONGEST // 2]} … {text[-LONGEST // 2 :]}"
    click.echo(clean(shown), err=True)


def _show_usage(error: click.ClickException) -> None:
    """A mistake in the command line, as click shows it."""
    shown = io.StringIO()
    error.show(shown)
    _say(shown.getvalue().rstrip("\n"))


def main() -> None:
    """Run the command line; a user's mistake is a line on standard error and exit code 1 or 2."""
    from nopost.errors import KnowledgeError, NopostError

    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # the arrays are small: more threads only wait for each other
    _settle_streams()
    try:
        code = cli.main(standalone_mode=False)
        sys.stdout.flush()
    except click.exceptions.Exit as ended:
        code = ended.exit_code
    except click.ClickException as error:
        _show_usage(error)
        code = error.exit_code
    except (click.Abort, KeyboardInterrupt):
        _say("Left.")
        code = 130
    except KnowledgeError as error:
        for problem in error.problems:
            _say(str(problem))
        _say(f"nopost: {error}")
        code = 1
    except NopostError as error:
        _say(f"nopost: {error}")
        code = 1
    except BrokenPipeError:  # the reader has gone; say nothing more
        _drop_output()
        code = 1
    except OSError as error:
        if error.filename is None:
            _drop_output()
        _say(f"nopost: {error.filename or 'output'}: {error.strerror}")
        code = 1
    sys.exit(code if isinstance(code, int) else 0)
