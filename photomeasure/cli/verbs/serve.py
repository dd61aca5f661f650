"""`photomeasure serve`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from photomeasure.cli.app import MEASURE, command


@command("serve", panel=MEASURE, examples=("photomeasure serve", "photomeasure serve --host 0.0.0.0"))
def serve(
    host: Annotated[
        str, typer.Option("--host", metavar="ADDRESS", help="127.0.0.1 is this machine only; 0.0.0.0 its network too.")
    ] = "127.0.0.1",
    port: Annotated[int, typer.Option("--port", metavar="N", help="0 chooses a free one.")] = 0,
    public_url: Annotated[
        str | None,
        typer.Option(
            "--public-url",
            metavar="URL",
            help="Where people reach the page through a proxy that encrypts, such as https://heights.example: the page then "
            "answers to that name too. The proxy has to hand the Host header on.",
        ),
    ] = None,
    store: Annotated[
        Path | None,
        typer.Option(
            "--store",
            metavar="FOLDER",
            help="Keep what is measured here, with its photographs: addresses stay good after a new start (give --port too).",
        ),
    ] = None,
) -> None:
    """Measure on a page in a browser, on this machine or on a phone in its network, until Ctrl-C."""
    from photomeasure.commands.serve import run

    raise typer.Exit(run(host, port, public_url, store))
