"""Help and errors of the command line: what a person types is what they read, and every mistake is told in one style."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import IO

import pytest
from PIL import Image

from photomeasure import __version__
from photomeasure.cli import app, main
from tests.running import invoked
from tests.sample_requests import SAMPLES


def run(*arguments: object) -> tuple[int, str, str]:
    result = invoked(*arguments)
    return result.exit_code, result.stdout, result.stderr


def program(*arguments: object, stdout: int | IO[str] = subprocess.PIPE) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "photomeasure", *(str(argument) for argument in arguments)]
    return subprocess.run(command, stdout=stdout, stderr=subprocess.PIPE, text=True, check=False)


def commands() -> list[tuple[str, ...]]:
    """Every command, those of groups too."""
    import typer.main

    whole = typer.main.get_command(app)
    found: list[tuple[str, ...]] = []
    for name, command in whole.commands.items():  # type: ignore[attr-defined]
        inner = getattr(command, "commands", None)
        found += [(name,)] if inner is None else [(name, deeper) for deeper in inner]
    return found


@pytest.mark.parametrize("command", commands(), ids=" ".join)
def test_every_command_has_help_an_example_and_no_name_of_a_type(command: tuple[str, ...]) -> None:
    for option in ("-h", "--help"):
        code, out, _ = run(*command, option)
        assert code == 0
    assert f"photomeasure {' '.join(command)}" in out and "Example" in out
    for ugly in ("<list", "<bool>", "<str>", "<path>", "<Path>", "{", "}"):
        assert ugly not in out, ugly
    assert "[OPTIONS]" in out


def test_the_whole_program_says_its_version_and_its_commands_in_order() -> None:
    assert run("--version") == (0, f"photomeasure {__version__}\n", "")
    code, out, _ = run("-h")
    assert code == 0 and "<bool>" not in out
    assert out.index("│ target") < out.index("│ measure") < out.index("│ verify")


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("measure",), "Missing argument 'PHOTO'"),
        (("mesure",), "No such command 'mesure'"),
        (("measure", "a.jpg", "--colour"), "No such option"),
        (("measure", "a.jpg", "--coupling", "hook"), "'hook' is not one of 'ball-50', 'pin'"),
        (("target", "--out", "kit", "--paper", "a5"), "'a5' is not one of"),
        (("measure", "no-such-photograph.jpg"), "Cannot open no-such-photograph.jpg"),
        (("measure", "a.jpg", "--bar-x", "14a"), "--bar-x: '14a' is no number"),
        (("measure", "a.jpg", "--bar-x", "15"), "--bar-x is 15 mm"),
        (("measure", "a.jpg", "--tape", "4 m"), "--tape is 4000 mm"),
    ],
)
def test_every_mistake_is_told_in_one_style(
    arguments: tuple[str, ...], said: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """What happened, what was expected, what to do next; exit code 2; nothing in a box, nothing on standard output."""
    monkeypatch.setattr(sys, "argv", ["photomeasure", *arguments])
    with pytest.raises(SystemExit) as ended:
        main()
    told = capsys.readouterr()
    assert ended.value.code == 2 and told.out == ""
    assert said in what_is_told(told.err)


def what_is_told(err: str) -> str:
    """What happened, by the first line of a mistake; the others are as they are for every mistake."""
    first, expected, following = err.splitlines()[:3]
    assert first.startswith("photomeasure: ")
    assert expected.startswith("  Expected: ") and following.startswith("  Next:     ")
    assert "─" not in err and "Traceback" not in err
    return first


def test_a_process_tells_a_mistake_in_the_same_way() -> None:
    ended = program("measure", "no-such-photograph.jpg")
    assert ended.returncode == 2 and ended.stdout == ""
    assert "Cannot open no-such-photograph.jpg" in what_is_told(ended.stderr)


def blank(place: Path) -> Path:
    """A picture in which nothing is to be seen."""
    path = place / "blank.png"
    Image.new("L", (800, 600), 200).save(path)
    return path


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full on this system")
@pytest.mark.parametrize("command", ["--help", "measure"])
def test_a_full_disk_is_told_without_a_traceback(command: str, tmp_path: Path) -> None:
    arguments = (command,) if command == "--help" else (command, blank(tmp_path))
    with Path("/dev/full").open("w") as full:
        ended = program(*arguments, stdout=full)
    assert ended.returncode == 2
    assert "Cannot write the answer" in ended.stderr and "Traceback" not in ended.stderr


def test_json_to_the_standard_output_is_all_that_stands_there(tmp_path: Path) -> None:
    ended = program("measure", SAMPLES / "coupled.jpg", "--bar-x", "150", "--bar-y", "150", "--json", "-")
    assert ended.returncode == 0 and ended.stderr == ""
    assert json.loads(ended.stdout)["schema"].startswith("photomeasure/record/")
    assert not Path("-").exists()
    code, out, err = run("measure", blank(tmp_path), "--json", "-")
    assert code == 3 and json.loads(out)["refusal"]["code"] and err == ""


def test_the_short_answer_is_short_and_details_have_the_rest() -> None:
    rig = (SAMPLES / "coupled.jpg", "--bar-x", "150", "--bar-y", "150", "--coupled", "--laden", "--level-ground")
    short, long = (run("measure", *rig, *more)[1] for more in ((), ("--details",)))
    assert short.splitlines()[0] == long.splitlines()[0]
    assert "--details" in short and "--details" not in long
    for label in ("Mostly from", "Camera"):
        assert label not in short and label in long
