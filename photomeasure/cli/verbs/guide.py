"""`photomeasure guide`."""

from __future__ import annotations

from typing import Annotated, Optional

import typer

from photomeasure.cli import options as o
from photomeasure.cli.app import HELP, command


@command("guide", panel=HELP, examples=("photomeasure guide", "photomeasure guide measuring"))
def guide(
    name: Annotated[
        Optional[str], typer.Argument(metavar="NAME", help="Which one; without it they are listed.")
    ] = None,
    language: o.Language = None,
) -> None:
    """Read a guide: measuring, rules, many-rigs, customers, planning, level, cameras, records."""
    from photomeasure.commands.guide import run

    raise typer.Exit(run(name))
