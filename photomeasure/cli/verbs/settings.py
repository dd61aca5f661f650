"""`photomeasure settings`."""

from __future__ import annotations

import typer

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
        print(f"{place}: {'read' if place.is_file() else 'not there'}")
    if not found:
        print('No defaults are set. Write lines such as rule = "dk" or bar-x = 149.5 into one of these files.')
    for setting in found:
        where = f" ({setting.command} only)" if setting.command is not None else ""
        print(f"  {setting.option} {_shown(setting.value)}{where}, from {setting.file}")


def _shown(value: object) -> str:
    return ("yes" if value else "no") if isinstance(value, bool) else str(value)
