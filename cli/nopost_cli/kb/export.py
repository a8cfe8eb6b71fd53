"""`nopost kb export`: the network for other programs."""

from __future__ import annotations

from pathlib import Path

import click

from nopost_cli.shared.options import knowledge_of, own_kb_option
from nopost_cli.shared.terminal import refuse_existing, write_result


@click.command("export", short_help="Write the network in an open interchange format.")
@click.option("--bif", metavar="FILE", required=True, help="Where to write the Bayesian network interchange file; - prints it.")
@click.option("--force", is_flag=True, help="Write over a file that is there.")
@own_kb_option
def command(bif: str, force: bool, kb: Path | None) -> None:
    """Write causes and findings as a Bayesian network in the interchange format BIF 0.15.

    It holds the priors and what each cause shows. Rules, efforts and fixes have no place in that format and are left out.
    """
    if bif != "-":
        refuse_existing(bif, force)
    knowledge = knowledge_of(kb)
    from nopost.diagnosis.belief.bif import bif_lines  # brings numpy

    text = "\n".join(bif_lines(knowledge)) + "\n"
    if bif == "-":
        click.echo(text, nl=False)
        return
    write_result(bif, text)
    click.echo(f"{bif}: {len(knowledge.causes)} causes, {len(knowledge.findings)} findings, {_size(len(text))}")


def _size(count: int) -> str:
    return f"{count / 1e6:.1f} MB" if count >= 1e5 else f"{count / 1e3:.1f} kB"
