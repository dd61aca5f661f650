"""What DEVELOPERS.md says of adding something is so: what it names is touched, and everything else follows."""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import replace
from importlib.resources import files
from pathlib import Path
from types import SimpleNamespace
from typing import Any, get_args

import numpy as np
import pytest
import typer.main
from numpy.typing import NDArray

from calib.kit.kit import kit
from calib.kit.paper import PAGES_MM, PAPER_WORDS, PAPERS
from calib.kit.papers import FIRST_PLANS, PLANS
from photomeasure.asked.bars import Bars
from photomeasure.asked.requested import request_of
from photomeasure.asked.stated import Stated
from photomeasure.cli import app
from photomeasure.commands.rules import run
from photomeasure.interval.budget import budget
from photomeasure.interval.coach import coach
from photomeasure.interval.montecarlo import monte_carlo
from photomeasure.record.input_rows import input_rows
from photomeasure.record.schema import CentrePart
from photomeasure.rules import load
from photomeasure.scene.scene import PlaneView, PointView, Prior
from photomeasure.scene.solved_camera import SolvedCamera
from photomeasure.seen.centre import compared, find
from photomeasure.seen.centre.sightings import Sightings, Way
from photomeasure.shown import rows, sections
from photomeasure.shown.quantities import plain
from photomeasure.solution import model, model_of_many
from photomeasure.solution.estimate import Estimate, estimate
from photomeasure.solution.geometry import pose_looking
from photomeasure.solution.model import rotation_matrix
from photomeasure.solution.rows import rows as rows_of
from photomeasure.solution.scene_of import assembled
from photomeasure.web.answers import Answers, checked
from photomeasure.web.render import Pages
from tests.points.simulate import Shot, _camera, asked, blank, observed, simulate

Array = NDArray[np.float64]


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
    assert request_of(Stated(rule="ferncombe"), ()).rule.title == "Ferncombe yard (invented)"


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


def _staff(local: Array, p: Array) -> tuple[Array, Array]:
    """A printed staff that stands plumb beside the sheet at (x, y): its foot `gap` too high, its print stretched by `scale`."""
    x, y, gap, scale = p
    slope = np.zeros((len(local), 3, 4))
    slope[:, 0, 0] = slope[:, 1, 1] = slope[:, 2, 2] = 1.0
    slope[:, 0, 3], slope[:, 2, 3] = local.T
    return np.stack([x + scale * local[:, 0], np.full(len(local), y), gap + scale * local[:, 1]], axis=1), slope


def _staff_of_many(local: Array, p: Array) -> Array:
    return np.array([_staff(local, one)[0] for one in p])


def test_a_capture_aid_is_a_plane_and_its_priors(monkeypatch: pytest.MonkeyPatch) -> None:
    """A staff beside the sheet, as nobody has it yet: solved, in the budget, drawn, advised upon and kept as every other row."""
    monkeypatch.setitem(model.PLANE_PARAMETERS, "staff", ("staff.x", "staff.y", "staff.gap", "staff.scale"))  # type: ignore[misc]
    monkeypatch.setitem(model._PLANES, "staff", _staff)
    monkeypatch.setitem(model_of_many._PLANES, "staff", _staff_of_many)  # type: ignore[misc]
    made, rng = simulate(Shot(bars=Bars()), np.random.default_rng(3)), np.random.default_rng(4)
    local = np.array([[x, z] for x in (-20.0, 20.0) for z in np.linspace(20.0, 620.0, 13)])
    view = PlaneView(
        photo=0, plane="staff", local_mm=local, px=np.zeros_like(local), sigma_px=np.full(len(local), 0.03),  # type: ignore[arg-type]
        quantity="staff marks",
    )  # fmt: skip
    means = {"staff.x": (-300.0, 20.0), "staff.y": (0.0, 20.0), "staff.gap": (0.0, 0.5), "staff.scale": (1.0, 1e-4)}
    priors = tuple(
        Prior(quantity=name.replace(".", " "), coefficients={name: 1.0}, mean=mean, u=u, unit="mm", source="invented")
        for name, (mean, u) in means.items()
    )
    scene = replace(made.scene, planes=(*made.scene.planes, view), priors=(*made.scene.priors, *priors))
    where = model.layout(scene)
    truth = np.zeros(len(where.names))
    truth[where.at(*made.where.names)] = made.truth
    truth[where.at(*means)] = [rng.normal(mean, u) for mean, u in means.values()]
    world, at = model.plane_points(scene, where, truth, view)
    px = model.project_world(scene, where, truth, 0, world, at)[0] + 0.03 * rng.normal(size=local.shape)
    scene = replace(scene, planes=(*made.scene.planes, replace(view, px=px)))

    without, solved = estimate(made.scene), estimate(scene)
    assert isinstance(without, Estimate) and isinstance(solved, Estimate)
    assert solved.u_mm < 0.8 * without.u_mm  # its own scale is known, the sheet's is not
    assert abs(solved.height_mm - made.height_mm) < 3.0 * solved.u_mm
    many = model_of_many.residuals(scene, where, solved.x[None])[0]
    assert np.allclose(many, rows_of(scene, where, solved.x).residual, rtol=1e-9, atol=1e-7)
    named = {"staff marks", "staff scale", "staff gap"}
    assert named <= {row.quantity for row in budget(solved)} and named <= {row.quantity for row in input_rows(solved)}
    check = monte_carlo(solved, np.random.default_rng(5), block=2_000, largest=4_000)
    assert not check.takes_over and abs(check.draws.u - solved.u_mm) < 0.05 * solved.u_mm
    assert all("staff" not in sentence for sentence in coach(solved, "a4"))
    assert plain("staff gap") == "staff gap"  # until it has plain words


def test_a_way_of_finding_the_centre_is_a_step_and_its_rows(monkeypatch: pytest.MonkeyPatch) -> None:
    """A ring of known size around the pin, as nobody has it yet: trusted after mark and tag, compared, solved, in the budget."""
    for table, row in (
        (compared.WORDS, "the ring"),
        (compared.FIRST_WORDS, "The ring"),
        (compared.OWN_U_MM, 0.8),
        (compared.DEPTH_MM, (0.0, 10.0)),
    ):
        monkeypatch.setitem(table, "ring", row)  # type: ignore[misc]
    ring_px = np.array([2010.0, 1490.0])
    seen = Sightings(
        way="ring",  # type: ignore[arg-type]
        centre_px=(ring_px,),
        points=(PointView(photo=0, px=ring_px, sigma_px=0.2, quantity="ring"),),
    )
    monkeypatch.setattr(find, "BY_PEOPLE", [*find.BY_PEOPLE, lambda request, views, pictures: seen])
    shot = Shot()
    pose = pose_looking(np.array(shot.lenses_mm[0]), np.array([0.0, 0.0, 250.0]))
    camera = SolvedCamera(
        intrinsics=_camera(shot).mean, cam_from_world=rotation_matrix(pose[:3]), world_in_cam_mm=pose[3:]
    )
    views: Any = [SimpleNamespace(photo=SimpleNamespace(size_px=shot.size_px, path=Path("a.jpg")))]
    pictures = find.InPictures(tags=((),), bars=({},), ball=None)
    alone = find.find_centre(asked(shot), views, [camera], pictures)
    assert isinstance(alone, Sightings) and str(alone.way) == "ring" and alone.points == seen.points
    told = replace(asked(shot), centres_px=((2010.0, 1489.0),))
    marked = find.find_centre(told, views, [camera], pictures)
    assert isinstance(marked, Sightings) and marked.way == "pick" and "The ring is" in marked.checks[0]

    rng, made = np.random.default_rng(6), blank(shot)
    bare = replace(made, points=(), priors=(), measurand={"centre.z": 1.0})
    scene = assembled(bare, seen, asked(shot), aside_mm=0.0)
    assert scene.measurand == made.measurand and {one.quantity for one in scene.priors} == {
        one.quantity for one in made.priors
    }
    where = model.layout(scene)
    truth = simulate(shot, rng).truth
    solved = estimate(observed(scene, where, truth, rng))
    assert isinstance(solved, Estimate)
    height = sum(value * truth[where.index[name]] for name, value in scene.measurand.items())
    assert abs(solved.height_mm - height) < 3.0 * solved.u_mm
    assert "ring" in {row.quantity for row in budget(solved)} and "ring" in {row.quantity for row in input_rows(solved)}
    assert all("ring" not in sentence for sentence in coach(solved, "a4"))


def test_a_way_of_finding_the_centre_has_its_row_in_every_table() -> None:
    """What a record may say, how sure and how deep a sighting is, and its words wherever it is told: none is forgotten."""
    ways = set(get_args(Way))
    tables: dict[str, Collection[str]] = {
        "compared.WORDS": compared.WORDS,
        "compared.FIRST_WORDS": compared.FIRST_WORDS,
        "compared.OWN_U_MM": compared.OWN_U_MM,
        "compared.DEPTH_MM": compared.DEPTH_MM,
        "sections._SOURCES": sections._SOURCES,
        "rows._CENTRES": rows._CENTRES,
        "CentrePart.source": get_args(CentrePart.model_fields["source"].annotation),
    }
    assert {name: ways ^ set(table) for name, table in tables.items() if ways != set(table)} == {}
