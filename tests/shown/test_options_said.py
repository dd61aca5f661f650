"""What is computed speaks no door's language: every code has its words at every door, and no sentence names an option."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from typing import get_args

import pytest
import typer.main

import calib
import photomeasure
from photomeasure.asked.needs import OF_REFUSALS, Need
from photomeasure.cli import app
from photomeasure.record.schema import NeedPart, Record
from photomeasure.shown.options_said import SAID, TITLES, Medium, needed
from photomeasure.shown.picture.caption import foot_lines, head_lines
from photomeasure.shown.report.measurement import measurement_pdf
from photomeasure.shown.sections import facts, sections
from photomeasure.web.page import result_page
from tests.shown.report.samples import jpeg, measured, pages_text, refused

OPTION = re.compile(r"(?<![\w-])--[a-z][a-z-]+|photomeasure (?:target|calibrate|measure|batch|serve|tape|plan)\b")
# rooms whose sentences reach every door: all but the doors themselves, and what only one of them shows
DOORS = {"cli", "commands", "batch", "web", "repeat", "audit", "rig", "schemas"}
ONE_DOOR = {
    "shown/options_said.py", "shown/terminal.py", "levelling.py", "seen/board_photos.py",
    "asked/fields.py",  # the table that the doors are made from
}  # fmt: skip
READ_FROM_FILES = {
    "record/schema.py",
    "profile/load.py",
    "profile/opencv_yaml.py",
    "asked/bay_file.py",
    "kit/kit.py",
}  # errors about files


def _modules() -> Iterator[Path]:
    for package in (calib, photomeasure):
        root = Path(package.__file__ or "").parent
        for path in sorted(root.rglob("*.py")):
            inside = path.relative_to(root).as_posix()
            if inside.split("/")[0] not in DOORS and inside not in ONE_DOOR | READ_FROM_FILES:
                yield path


def _sentences(path: Path) -> Iterator[str]:
    """Every text in a module but its docstrings."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    documents = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef)
        and node.body
        and isinstance(node.body[0], ast.Expr)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in documents:
            yield node.value


def test_no_sentence_of_what_is_computed_names_an_option() -> None:
    named = {f"{path.name}: {said}" for path in _modules() for said in _sentences(path) if OPTION.search(said)}
    assert not named


def test_the_search_for_options_finds_them() -> None:
    for said in ("pass --bar-x and --bar-y", "(--centre X,Y)", "make one (photomeasure calibrate)"):
        assert OPTION.search(said)
    assert not OPTION.search("12-50 MP - a photograph -- or two; photomeasure 0.1.0")


def test_every_code_is_said_at_every_door() -> None:
    assert set(SAID) == set(get_args(Need)) and {need for needs in OF_REFUSALS.values() for need in needs} <= set(SAID)
    for code, doors in SAID.items():
        assert set(doors) == set(TITLES) == set(get_args(Medium))
        assert all(said.endswith((".", "?")) and said[0].isupper() for said in doors.values())
        assert not OPTION.search(doors["page"]) and not OPTION.search(doors["paper"]), code


def test_the_options_that_are_named_are_there() -> None:
    command = typer.main.get_command(app)
    options = {
        name
        for verb in command.commands.values()  # type: ignore[attr-defined]
        for option in verb.params
        for name in (*option.opts, *option.secondary_opts)
    }
    named = {name for doors in SAID.values() for name in re.findall(r"--[a-z-]+", doors["command"])}
    assert named and named <= options


def test_the_codes_of_refusals_are_the_programs_own() -> None:
    texts = "".join(path.read_text(encoding="utf-8") for path in _modules())
    assert all(f'"{code}"' in texts for code in OF_REFUSALS)


def everything() -> Record:
    return measured(needs=[NeedPart(code=code) for code in get_args(Need)])


@pytest.mark.parametrize(
    "record", [everything(), refused(needs=[NeedPart(code="centre")])], ids=["measured", "refused"]
)
def test_no_picture_report_or_page_names_an_option(record: Record) -> None:
    page, drawn = result_page(record), [("a.jpg", jpeg())]
    said = [line for part in page.sections for line in part.lines] + [text for _, text in page.facts]
    said += [line.text for line in (*head_lines(record), *foot_lines(record, "a.jpg", 1, 1))]
    said += pages_text(measurement_pdf(record, drawn))
    assert any(needed(record, "page")[0] in line for line in said) and not [
        line for line in said if OPTION.search(line)
    ]
    terminal = " ".join(line for part in sections(record, "command") for line in part.lines)
    assert all(line in terminal for line in needed(record, "command")) and "--" not in " ".join(
        t for _, t in facts(record)
    )


def test_what_is_asked_is_not_said_twice() -> None:
    """The sentence that a question answers is not also advice or a note; the record keeps all of them."""
    asked = [
        NeedPart(code="laden", answers=["State whether it is laden."]),
        NeedPart(code="bars", answers=["No bars."]),
    ]
    record = measured(needs=asked, advice=["State whether it is laden.", "Lower."], warnings=["No bars.", "Blurred."])
    lines = [line for part in sections(record, "command") for line in part.lines]
    assert "State whether it is laden." not in lines and "No bars." not in lines
    assert {"Lower.", "Blurred.", *needed(record, "command")} <= set(lines)
