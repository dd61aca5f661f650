"""`photomeasure verify`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Optional

import typer

from photomeasure.cli import options as o
from photomeasure.cli.app import RECORDS, command


@command(
    "verify",
    panel=RECORDS,
    examples=("photomeasure verify records/*.json", "photomeasure verify rig.json --photos photographs"),
)
def verify(
    records: Annotated[
        list[Path], typer.Argument(metavar="RECORD.json", help="Records, as measure and batch write them.")
    ],
    photos: Annotated[
        Optional[Path],
        typer.Option(
            "--photos",
            metavar="DIR",
            help="Look here for the photographs first, by name and by digest; else beside the record and in this folder.",
        ),
    ] = None,
    json_file: o.JsonFile = None,
) -> None:
    """Measure again from the photographs that a record names, and compare every figure.

    Rule, options, camera and bay are in the record itself; photographs are told by their SHA-256. Figures count as the
    same within half of the last printed digit.

    Exit codes: 0 the same; 3 differs, cannot be repeated (a photograph is missing or changed, another version), or a file
    is no record; 2 wrong usage, such as a path at which there is no file.
    """
    from photomeasure.commands.verify import run

    raise typer.Exit(run(tuple(records), photos, json_file))
