"""The command line: it parses, `commands/` works. Each command is a module of `verbs/`, found by itself."""

from photomeasure.cli.app import app
from photomeasure.cli.verbs import load_all
from photomeasure.cli.whole import main

load_all()

__all__ = ["app", "main"]
