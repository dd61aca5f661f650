"""How far something is that takes longer than a moment: a bar on the error output, on a terminal only."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from calib.words.said import say, shown

LONGEST_NAME = 24


@contextmanager
def waiting(what: str) -> Iterator[None]:
    """Say what is being done while the block runs, on a terminal only; it goes away when it is done or stopped."""
    if not sys.stderr.isatty():
        yield
        return
    from rich.console import Console

    with Console(stderr=True).status(say("{what} (Ctrl-C stops)", what=what)):
        yield


@contextmanager
def progress(what: str, total: int) -> Iterator[Callable[..., None]]:
    """Show a bar while the block runs; what is given is called once a step, with the name of what was done where there is one.

    Goes away when it is done or stopped. On a terminal only: elsewhere rich before 14.3 would leave an empty line.
    """
    if not sys.stderr.isatty():
        yield lambda done="": None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    console = Console(stderr=True)
    columns = (TextColumn("  {task.description}"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=console, transient=True) as bar:
        task = bar.add_task(shown(what), total=total)
        yield lambda done="": bar.update(task, advance=1, description=str(done)[:LONGEST_NAME] or shown(what))
