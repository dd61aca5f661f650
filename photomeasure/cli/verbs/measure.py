"""`photomeasure measure`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Optional

import typer

from photomeasure.asked.stated import Stated
from photomeasure.cli import options as o
from photomeasure.cli.app import MEASURE, command
from photomeasure.cli.stated import states


@command(
    "measure",
    panel=MEASURE,
    examples=(
        "photomeasure measure rig.jpg --bar-x 179.5 --bar-y 250 --out result",
        "photomeasure measure left.jpg right.jpg --bar-x 180 --bar-y 250",
        "photomeasure measure rig.jpg --centre 2045,1312 --json -",
        "photomeasure measure coupled.jpg --before bare.jpg --coupled --sheet-untouched",
    ),
)
@states("measure")
def measure(
    photos: Annotated[list[Path], typer.Argument(metavar="PHOTO", help="Photographs of one rig standing still.")],
    said: Stated,
    centre: Annotated[
        Optional[list[str]],
        typer.Option(
            metavar="X,Y",
            help="Coupling centre in pixels of the upright picture, (0, 0) the centre of the top-left pixel; once "
            "per photograph, in order.",
            rich_help_panel=o.CENTRE,
        ),
    ] = None,
    monte_carlo: o.MonteCarlo = False,
    ask: Annotated[
        bool,
        typer.Option(
            "--ask/--no-ask", help="Ask for the tape's reading afterwards, on a terminal.", rich_help_panel=o.TAPE
        ),
    ] = True,
    before: Annotated[
        Optional[list[Path]],
        typer.Option(
            "--before",
            metavar="PHOTO",
            help="Photograph from before it was coupled or loaded, with the same bar tag in sight; may be repeated. Both sides "
            "are solved as one, and the sinking is told. A centre in it is marked by --centre, before those of the others.",
            rich_help_panel=o.CENTRE,
        ),
    ] = None,
    standing: Annotated[
        Optional[list[Path]],
        typer.Option(
            "--standing",
            metavar="PHOTO",
            help="Photograph of the same bare ball with somebody of --stand-mass on the bar, sheet untouched: the drop is "
            "measured, in place of --stand-drop.",
            rich_help_panel=o.SINKS,
        ),
    ] = None,
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
    language: o.Language = None,
) -> None:
    """Measure the coupling centre's height, with its interval, verdict and what to do next.

    Exit codes: 0 a measurement was made, whatever the verdict; 3 refused, with reason and remedy; 2 wrong usage.
    """
    from photomeasure.commands.measure import Options, run

    raise typer.Exit(
        run(
            Options(
                photos=tuple(photos), said=said, centres=tuple(centre or ()), monte_carlo=monte_carlo,
                json_file=json_file, out=out, ask=ask, details=details, before=tuple(before or ()), standing=tuple(standing or ()),
            )
        )
    )  # fmt: skip
