"""`photomeasure kit remember` and `photomeasure kit card`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from photomeasure.cli import options as o
from photomeasure.cli.app import PREPARE, command, group

kit = group(
    "kit",
    panel=PREPARE,
    help="Prints of the kit: remember what the check bars of one read, or read them off by a card.",
)


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
    language: o.Language = None,
) -> None:
    """Keep what the check bars of a print read, best by calipers: measure takes it wherever the print's number is seen.

    A bar that is not given is kept as it was remembered before.
    """
    from photomeasure.commands.kit import remember as run

    raise typer.Exit(run(number, bar_x, bar_y))


@command(
    "card",
    panel=PREPARE,
    examples=("photomeasure kit card close-up.jpg", "photomeasure kit card close-up.jpg --number 468779"),
    of=kit,
)
def card(
    photo: Annotated[
        Path,
        typer.Argument(
            metavar="PHOTO", help="A card on the upright sheet's squares, seen from above.", show_default=False
        ),
    ],
    number: Annotated[
        int | None,
        typer.Option(
            "--number",
            metavar="N",
            help="The print's number, where the photograph does not show it.",
            show_default=False,
        ),
    ] = None,
    language: o.Language = None,
) -> None:
    """Read and remember a print's scale from a card of the usual size, where no ruler is at hand.

    Lay a loyalty card, its back up, in the middle of the squares of the upright sheet, its sides along theirs, every side over
    black ones; photograph it from 300 to 500 mm straight above, the sheet flat and whole in the picture. Never a payment
    card: its number has no place in a photograph. The picture is read and not kept.
    """
    from photomeasure.commands.kit import card as run

    raise typer.Exit(run(photo, number))
