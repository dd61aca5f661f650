"""The program itself: what stands before every command, and how a command joins it.

To add a command, write a module in `verbs/` whose function is decorated with `command(...)`; nothing else changes.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any, TypeVar

import typer
from rich.markup import escape

from calib.words.said import said
from photomeasure.cli.look import PlainCommand, PlainGroup, PlainInnerGroup

# headings of the list of commands, in their order
MEASURE, PREPARE, RECORDS, HELP = said("Measure"), said("Prepare"), said("Records and evidence"), said("Help")
# the order within the list; a command that is not named here comes last under its heading
ORDER = (
    "target", "kit", "calibrate", "bay",
    "measure", "batch", "level", "plan", "serve",
    "tape", "verify", "report", "seal", "key", "audit",
    "guide", "rules", "schema", "settings",
)  # fmt: skip

_NAMES = {"help_option_names": ["-h", "--help"]}
_Function = TypeVar("_Function", bound=Callable[..., Any])

app = typer.Typer(
    name="photomeasure",
    cls=PlainGroup,
    help="Height of a tow coupling's centre above the ground, from phone photographs with a printed sheet in them.",
    epilog="Exit codes: 0 a measurement was made, whatever the verdict; 3 refused, with the reason and a remedy; "
    "2 wrong usage.\n\nBegin with: photomeasure guide",
    no_args_is_help=True,
    add_completion=True,
    pretty_exceptions_enable=False,
    rich_markup_mode="rich",
    context_settings=_NAMES,
)


def command(
    name: str, *, panel: str, examples: tuple[str, ...], of: typer.Typer | None = None
) -> Callable[[_Function], _Function]:
    """Join a function to the program as a command.

    panel: the heading under which it is listed; examples: whole command lines, shown under its help and run by a test
    where their files are there; of: the group it belongs to (`photomeasure key new`), by default the program.
    """
    shown = ["Example:" if len(examples) == 1 else "Examples:", *(f"  {escape(line)}" for line in examples)]
    return (of or app).command(
        name,
        cls=PlainCommand,
        epilog="\n\n".join(shown),
        context_settings=_NAMES,
        rich_help_panel=panel if of is None else None,
    )


def group(name: str, *, panel: str, help: str) -> typer.Typer:
    """A command that has commands of its own, such as `photomeasure key`."""
    made = typer.Typer(cls=PlainInnerGroup, no_args_is_help=True, context_settings=_NAMES, rich_markup_mode="rich")
    app.add_typer(made, name=name, help=help, rich_help_panel=panel)
    return made


def _version(wanted: bool) -> None:
    if wanted:
        from photomeasure import __version__

        typer.echo(f"photomeasure {__version__}")
        raise typer.Exit


@app.callback()
def everything(
    context: typer.Context,
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Show the version and exit.")
    ] = False,
) -> None:
    """Height of a tow coupling's centre above the ground, from phone photographs with a printed sheet in them."""
    from photomeasure.cli.settings import default_map

    group_of_all = context.command
    context.default_map = default_map(getattr(group_of_all, "commands", {}))
