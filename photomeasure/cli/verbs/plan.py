"""`photomeasure plan`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Optional

import typer

from photomeasure.cli import options as o
from photomeasure.cli.app import MEASURE, command


@command(
    "plan",
    panel=MEASURE,
    examples=(
        "photomeasure plan sample_images/rigs/ferncombe-yard-truck-2.toml --out plan",
        "photomeasure plan rig.toml --template --vehicle ball.json --trailer coupling.json",
    ),
)
def plan(
    setup: Annotated[
        Optional[Path],
        typer.Argument(
            metavar="SETUP.toml",
            help="Vehicle, trailer, and the drops and rises to be had; with --template the file to write.",
        ),
    ] = None,
    template: Annotated[
        bool,
        typer.Option(
            "--template",
            help="Write a commented setup to begin with to SETUP.toml, or to the standard output where none is named.",
        ),
    ] = False,
    vehicle: Annotated[
        Optional[Path],
        typer.Option(metavar="RECORD.json", help="With --template: take the ball's height and state from this record."),
    ] = None,
    trailer: Annotated[
        Optional[Path],
        typer.Option(
            metavar="RECORD.json", help="With --template: take the level trailer's coupling height from this record."
        ),
    ] = None,
    json_file: o.JsonFile = None,
    out: Annotated[
        Optional[Path],
        typer.Option("--out", metavar="DIR", help="Write the side view, a report (PDF) and the plan here."),
    ] = None,
    language: o.Language = None,
) -> None:
    """Plan a rig before pick-up: coupled height, pitch, loads, and which drop or rise puts it right."""
    from photomeasure.commands import plan as commands

    if template:
        raise typer.Exit(commands.begin(setup, vehicle, trailer))
    raise typer.Exit(commands.plan(commands.needed(setup, vehicle, trailer), json_file, out))
