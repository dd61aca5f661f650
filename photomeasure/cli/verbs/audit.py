"""`photomeasure audit`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Optional

import typer

from photomeasure.cli import options as o
from photomeasure.cli.app import RECORDS, command


@command("audit", panel=RECORDS, examples=("photomeasure audit records",))
def audit(
    ledger: Annotated[
        Optional[list[Path]],
        typer.Argument(metavar="LEDGER", help="Records, or folders with records in them; by default this folder."),
    ] = None,
    json_file: o.JsonFile = None,
    language: o.Language = None,
) -> None:
    """Photographs against tapes so far: bias, RMS, En, coverage, Birge ratio, in words, and what to do.

    Every record with a tape's reading counts; of records of the same photographs the last one.

    Exit codes: 0 whatever the audit says; 3 not everything could be read (a record is broken, a named file is no record, a
    named place is not there), and the others were audited; 2 wrong usage, such as a path of which nothing is there.
    """
    from photomeasure.commands.audit import run

    raise typer.Exit(run(tuple(ledger or [Path()]), json_file))
