"""A command run in this process, as a person types it."""

from __future__ import annotations

from collections.abc import Callable

from typer.testing import CliRunner, Result

from photomeasure.cli import app


def invoked(*arguments: object) -> Result:
    """What came of a command; wrong input of a person comes as the InputError that `main` prints with exit code 2."""
    result = CliRunner().invoke(app, [str(argument) for argument in arguments])
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


def runs(*command: str) -> Callable[..., tuple[int, str]]:
    """A function that runs this command with further arguments: exit code and all that it printed."""

    def run(*arguments: object) -> tuple[int, str]:
        result = invoked(*command, *arguments)
        return result.exit_code, result.output

    return run
