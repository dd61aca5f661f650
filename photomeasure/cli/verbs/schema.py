"""`photomeasure schema`."""

from __future__ import annotations

from typing import Annotated, Optional

import typer

from photomeasure.cli.app import HELP, command


@command("schema", panel=HELP, examples=("photomeasure schema", "photomeasure schema record"))
def schema(
    name: Annotated[
        Optional[str], typer.Argument(metavar="NAME", help="Which one; without it they are listed.")
    ] = None,
) -> None:
    """Print the JSON Schema of a file that this program reads or writes, for editors and for programs of your own."""
    from photomeasure.commands.schema import run

    raise typer.Exit(run(name))
