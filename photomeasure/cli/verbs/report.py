"""`photomeasure report`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Optional

import typer

from photomeasure.cli import options as o
from photomeasure.cli.app import RECORDS, command


@command(
    "report",
    panel=RECORDS,
    examples=(
        "photomeasure report records/*.json --out case.pdf",
        "photomeasure report records/*.json --csv case.csv",
    ),
)
def report(
    records: Annotated[
        list[Path], typer.Argument(metavar="RECORD", help="Records, as measure and batch write them, in order.")
    ],
    out: Annotated[
        Optional[Path], typer.Option("--out", metavar="CASE.pdf", help="Where the report of the case goes.")
    ] = None,
    photos: o.PhotoFolders = None,
    title: Annotated[
        Optional[str], typer.Option("--title", metavar="TEXT", help="Title of the report; else the case's name.")
    ] = None,
    csv: Annotated[
        Optional[Path], typer.Option("--csv", metavar="FILE", help="Write a table of the case here (CSV).")
    ] = None,
    xlsx: Annotated[
        Optional[Path],
        typer.Option("--xlsx", metavar="FILE", help="Write the same table as a spreadsheet (needs openpyxl)."),
    ] = None,
    language: o.Language = None,
) -> None:
    """One case, one PDF: a cover with every rig and its verdict, one page a rig, an annex with budgets and digests.

    Made from the records alone. Annotated pictures beside them and the photographs go in where they are found and are
    the ones that were measured.
    """
    from photomeasure.commands.report import ReportOptions, run

    raise typer.Exit(
        run(ReportOptions(records=tuple(records), out=out, photos=tuple(photos or ()), title=title, csv=csv, xlsx=xlsx))
    )
