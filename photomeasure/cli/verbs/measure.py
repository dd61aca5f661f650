"""`photomeasure measure`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Optional

import typer

from photomeasure.asked.case import Case
from photomeasure.cli import options as o
from photomeasure.cli.app import MEASURE, command


@command(
    "measure",
    panel=MEASURE,
    examples=(
        "photomeasure measure rig.jpg --bar-x 179.5 --bar-y 250 --out result",
        "photomeasure measure left.jpg right.jpg --bar-x 180 --bar-y 250",
        "photomeasure measure rig.jpg --centre 2045,1312 --json -",
    ),
)
def measure(
    photos: Annotated[list[Path], typer.Argument(metavar="PHOTO", help="Photographs of one rig standing still.")],
    coupling: o.CouplingOrNone = None,
    coupled: o.Coupled = None,
    laden: o.Laden = None,
    level_ground: o.LevelGround = None,
    level_control: o.LevelControl = None,
    level_within: o.LevelWithin = None,
    ball_load: o.BallLoad = None,
    stand_mass: o.StandMass = None,
    stand_drop: o.StandDrop = None,
    load_drop: o.LoadDrop = None,
    bar_x: o.BarX = None,
    bar_y: o.BarY = None,
    centre: Annotated[
        Optional[list[str]],
        typer.Option(
            metavar="X,Y",
            help="Coupling centre in pixels of the upright picture, (0, 0) the centre of the top-left pixel; once "
            "per photograph, in order.",
            rich_help_panel=o.CENTRE,
        ),
    ] = None,
    pick_u: o.PickU = None,
    ball_diameter: o.BallDiameter = None,
    rule: o.Rule = None,
    decision: o.Decision = None,
    monte_carlo: o.MonteCarlo = False,
    tape: o.TapeMm = None,
    tape_to: o.TapeTo = None,
    tape_flat: o.TapeFlat = None,
    tape_class: o.TapeClass = None,
    ask: Annotated[
        bool,
        typer.Option(
            "--ask/--no-ask", help="Ask for the tape's reading afterwards, on a terminal.", rich_help_panel=o.TAPE
        ),
    ] = True,
    before: Annotated[
        Optional[Path],
        typer.Option(
            "--from",
            metavar="RECORD",
            help="Record of the bare ball with the same bar tag in sight: the centre is carried over from there.",
            rich_help_panel=o.CENTRE,
        ),
    ] = None,
    sheet_untouched: Annotated[
        Optional[bool],
        typer.Option(
            "--sheet-untouched/--sheet-moved",
            help="Since the record of --from: nobody touched the upright sheet, nor drove the rig. Tells the sink more surely.",
            rich_help_panel=o.CENTRE,
        ),
    ] = None,
    camera: o.Camera = None,
    bay: o.BayFile = None,
    rig: o.Rig = None,
    case: o.CaseName = None,
    by: o.By = None,
    place: o.Place = None,
    note: o.Note = None,
    details: Annotated[
        bool, typer.Option("--details", help="Show everything, not the short answer alone.", rich_help_panel=o.OUTPUT)
    ] = False,
    json_file: o.JsonFile = None,
    out: Annotated[
        Optional[Path],
        typer.Option(
            "--out",
            metavar="DIR",
            help="Write annotated pictures, a report (PDF) and the record here.",
            rich_help_panel=o.OUTPUT,
        ),
    ] = None,
) -> None:
    """Measure the coupling centre's height, with its interval, verdict and what to do next.

    Exit codes: 0 a measurement was made, whatever the verdict; 3 refused, with reason and remedy; 2 wrong usage.
    """
    from photomeasure.asked.sag import Sag
    from photomeasure.commands.measure import Options, run

    raise typer.Exit(
        run(
            Options(
                photos=tuple(photos), coupling=coupling, rule=rule, decision=decision, camera=camera, bay=bay,
                centres=tuple(centre or ()), pick_u_px=pick_u, ball_diameter_mm=ball_diameter, bar_x_mm=bar_x,
                bar_y_mm=bar_y, coupled=coupled, laden=laden, level_ground=level_ground, level_control=level_control,
                level_within_mm_per_m=level_within, tape_mm=tape, tape_class=tape_class, tape_to=tape_to,
                tape_flat_mm=tape_flat, monte_carlo=monte_carlo,
                json_file=json_file, out=out, ask=ask, details=details, before=before, sheet_untouched=sheet_untouched,
                case=Case(rig=rig, case=case, by=by, place=place, note=note),
                sag=Sag(
                    ball_load_kg=ball_load, stand_mass_kg=stand_mass, stand_drop_mm=stand_drop, load_drop_mm=load_drop
                ),
            )
        )
    )  # fmt: skip
