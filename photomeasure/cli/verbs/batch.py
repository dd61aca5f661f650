"""`photomeasure batch`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Optional

import typer

from photomeasure.asked.stated import Stated
from photomeasure.cli import options as o
from photomeasure.cli.app import MEASURE, command
from photomeasure.cli.stated import states


@command(
    "batch",
    panel=MEASURE,
    examples=(
        "photomeasure batch yard --out records --bar-x 150 --bar-y 150 --coupled",
        "photomeasure batch rigs.csv --out records --jobs 2",
        "photomeasure batch rigs.csv --out records --cluster tcp://10.0.0.5:8786",
    ),
)
@states("batch")
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
    said: Stated,
    jobs: Annotated[
        Optional[int], typer.Option("--jobs", metavar="N", help="Rigs at a time; by default one per processor.")
    ] = None,
    cluster: Annotated[
        Optional[str],
        typer.Option(
            "--cluster",
            metavar="ADDRESS",
            help="Measure on the workers of a dask.distributed scheduler, such as tcp://10.0.0.5:8786; the photographs are sent along, "
            "but for those that the list names by an address (s3://...).",
        ),
    ] = None,
    photos_shared: Annotated[
        bool,
        typer.Option(
            "--photos-shared",
            help="With --cluster: its workers have the photographs under the same paths, and read them there; none is sent.",
        ),
    ] = False,
    monte_carlo: o.MonteCarlo = False,
    pictures: Annotated[
        bool, typer.Option("--pictures", help="Write each rig's annotated pictures beside its record.")
    ] = False,
    language: o.Language = None,
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
                source=source, out=out, jobs=jobs, said=said, monte_carlo=monte_carlo, pictures=pictures,
                cluster=cluster, photos_shared=photos_shared,
            )
        )
    )  # fmt: skip
