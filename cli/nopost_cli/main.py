"""The entry point: commands are imported only when they run, and errors are turned into lines in one place."""

from __future__ import annotations

import contextlib
import io
import os
import signal
import sys
from typing import TextIO

import click

from nopost import __version__
from nopost_cli.shared.lazy import LazyGroup

COMMANDS = {
    "diagnose": "Find out why a machine does not start.",
    "decode": "Read POST codes, lamps, beeps or logs.",
    "codes": "Look into the code tables.",
    "rails": "Judge voltages and signals read with a meter.",
    "board": "Make, fill and look at board records.",
    "plan": "Plan the way to firmware that knows a CPU.",
    "verify": "Check the machine after an update or a change of parts.",
    "image": "See what a firmware image is, and which board it is for.",
    "stick": "Check a stick before the firmware button reads it.",
    "resume": "Go on with a session.",
    "sessions": "List the sessions that are kept.",
    "report": "Write a session down for a message or a shop.",
    "kb": "For trainers: write, check, try and draw the knowledge.",
    "drill": "Exercises for apprentices: find the fault of a simulated machine.",
}
"""Command -> its line in the help; each lives in a module of its own name."""
LONGEST = 2000
"""Characters of a message on standard error; what is quoted in it can be of any length."""


@click.group(cls=LazyGroup, package="nopost_cli", commands_of=COMMANDS, context_settings={"help_option_names": ["-h", "--help"]})
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


def _drop_output(stream: TextIO | None = None) -> None:
    """What is still to be written goes nowhere, so that the end of the program does not try again."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), (stream or sys.stdout).fileno())


def _say(text: str) -> None:
    """A line on standard error; what is quoted in it cannot control the terminal."""
    from nopost_cli.shared.terminal import clean

    shown = text if len(text) <= LONGEST else f"{text[: LONGEST // 2]} … {text[-LONGEST // 2 :]}"
    with contextlib.suppress(OSError):  # nobody reads it any more; the exit code says it too
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
        signal.signal(signal.SIGINT, signal.SIG_IGN)  # it is leaving already; pressed again it would break off this too
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
    sys.exit(_flushed(code if isinstance(code, int) else 0))


def _flushed(code: int) -> int:
    """The exit code, once everything is written; 1 instead of 0 when that fails, with nothing left to fail at the end."""
    for stream in (sys.stdout, sys.stderr):
        try:
            if stream is not None:
                stream.flush()
        except (OSError, ValueError):
            code = code or 1
            _drop_output(stream)
    return code
