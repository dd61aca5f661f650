"""`photomeasure guide`."""

from __future__ import annotations

from typing import Annotated, Optional

import typer

from photomeasure.cli.app import HELP, command


@command("guide", panel=HELP, examples=("photomeasure guide", "photomeasure guide measuring"))
def guide(
    name: Annotated[
        Optional[str], typer.Argument(metavar="NAME", help="Which one; without it they are listed.")
    ] = None,
) -> None:
    """Read a guide: measuring, rules, many-rigs, planning, cameras, records."""
    from photomeasure.commands.guide import run

    raise typer.Exit(run(name))
