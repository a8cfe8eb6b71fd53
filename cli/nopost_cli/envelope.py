"""The one shape of `--json`: what it is, its version, and the data."""

from __future__ import annotations

import json
from typing import Any

import click

VERSION = 1


def print_json(what: str, data: dict[str, Any]) -> None:
    """Print `{"format": "nopost-<what>", "version": 1, ...}`, in ASCII so that it is right in every encoding."""
    click.echo(json.dumps({"format": f"nopost-{what}", "version": VERSION, **data}, indent=2))
