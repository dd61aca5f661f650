"""`photomeasure settings`."""

from __future__ import annotations

import typer

from calib.words.said import say
from photomeasure.cli.app import HELP, command


@command("settings", panel=HELP, examples=("photomeasure settings",))
def settings(context: typer.Context) -> None:
    """Show the defaults in force and the files that they come from.

    A file photomeasure.toml, in this folder or in your own place, holds lines such as rule = "dk", bar-x = 149.5 or
    by = "M. Hale"; a table such as [batch] holds for that command alone. What is typed stands above it.
    """
    from photomeasure.cli.settings import in_force, places

    above = context.parent
    found = in_force({} if above is None else getattr(above.command, "commands", {}))
    for place in places():
        print(say("{file}: read", file=place) if place.is_file() else say("{file}: not there", file=place))
    if not found:
        print(say('No defaults are set. Write lines such as rule = "dk" or bar-x = 149.5 into one of these files.'))
    for setting in found:
        values = {"option": setting.option, "value": _shown(setting.value), "file": setting.file}
        if setting.command is None:
            print(say("  {option} {value}, from {file}", **values))
        else:
            print(say("  {option} {value} ({command} only), from {file}", **values, command=setting.command))


def _shown(value: object) -> str:
    return (say("yes") if value else say("no")) if isinstance(value, bool) else str(value)
