"""What DEVELOPERS.md says of adding something is so: what it names is touched, and everything else follows."""

from __future__ import annotations

import re
from importlib.resources import files
from pathlib import Path

import pytest
import typer.main

from calib.kit.kit import kit
from calib.kit.paper import PAGES_MM, PAPER_WORDS, PAPERS
from calib.kit.papers import FIRST_PLANS, PLANS
from photomeasure.asked.requested import request_of
from photomeasure.asked.said import Said
from photomeasure.cli import app
from photomeasure.commands.rules import run
from photomeasure.rules import load
from photomeasure.web.answers import Answers, checked
from photomeasure.web.render import Pages


def test_a_rule_is_a_file_and_nothing_else(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Laid beside the others it is listed, chosen on the page, in a list and on the command line, and judged by."""
    for entry in files("photomeasure.rules").iterdir():
        if entry.name.endswith(".toml"):
            (tmp_path / entry.name).write_text(entry.read_text(encoding="utf-8"), encoding="utf-8")
    text = (tmp_path / "au-ball-50.toml").read_text(encoding="utf-8")
    own = re.sub(r'(?m)^name = ".*"$', 'name = "ferncombe"', text, count=1)
    own = re.sub(r'(?m)^title = ".*"$', 'title = "Ferncombe yard (invented)"', own, count=1)
    (tmp_path / "ferncombe.toml").write_text(own, encoding="utf-8")
    monkeypatch.setattr(load, "files", lambda _: tmp_path)
    assert run(None) == 0 and "ferncombe: Ferncombe yard (invented)" in capsys.readouterr().out
    page = bytes(Pages("/t").start(Answers()).body).decode()
    assert '<option value="ferncombe"' in page and "Ferncombe yard (invented)" in page
    asked, wrong = checked(Answers(rule="ferncombe"))
    assert not wrong and asked is not None and asked.request((), ()).rule.name == "ferncombe"
    assert request_of(Said(rule="ferncombe"), ()).rule.title == "Ferncombe yard (invented)"


def test_a_paper_is_named_once_and_laid_out_once() -> None:
    """Command line and page offer what is named; what is named has words, a size and its layouts."""
    assert PAPER_WORDS.keys() == PAGES_MM.keys() == PLANS.keys() == FIRST_PLANS.keys() == set(PAPERS)
    target = typer.main.get_command(app).commands["target"]  # type: ignore[attr-defined]
    offered = next(one for one in target.params if one.name == "paper")
    for paper in PAPERS:
        assert target.make_context("target", ["--out", "kit", "--paper", paper]).params["paper"] == paper
        assert kit(paper).page_mm == PAGES_MM[paper]
        assert f"kit-{paper}.pdf" in bytes(Pages("/t").start(Answers()).body).decode()
    assert offered.default == "a4"


def test_a_command_is_a_module_and_nothing_else() -> None:
    """Each module of `verbs` has joined the program, under its own name or as a group of commands."""
    folder = Path(str(files("photomeasure.cli.verbs")))
    modules = {path.stem for path in folder.glob("*.py")} - {"__init__"}
    commands = set(typer.main.get_command(app).commands)  # type: ignore[attr-defined]
    assert modules <= commands
