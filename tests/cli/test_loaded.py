"""What a start loads, and what it does not: in processes of their own, by the modules that are there at the end."""

from __future__ import annotations

import subprocess
import sys
from functools import cache
from importlib.metadata import version
from pathlib import Path

import pytest
import typer

from photomeasure.cli import app
from photomeasure.cli.listed import LISTED
from photomeasure.cli.verbs import Commands
from tests.sample_requests import SAMPLES

SAID = ("--bar-x", "150", "--bar-y", "150", "--no-ask")
HEAVY = {"numpy", "cv2", "scipy", "PIL", "pydantic", "reportlab", "babel", "cryptography"}
PAGES = {"starlette", "uvicorn", "jinja2", "markdown_it", "alembic"}


@cache
def loaded(*typed: str) -> frozenset[str]:
    """The modules that a command has loaded when it ends."""
    program = (
        "import atexit, sys; atexit.register(lambda: print('LOADED', *sys.modules, file=sys.stderr)); "
        "from photomeasure.cli import main; main()"
    )
    ended = subprocess.run([sys.executable, "-c", program, *typed], capture_output=True, text=True, check=False)
    assert ended.returncode == 0, ended.stderr
    return frozenset(ended.stderr.rpartition("LOADED ")[2].split())


def verbs(modules: frozenset[str]) -> set[str]:
    return {name.rpartition(".")[2] for name in modules if name.startswith("photomeasure.cli.verbs.")}


def test_the_list_of_commands_loads_none_of_them_and_nothing_heavy() -> None:
    modules = loaded("--help")
    assert verbs(modules) == set() and not (HEAVY | PAGES) & modules
    assert not {"rich.markdown", "rich.traceback", "rich.syntax", "pygments"} & modules


def test_the_version_loads_nothing_that_draws_a_page_of_help() -> None:
    modules = loaded("--version")
    assert verbs(modules) == set() and not (HEAVY | PAGES) & modules and "rich.console" not in modules


@pytest.mark.parametrize("name", ["measure", "target", "verify"])
def test_help_of_a_command_loads_that_command_alone_and_nothing_heavy(name: str) -> None:
    modules = loaded(name, "--help")
    assert verbs(modules) == {name} and not (HEAVY | PAGES) & modules


def test_a_record_is_measured_without_what_draws(tmp_path: Path) -> None:
    modules = loaded("measure", str(SAMPLES / "within.jpg"), *SAID, "--json", str(tmp_path / "r.json"))
    assert verbs(modules) == {"measure"}
    assert not ({"reportlab", "babel", "cryptography"} | PAGES) & modules
    decoders = {"PIL.AvifImagePlugin", "pi_heif", "photomeasure.seen.decoder.answers"}  # of what is no JPEG
    unasked = {"photomeasure.uncertainty.first_order", "photomeasure.record.with_tape", "calib.profile.match"}
    assert not (decoders | unasked) & modules


def test_the_list_says_of_every_command_what_it_says_itself() -> None:
    """Name, heading, first line and module; every command is listed, and the order is that of the list."""
    whole = typer.main.get_command(app)
    commands = whole.commands  # type: ignore[attr-defined]
    assert isinstance(commands, Commands) and list(commands) == list(LISTED)
    for name, row in LISTED.items():
        command = commands[name]
        inside = next(iter(command.commands.values())) if hasattr(command, "commands") else command
        assert command.help.partition("\n\n")[0] == row.help
        assert command.rich_help_panel == row.panel
        assert _module(inside) == f"photomeasure.cli.verbs.{row.module or name}"


def _module(command: object) -> str:
    """Where a command's function stands: the library keeps it inside its own."""
    wrapped = getattr(getattr(command, "callback", None), "__wrapped__", None)
    return str(getattr(wrapped, "__module__", ""))


def test_a_module_that_is_not_listed_joins_all_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delitem(LISTED, "rules")
    commands = Commands({})
    assert list(commands)[-1] == "rules" and commands["rules"].name == "rules"
    with pytest.raises(KeyError):
        commands["weigh"]
    assert "weigh" not in commands and commands.get("weigh") is None


@pytest.mark.parametrize(("typed", "collects"), [(("rules",), False), (("key", "show"), True)])
def test_cycles_are_collected_in_commands_that_may_be_long(typed: tuple[str, ...], collects: bool) -> None:
    program = (
        "import atexit, gc, sys; atexit.register(lambda: print('COLLECTS', gc.isenabled(), file=sys.stderr)); "
        "from photomeasure.cli import main; main()"
    )
    ended = subprocess.run([sys.executable, "-c", program, *typed], capture_output=True, text=True, check=False)
    assert ended.stderr.splitlines()[-1] == f"COLLECTS {collects}"


def test_a_report_is_written_without_what_it_does_not_use(tmp_path: Path) -> None:
    modules = loaded("measure", str(SAMPLES / "within.jpg"), *SAID, "--out", str(tmp_path))
    assert "reportlab.platypus" in modules
    assert not ({"babel", "cryptography", "rich.markdown"} | PAGES) & modules
    if tuple(map(int, version("reportlab").split(".")[:3])) >= (5, 0, 1):  # which loads them late
        assert not {"urllib.request", "http.client", "ssl"} & modules


def test_rules_are_listed_without_what_measures() -> None:
    assert not ({"cv2", "scipy", "PIL", "reportlab"} | PAGES) & loaded("rules")
