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
    examples=(
        "photomeasure verify records/*.json",
        "photomeasure verify records/case.seal.json --public-key seal-key.pub.pem",
    ),
)
def verify(
    records: Annotated[
        list[Path],
        typer.Argument(metavar="RECORD", help="Records, as measure and batch write them, or the seal of a case."),
    ],
    photos: o.PhotoFolders = None,
    public_key: Annotated[
        Optional[Path],
        typer.Option("--public-key", metavar="KEY.pub.pem", help="The signer's public key, to check a seal with."),
    ] = None,
    time_roots: Annotated[
        Optional[Path],
        typer.Option(
            "--time-roots", metavar="ROOTS.pem", help="Root certificates of the time services that you trust."
        ),
    ] = None,
    json_file: o.JsonFile = None,
    language: o.Language = None,
) -> None:
    """Measure again from the photographs that a record names, and compare every figure; check the seal of a case.

    Rule, options, camera and bay are in the record itself; photographs are told by their SHA-256. Figures count as the
    same within half of the last printed digit.

    Exit codes: 0 the same, and every seal holds; 3 a seal is broken, or a record differs, cannot be repeated (a photograph
    is missing or changed, another version) or is none; 2 wrong usage, such as a path at which there is no file.
    """
    from photomeasure.commands.verify import run

    raise typer.Exit(run(tuple(records), tuple(photos or ()), json_file, public_key, time_roots))
