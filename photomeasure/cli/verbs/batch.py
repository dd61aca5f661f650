"""`photomeasure batch`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Optional

import typer

from photomeasure.cli import options as o
from photomeasure.cli.app import MEASURE, command


@command(
    "batch",
    panel=MEASURE,
    examples=(
        "photomeasure batch yard --out records --bar-x 150 --bar-y 150 --coupled",
        "photomeasure batch rigs.csv --out records --jobs 2",
        "photomeasure batch rigs.csv --out records --cluster tcp://10.0.0.5:8786",
    ),
)
def batch(
    source: Annotated[
        Path,
        typer.Argument(
            metavar="FOLDER|LIST.csv",
            help="Folder: each sub-folder one rig, each single photograph one rig. List: one row a photograph, columns "
            "rig, photo and any of those that photomeasure guide many-rigs names.",
        ),
    ],
    out: Annotated[
        Path, typer.Option("--out", metavar="DIR", help="Folder for one record (JSON) per rig, and table.csv.")
    ],
    jobs: Annotated[
        Optional[int], typer.Option("--jobs", metavar="N", help="Rigs at a time; by default one per processor.")
    ] = None,
    cluster: Annotated[
        Optional[str],
        typer.Option(
            "--cluster",
            metavar="ADDRESS",
            help="Measure on the workers of a dask.distributed scheduler, such as tcp://10.0.0.5:8786; the photographs are sent along.",
        ),
    ] = None,
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
    pick_u: o.PickU = None,
    ball_diameter: o.BallDiameter = None,
    rule: o.Rule = None,
    decision: o.Decision = None,
    monte_carlo: o.MonteCarlo = False,
    camera: o.Camera = None,
    bay: o.BayFile = None,
    case: o.CaseName = None,
    by: o.By = None,
    place: o.Place = None,
    note: o.Note = None,
    pictures: Annotated[
        bool, typer.Option("--pictures", help="Write each rig's annotated pictures beside its record.")
    ] = False,
) -> None:
    """Measure many rigs: one record each, one table. Run again, it goes on where it stopped.

    Options hold for every rig of which the list says nothing else. A rig whose record is there, made from the same
    photographs with the same options, is kept. What goes wrong with one rig does not stop the others.

    Exit codes: 0 every rig was measured, whatever the verdicts; 3 some were refused or failed (the table says which and
    why); 2 wrong usage; 130 stopped by Ctrl-C, with what is finished kept.
    """
    from photomeasure.commands.batch import BatchOptions, run

    raise typer.Exit(
        run(
            BatchOptions(
                source=source, out=out, jobs=jobs, coupling=coupling, rule=rule, camera=camera, ball_diameter_mm=ball_diameter,
                pick_u_px=pick_u, bar_x_mm=bar_x, bar_y_mm=bar_y, coupled=coupled, laden=laden, level_ground=level_ground,
                level_control=level_control, level_within_mm_per_m=level_within, decision=decision, bay=bay,
                ball_load_kg=ball_load, stand_mass_kg=stand_mass, stand_drop_mm=stand_drop, load_drop_mm=load_drop,
                monte_carlo=monte_carlo, pictures=pictures, cluster=cluster, case=case, by=by,
                place=place, note=note,
            )
        )
    )  # fmt: skip
