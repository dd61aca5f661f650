"""An option that holds one value and is given two: told. Before, the second counted, and nobody said so."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner

from calib.outcome.errors import InputError
from photomeasure.cli import app
from tests.cli.test_look import run


@pytest.mark.parametrize(
    ("words", "both"),
    [
        (("--bar-x", "150", "--bar-x", "140"), "--bar-x 150 and --bar-x 140"),
        (("--bar-x=150", "--bar-y=150", "--bar-x=151"), "--bar-x 150 and --bar-x 151"),
        (("--coupled", "--uncoupled"), "--coupled and --uncoupled"),
        (("--json", "a", "--json", "b"), "--json a and --json b"),
    ],
)
def test_two_that_differ(words: tuple[str, ...], both: str) -> None:
    with pytest.raises(InputError, match=f"{both} were both given") as caught:
        run("measure", "no-such.jpg", *words)
    assert "leave the wrong one out" in caught.value.remedy


def test_what_was_typed_is_not_said_to_be_a_files(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "photomeasure.toml").write_text("bar-x = 170\nbar-y = 149\n", encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    result = CliRunner().invoke(app, ["measure", "no-such.jpg", "--bar-x", "150", "--bar-x", "140"])
    assert isinstance(result.exception, InputError) and "From photomeasure.toml: --bar-y 149." in result.stderr


def test_help_is_shown_whatever_else_was_typed() -> None:
    result = CliRunner().invoke(app, ["measure", "--bar-x", "150", "--bar-x", "140", "--help"])
    assert result.exit_code == 0 and "--bar-x" in result.stdout


def test_a_shell_that_completes_the_line_is_told_no_mistake() -> None:
    asked = {"_PHOTOMEASURE_COMPLETE": "complete_bash", "COMP_WORDS": "photomeasure measure --bar-x 1 --bar-x 2 --ba"}
    result = CliRunner().invoke(app, env={**asked, "COMP_CWORD": "6"}, prog_name="photomeasure")
    assert result.exit_code == 0 and "--bar-y" in result.stdout and result.exception is None


@pytest.mark.parametrize(
    "words",
    [
        ("--bar-x", "150", "--bar-x=150"),
        ("--laden", "--laden"),
        ("--centre", "1,1", "--centre", "2,2"),
        ("--before", "a.jpg", "--before", "b.jpg"),
    ],
)
def test_the_same_twice_and_what_may_be_repeated(words: tuple[str, ...]) -> None:
    with pytest.raises(InputError, match=r"no-such|a\.jpg"):  # read, and stopped at the photographs only
        run("measure", "no-such.jpg", "also-none.jpg", *words)
