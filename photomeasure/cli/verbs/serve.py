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
    set_password: Annotated[
        bool,
        typer.Option(
            "--set-password",
            help="Ask for a password for the pages of --store, keep it there, and stop. With one they are shown to nobody else; "
            "links for customers need none.",
        ),
    ] = False,
    password_file: Annotated[
        Path | None,
        typer.Option(
            "--password-file",
            metavar="FILE",
            help="Take the password from a file's first line, as containers hand it in.",
        ),
    ] = None,
    behind_proxy: Annotated[
        str | None,
        typer.Option(
            "--behind-proxy",
            metavar="ADDRESS",
            help="Believe what the proxy at this address says of where requests come from (X-Forwarded-For, -Proto), such as "
            "127.0.0.1. Nobody is believed otherwise.",
        ),
    ] = None,
    log: Annotated[
        str | None,
        typer.Option(
            "--log",
            metavar="FILE",
            help="Write a line of JSON for everything that is answered, without anything of people in it; - is standard error.",
        ),
    ] = None,
    tell: Annotated[
        str | None,
        typer.Option(
            "--tell",
            metavar="URL",
            help="Tell this address of yours when a customer's photographs or a message came: a POST with the case's key, "
            "nothing of people.",
        ),
    ] = None,
) -> None:
    """Measure on a page in a browser, on this machine or on a phone in its network, until Ctrl-C."""
    from photomeasure.commands.serve import run, set_new_password
    from photomeasure.web.served import Served

    if set_password:
        raise typer.Exit(set_new_password(store))
    raise typer.Exit(
        run(
            Served(
                host=host,
                port=port,
                public_url=public_url,
                store=store,
                password_file=password_file,
                behind_proxy=behind_proxy,
                log=log,
                tell=tell,
            )
        )
    )
