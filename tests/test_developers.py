"""DEVELOPERS.md names what is there: every path, module, command's module and table is looked up."""

from __future__ import annotations

import re
import tomllib
from importlib.util import find_spec
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
TEXT = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
QUOTED = sorted(set(re.findall(r"`([^`\n]+)`", TEXT)))
PACKAGES = ("photomeasure", "calib")
PLACES = ("", "photomeasure", "calib", "tests", "tests/experiments", "calib/words")  # where a short path may start
NOT_OURS = {"../shared/data", "calib/words/locale/XX", "make_scenes.py"}


def paths() -> list[str]:
    """What is quoted and looks like a path: it has a slash or the ending of a file, and no blank."""
    looks = re.compile(r"[\w./*-]+/[\w./*-]*|[\w*-]+\.(?:md|py|toml|npz|html|svg|json|po)")
    return [one for one in QUOTED if looks.fullmatch(one) and one not in NOT_OURS and not one.isupper()]


def named(path: str) -> bool:
    """Whether a path is there: as a file, a folder, or a module without its ending; a bare name may stand in any folder."""
    if "/" not in path.rstrip("/"):
        return any(any((ROOT / place).rglob(path.rstrip("/"))) for place in ("photomeasure", "calib", "tests"))
    return any(
        any((ROOT / place).glob(f"{path.rstrip('/')}{ending}")) for place in PLACES for ending in ("", ".py") if path
    )


def test_there_are_paths_to_look_for() -> None:
    assert len(paths()) > 60


@pytest.mark.parametrize("path", paths())
def test_a_path_that_is_named_is_there(path: str) -> None:
    assert named(path), path


@pytest.mark.parametrize("module", sorted(set(re.findall(r"python -m ((?:tests|photomeasure)[\w.]*)", TEXT))))
def test_a_module_that_is_run_is_there(module: str) -> None:
    assert find_spec(module) is not None


def test_the_rooms_are_those_that_are_there() -> None:
    """Every folder and module of both packages that the layers name has its row, and every row its folder or module."""
    layers = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["importlinter"]["contracts"]
    for package, contract in (("photomeasure", layers[1]), ("calib", layers[2])):
        rooms = {name.strip().split(".")[1] for layer in contract["layers"] for name in layer.split("|")}
        there = {path.stem for path in (ROOT / package).iterdir() if not path.stem.startswith("_")} - {"py"}
        start = TEXT.index("`calib` knows nothing" if package == "calib" else "`photomeasure` is the job")
        table = TEXT[start : TEXT.index("\n\n", TEXT.index("|---|---|", start))]
        rows = [line.split("|")[1] for line in table.splitlines() if line.startswith("| `")]
        told = {name.strip("`/").split("/")[0] for row in rows for name in re.findall(r"`[^`]+`", row)}
        assert rooms <= told, rooms - told
        assert told <= there | {"verbs"}, told - there


def test_every_experiment_has_its_row() -> None:
    """What is run by hand is in the table; what others import from is not run."""
    folder = ROOT / "tests" / "experiments"
    run = {path.stem for path in folder.glob("*.py") if '__name__ == "__main__"' in path.read_text(encoding="utf-8")}
    left = {name for name in run if not re.search(rf"\b{name}\b", TEXT)}
    assert not left


@pytest.mark.parametrize(
    ("module", "name"),
    [
        ("calib/kit/papers.py", "PLANS"), ("calib/kit/papers.py", "FIRST_PLANS"), ("photomeasure/scene/scene.py", "PlaneName"),
        ("photomeasure/scene/scene.py", "OF_THE_SHEET"), ("photomeasure/scene/scene.py", "OF_THE_RIG"),
        ("photomeasure/solution/model.py", "PLANE_PARAMETERS"), ("photomeasure/solution/model.py", "_PLANES"),
        ("photomeasure/solution/model_of_many.py", "_PLANES"), ("photomeasure/solution/scene_of.py", "seen_scene"),
        ("photomeasure/solution/scene_of.py", "assembled"), ("photomeasure/seen/centre/find.py", "BY_PEOPLE"),
        ("photomeasure/seen/centre/sightings.py", "Way"), ("photomeasure/verdict/rests_on.py", "UsualMistake"),
        ("photomeasure/asked/fields.py", "NO_QUESTION"),
    ],
)  # fmt: skip
def test_a_table_that_is_named_is_in_its_module(module: str, name: str) -> None:
    assert re.search(rf"^(?:class |def )?{name}\b", (ROOT / module).read_text(encoding="utf-8"), re.MULTILINE), name
