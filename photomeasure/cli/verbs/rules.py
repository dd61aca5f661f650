"""`photomeasure rules`."""

from __future__ import annotations

from typing import Annotated, Optional

import typer

from photomeasure.cli import options as o
from photomeasure.cli.app import HELP, command


@command("rules", panel=HELP, examples=("photomeasure rules", "photomeasure rules au-ball-50"))
def rules(
    name: Annotated[
        Optional[str], typer.Argument(metavar="NAME|FILE", help="A rule to show in full; all are listed without it.")
    ] = None,
    language: o.Language = None,
) -> None:
    """List the rules that are built in, or show one: bands and their states, source, edition, confidence, notes."""
    from photomeasure.commands.rules import run

    raise typer.Exit(run(name))
