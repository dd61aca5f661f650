"""`photomeasure target`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal, Optional

import typer

from calib.kit.paper import Paper
from calib.words.language import chosen
from photomeasure.cli.app import PREPARE, command


@command("target", panel=PREPARE, examples=("photomeasure target --out kit --paper a4",))
def target(
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Folder for target.pdf and target.json.")],
    paper: Annotated[
        Paper,
        typer.Option("--paper", case_sensitive=False, help="The paper that is in the printer."),
    ] = "a4",
    number: Annotated[
        Optional[int],
        typer.Option("--number", metavar="N", help="The print's number, 1 to 999999; a new one is drawn without it."),
    ] = None,
    to: Annotated[
        Optional[str],
        typer.Option(
            "--for",
            metavar="TEXT",
            help="Printed on page 1: whom the photographs are sent back to; \\n breaks the line.",
        ),
    ] = None,
    language: Annotated[
        Optional[Literal["en", "da", "de"]],
        typer.Option(
            "--language",
            case_sensitive=False,
            help="Of page 1 and of the words on the sheets; by default the terminal's.",
        ),
    ] = None,
) -> None:
    """Write the kit to print: instructions, upright sheet, ground sheet, centre tags, bar tags."""
    from photomeasure.commands.target import target as run

    raise typer.Exit(run(out, paper, number, to, language or chosen()))
