"""`photomeasure kit remember`."""

from __future__ import annotations

from typing import Annotated

import typer

from photomeasure.cli import options as o
from photomeasure.cli.app import PREPARE, command, group

kit = group("kit", panel=PREPARE, help="Prints of the kit: remember what the check bars of one read.")


@command(
    "remember",
    panel=PREPARE,
    examples=("photomeasure kit remember --number 468779 --bar-x 179.6 --bar-y 249.8",),
    of=kit,
)
def remember(
    number: Annotated[
        int, typer.Option("--number", metavar="N", help="The number printed on the upright sheet.", show_default=False)
    ],
    bar_x: o.BarX = None,
    bar_y: o.BarY = None,
) -> None:
    """Keep what the check bars of a print read, best by calipers: measure takes it wherever the print's number is seen.

    A bar that is not given is kept as it was remembered before.
    """
    from photomeasure.commands.kit import remember as run

    raise typer.Exit(run(number, bar_x, bar_y))
