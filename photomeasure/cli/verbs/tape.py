"""`photomeasure tape`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from photomeasure.asked import limits
from photomeasure.cli import options as o
from photomeasure.cli.app import RECORDS, command


@command(
    "tape",
    panel=RECORDS,
    examples=(
        "photomeasure tape result/rig.json --reads 412",
        "photomeasure tape result/rig.json --reads 437 --tape-to top --tape-flat 16",
    ),
)
def tape(
    record: Annotated[Path, typer.Argument(metavar="RECORD", help="A record, as measure and batch write it.")],
    reads: Annotated[
        float,
        typer.Option(
            "--reads",
            parser=o.number("--reads", limits.TAPE_MM),
            metavar="MM",
            help="What the tape reads, from the ground up.",
            rich_help_panel=o.TAPE,
        ),
    ],
    tape_to: o.TapeTo = None,
    tape_flat: o.TapeFlat = None,
    tape_class: o.TapeClass = None,
    language: o.Language = None,
) -> None:
    """Add a tape's reading to a record later: judged by the same rule, compared, kept. Takes no photographs.

    A reading that is in the record already is replaced.

    Exit codes: 0 kept, whatever the comparison says; 2 wrong usage.
    """
    from photomeasure.commands.tape import run, said_by

    said = said_by(reads, tape_class, tape_to, tape_flat, ("--reads", "--tape-class", "--tape-to", "--tape-flat"))
    if said is not None:
        raise typer.Exit(run(record, said))
