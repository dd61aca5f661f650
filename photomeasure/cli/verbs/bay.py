"""`photomeasure bay`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from photomeasure.cli import options as o
from photomeasure.cli.app import PREPARE, command


@command(
    "bay",
    panel=PREPARE,
    examples=("photomeasure bay wall/*.jpg --survey survey.toml --camera phone.json --out bay.json",),
)
def bay(
    photos: Annotated[
        list[Path], typer.Argument(metavar="PHOTO", help="Many photographs of the markers, from all over the bay.")
    ],
    survey: Annotated[
        Path, typer.Option("--survey", metavar="SURVEY.toml", help="Dictionary, tape distances, points on the ground.")
    ],
    out: Annotated[Path, typer.Option("--out", metavar="BAY.json", help="Where the bay file goes.")],
    camera: o.Camera = None,
    language: o.Language = None,
) -> None:
    """Survey the markers of a measuring bay from photographs, tape distances and points on the ground."""
    from photomeasure.bay.made import BayOptions
    from photomeasure.commands.bay import run

    raise typer.Exit(run(BayOptions(photos=tuple(photos), survey=survey, out=out, camera=camera)))
