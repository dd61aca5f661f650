"""`photomeasure plan`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Optional

import typer

from photomeasure.cli import options as o
from photomeasure.cli.app import MEASURE, command


@command(
    "plan", panel=MEASURE, examples=("photomeasure plan sample_images/rigs/ferncombe-yard-truck-2.toml --out plan",)
)
def plan(
    setup: Annotated[
        Path, typer.Argument(metavar="SETUP.toml", help="Vehicle, trailer, and the drops and rises to be had.")
    ],
    json_file: o.JsonFile = None,
    out: Annotated[
        Optional[Path],
        typer.Option("--out", metavar="DIR", help="Write the side view, a report (PDF) and the plan here."),
    ] = None,
) -> None:
    """Plan a rig before pick-up: coupled height, pitch, loads, and which drop or rise puts it right."""
    from photomeasure.commands.plan import plan as run

    raise typer.Exit(run(setup, json_file, out))
