"""The command line: it parses, `commands/` works. Each command is a module of `verbs/`, found by itself."""

from photomeasure.cli.loading import ended_by_ctrl_c

with ended_by_ctrl_c():
    from photomeasure.cli.app import app
    from photomeasure.cli.whole import main

__all__ = ["app", "main"]
