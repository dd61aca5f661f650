"""The program itself: what stands before every command, and how a command joins it.

To add a command, write a module in `verbs/` whose function is decorated with `command(...)`; nothing else changes.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any, TypeVar

import typer

from photomeasure.cli.listed import HELP as HELP
from photomeasure.cli.listed import MEASURE as MEASURE
from photomeasure.cli.listed import PREPARE as PREPARE
from photomeasure.cli.listed import RECORDS as RECORDS
from photomeasure.cli.look import PlainCommand, PlainGroup, PlainInnerGroup

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
    shown = ["Example:" if len(examples) == 1 else "Examples:", *("  " + line.replace("[", r"\[") for line in examples)]
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


def names() -> list[str]:
    """Of the commands and groups that have joined so far."""
    return [str(info.name) for info in app.registered_commands] + [str(info.name) for info in app.registered_groups]


def made(name: str) -> Any:
    """A command or group that has joined, as the library makes it. Raises KeyError."""
    from typer.main import get_command_from_info, get_group_from_info

    how: Any = {"pretty_exceptions_short": app.pretty_exceptions_short, "rich_markup_mode": app.rich_markup_mode}
    for command_info in app.registered_commands:
        if command_info.name == name:
            return get_command_from_info(command_info, **how)
    for group_info in app.registered_groups:
        if group_info.name == name:
            return get_group_from_info(group_info, suggest_commands=app.suggest_commands, **how)
    raise KeyError(name)


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
