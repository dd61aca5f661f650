"""`photomeasure key new`, `photomeasure key show`, `photomeasure seal`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Optional

import typer

from photomeasure.cli import options as o
from photomeasure.cli.app import RECORDS, command, group

key = group("key", panel=RECORDS, help="A key of your own, with which records are sealed.")
_Folder = Annotated[
    Optional[Path], typer.Option("--out", metavar="DIR", help="Folder of the key; else your own place.")
]


@command("new", panel=RECORDS, examples=("photomeasure key new", "photomeasure key new --passphrase"), of=key)
def new(
    out: _Folder = None,
    language: o.Language = None,
    passphrase: Annotated[bool, typer.Option("--passphrase", help="Lock it with a passphrase, asked for.")] = False,
) -> None:
    """Make a key: a private file to keep, a public one to give away, and its fingerprint."""
    from photomeasure.commands.key import new as run

    raise typer.Exit(run(out, passphrase))


@command("show", panel=RECORDS, examples=("photomeasure key show",), of=key)
def show(out: _Folder = None, language: o.Language = None) -> None:
    """Show where your public key is, and its fingerprint."""
    from photomeasure.commands.key import show as run

    raise typer.Exit(run(out))


@command("seal", panel=RECORDS, examples=("photomeasure seal records/*.json --out records/case.seal.json",))
def seal(
    records: Annotated[list[Path], typer.Argument(metavar="RECORD", help="The records of one case, in order.")],
    out: Annotated[
        Path, typer.Option("--out", metavar="CASE.seal.json", help="Where the seal goes: best beside the records.")
    ],
    key: Annotated[
        Optional[Path],
        typer.Option("--key", metavar="KEY.pem", help="Your private key; else the one in your own place."),
    ] = None,
    case: o.CaseName = None,
    by: o.By = None,
    time_service: Annotated[
        Optional[str],
        typer.Option("--time-service", metavar="URL", help="A service that signs the time (RFC 3161); never needed."),
    ] = None,
    language: o.Language = None,
) -> None:
    """Seal the records of a case: every byte of them, their order and their number, signed with your key.

    photomeasure verify CASE.seal.json checks it. A tape's reading that is added afterwards changes its record: seal anew.
    """
    from photomeasure.commands.key import seal as run

    named = tuple(path for path in records if path.resolve() != out.resolve())
    raise typer.Exit(run(named, out, key, case, by, time_service))
