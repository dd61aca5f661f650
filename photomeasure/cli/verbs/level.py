"""`photomeasure level`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal, Optional

import typer

from calib.words.said import said
from photomeasure.asked import limits
from photomeasure.cli import options as o
from photomeasure.cli.app import MEASURE, command

MARKS = said("Two points on the ground, two on the rail")
NOSE = said("The nose")


@command(
    "level",
    panel=MEASURE,
    examples=(
        "photomeasure level side.jpg --ground 1480,2310 --ground 2950,2330 --rail 1200,1905 --rail 3300,1930",
        "photomeasure level side.jpg --ground 1480,2310 --ground 2950,2330 --rail 1200,1905 --rail 3300,1930 --json level.json",
    ),
)
def level(
    photos: Annotated[
        list[Path],
        typer.Argument(
            metavar="PHOTO", help="Photographs of one trailer from the side, 4 to 7 m away, with the sheet."
        ),
    ],
    ground: Annotated[
        Optional[list[str]],
        typer.Option(
            metavar="X,Y",
            help="A point on the ground along the trailer, such as where a tyre touches it; twice per photograph, in order.",
            rich_help_panel=MARKS,
        ),
    ] = None,
    rail: Annotated[
        Optional[list[str]],
        typer.Option(
            metavar="X,Y",
            help="A point on the chassis rail or floor line, both on one edge; twice per photograph, in order. Without it two bar "
            "tags stuck on the rail are looked for.",
            rich_help_panel=MARKS,
        ),
    ] = None,
    pick_u: Annotated[
        Optional[float],
        typer.Option(
            "--pick-u",
            parser=o.number("--pick-u", limits.PICK_U_PX),
            metavar="PX",
            help="Standard uncertainty of these points in pixels; 1 where it is not said.",
            rich_help_panel=MARKS,
        ),
    ] = None,
    nose: Annotated[
        Optional[Literal["left", "right"]],
        typer.Option(
            help="Which end of the trailer is in front in the picture; the end at the sheet where it is not said.",
            rich_help_panel=NOSE,
        ),
    ] = None,
    nose_up_limit: Annotated[
        Optional[float],
        typer.Option(
            "--nose-up-limit",
            parser=o.number("--nose-up-limit", limits.NOSE_DEG),
            metavar="DEG",
            help="How far nose-up the trailer may stand; level to 1 degree nose-down where neither is said.",
            rich_help_panel=NOSE,
        ),
    ] = None,
    nose_down_limit: Annotated[
        Optional[float],
        typer.Option(
            "--nose-down-limit",
            parser=o.number("--nose-down-limit", limits.NOSE_DEG),
            metavar="DEG",
            help="How far nose-down it may stand.",
            rich_help_panel=NOSE,
        ),
    ] = None,
    level_ground: o.LevelGround = None,
    level_within: o.LevelWithin = None,
    bar_x: o.BarX = None,
    bar_y: o.BarY = None,
    camera: o.Camera = None,
    json_file: o.JsonFile = None,
    out: Annotated[
        Optional[Path],
        typer.Option(
            "--out", metavar="DIR", help="Write the annotated picture and the record here.", rich_help_panel=o.OUTPUT
        ),
    ] = None,
    language: o.Language = None,
) -> None:
    """Measure how level a trailer stands: the pitch of its rail against the ground under it, with its interval.

    Stand the sheet at the coupling, along the trailer, and photograph the whole side from 4 to 7 m, the phone as high as
    your eyes.

    Exit codes: 0 a measurement was made; 3 refused, with reason and remedy; 2 wrong usage.
    """
    from photomeasure.commands.level import LevelOptions, run

    raise typer.Exit(
        run(
            LevelOptions(
                photos=tuple(photos), ground=tuple(ground or ()), rail=tuple(rail or ()), pick_u_px=pick_u, nose=nose,
                nose_up_limit_deg=nose_up_limit, nose_down_limit_deg=nose_down_limit, bar_x_mm=bar_x, bar_y_mm=bar_y,
                level_ground=level_ground, level_within_mm_per_m=level_within, camera=camera, json_file=json_file,
                out=out,
            )
        )
    )  # fmt: skip
