"""The whole job on photographs that nobody here made: a room with surveyed markers, one of them held out.

Source: 54 photographs, marker corners and camera of sandialabs/OpenCSP, `opencsp/app/scene_reconstruction/test/data`
(Apache-2.0). The corner table was solved from these same photographs, so a millimetre is consistency; only the tapes
are independent. In the room's frame y points down; here z = 3000 - y, in millimetres, the wall is the coupling plane.
"""

from __future__ import annotations

import csv
import json
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from calib.finding.sheets import Finding
from calib.outcome.refusal import Refusal
from calib.profile.profile import Profile
from photomeasure.asked.bay_file import Bay, CouplingPlane, Marker
from photomeasure.asked.request import Request
from photomeasure.pipeline import Result, measure
from photomeasure.rules.load import default_rule
from photomeasure.scene.priors import plane_prior
from photomeasure.scene.scene import CameraPrior, PointView, Scene
from photomeasure.seen.camera_for import camera_for
from photomeasure.seen.image import Photo, load
from photomeasure.seen.look import View
from photomeasure.seen.markers import SeenMarkers, find_markers
from photomeasure.solution.estimate import Estimate, estimate
from tests.calib.survey.test_bundle import kept_sightings, room_solved
from tests.shared_data import folder

WALL = (1, 2, 30, 32, 34, 35, 36, 37, 38, 40, 41, 42, 43, 44)
FLOOR_MM = 3000.0


def corners_mm(room: Path) -> dict[int, NDArray[np.float64]]:
    """Marker corners (4, 3) by id, in the bay's frame."""
    table: dict[int, NDArray[np.float64]] = {}
    with (room / "marker_corners_m.csv").open() as stream:
        for row in csv.reader(line for line in stream if not line.startswith("#")):
            marker, corner = int(row[0]), int(row[1])
            x, y, z = (1000.0 * float(value) for value in row[2:5])
            table.setdefault(marker, np.zeros((4, 3)))[corner % 4] = x, z, FLOOR_MM - y
    return {marker: corners for marker, corners in table.items() if np.isfinite(corners).all()}


def profile(room: Path) -> Profile:
    facts = json.loads((room / "camera.json").read_text())
    k, distortion = facts["camera_matrix"], facts["distortion_k1_k2_p1_p2"]
    intrinsics = [k[0][0], k[1][1], k[0][2], k[1][2], *distortion, 0.0]
    width, height = facts["image_size_px"]
    return Profile(
        width=width, height=height, intrinsics=intrinsics, covariance=[[0.0] * 9] * 9, distortion_model="imported"
    )  # fmt: skip


def bay_of(table: dict[int, NDArray[np.float64]], ids: list[int], *, plane: bool = True) -> Bay:
    wall = CouplingPlane(point_mm=[0.0, 0.0, 0.0], normal=[0.0, 1.0, 0.0], u_mm=2.0)
    return Bay(
        schema="photomeasure/bay/1",
        dictionary="DICT_4X4_1000",
        markers=[Marker(id=i, corners_mm=table[i].tolist()) for i in ids],
        u_mm=1.0,
        coupling_plane=wall if plane else None,
    )


@cache
def seen_in(path: Path) -> View:
    """One photograph with every marker that it shows, found once."""
    photo = load(path)
    assert isinstance(photo, Photo)
    room = path.parent.parent
    table = corners_mm(room)
    markers = find_markers(photo.grey, bay_of(table, sorted(table)))
    assert isinstance(markers, SeenMarkers)
    kept = {seen.marker: seen.corners_px for seen in kept_sightings()[path.name] if seen.marker in table}
    names = [int(name.removeprefix("marker").split(".")[0]) for name in markers.names[::4]]
    for marker, px in zip(names, markers.px.reshape(-1, 4, 2), strict=True):
        # a marker too small to survey by is not kept
        assert marker not in kept or px == pytest.approx(kept[marker], abs=2e-3)
    assert set(kept) <= set(names)
    camera = camera_for(photo, profile(room), None)
    assert isinstance(camera, CameraPrior)
    return View(photo=photo, finding=Finding(sheets=(), codes=()), camera=camera, markers=markers)


def photographs(room: Path, step: int) -> list[Path]:
    return sorted((room / "photos").glob("*.JPG"))[::step]


def quads(view: View) -> dict[int, NDArray[np.float64]]:
    """(4, 2) corner pixels by marker id."""
    assert view.markers is not None
    first = list(enumerate(view.markers.names))[::4]
    return {int(name.removeprefix("marker").split(".")[0]): view.markers.px[i : i + 4] for i, name in first}


def crossing(quad: NDArray[np.float64]) -> NDArray[np.float64]:
    a, b, c, d = quad
    t = np.linalg.solve(np.stack([c - a, b - d], axis=1), b - a)[0]
    result: NDArray[np.float64] = a + t * (c - a)
    return result


def request_for(
    room: Path, paths: list[Path], px: list[NDArray[np.float64]], others: list[int], *, plane: bool
) -> Request:
    return Request(
        photos=tuple(paths),
        rule=default_rule("pin"),
        coupling="pin",
        pick_sigma_px=0.3,
        centres_px=tuple((float(p[0]), float(p[1])) for p in px),
        profile=profile(room),
        bay=bay_of(corners_mm(room), others, plane=plane),
    )


def held_out(
    room: Path,
    path: Path,
    px: NDArray[np.float64],
    others: list[int],
    *,
    table: dict[int, NDArray[np.float64]] | None = None,
    lens: NDArray[np.float64] | None = None,
) -> Estimate | Refusal:
    """The height of a picked point from the markers in `others` only; each photograph's markers are found once.

    table, lens: a bay and a camera in place of the published ones.
    """
    view = seen_in(path)
    table = corners_mm(room) if table is None else table
    assert view.markers is not None
    keep = np.array([int(name.removeprefix("marker").split(".")[0]) in others for name in view.markers.names])
    names = tuple(name for name, kept in zip(view.markers.names, keep, strict=True) if kept)
    seen_px, sigma_px = view.markers.px[keep], view.markers.sigma_px[keep]
    world_mm = np.concatenate([table[int(name.removeprefix("marker").split(".")[0])] for name in names[::4]])
    few = SeenMarkers(names=names, world_mm=world_mm, px=seen_px, sigma_px=sigma_px)
    bay = bay_of(table, others)
    assert bay.coupling_plane is not None
    scene = Scene(
        cameras=(view.camera if lens is None else replace(view.camera, mean=lens),),
        camera_of=(0,),
        markers=(few.view(0, bay.u_mm),),
        points=(PointView(photo=0, px=px, sigma_px=0.3, quantity="pick"),),
        priors=(plane_prior(bay.coupling_plane),),
        measurand={"centre.z": 1.0},
    )
    return estimate(scene)


def truth_mm(room: Path, marker: int) -> float:
    return float(corners_mm(room)[marker][:, 2].mean())


@pytest.mark.slow  # survey and picture of the same room: test_the_survey_made_here_predicts_a_marker_better_than_the_published_table
@pytest.mark.parametrize("step", [3, 2])
def test_one_marker_held_out_one_photograph(step: int) -> None:
    """Reference: what a plain OpenCV pipeline reached on these photographs, sd 1.0 mm and at most 3.8 mm off.

    Every third photograph, as the other tests here look at; every second, further ones among them, is slow.
    """
    room = folder("room-markers")
    errors, ratios = [], []
    for path in photographs(room, step):
        seen = quads(seen_in(path))
        for marker in [m for m in WALL if m in seen and len(seen) >= 4]:
            result = held_out(room, path, crossing(seen[marker]), [m for m in seen if m != marker])
            assert isinstance(result, Estimate)
            errors.append(result.height_mm - truth_mm(room, marker))
            ratios.append(errors[-1] / result.u_mm)
    assert len(errors) >= 200 // step
    assert np.std(errors) <= 1.2 and abs(np.mean(errors)) <= 0.3
    assert np.abs(errors).max() <= 4.5
    # not padded beyond reason either: the corner table was solved from these photographs, so 1 mm is part consistency
    assert np.mean(np.abs(ratios) <= 2.0) >= 0.93
    assert 0.4 <= float(np.sqrt(np.mean(np.square(ratios)))) <= 1.2


def test_the_survey_made_here_predicts_a_marker_better_than_the_published_table() -> None:
    """The bay as `photomeasure bay` solves it, with its own lens: held out sd <= 0.8 mm, at most 3 mm off."""
    room = folder("room-markers")
    found = room_solved(lens_known=False)
    table = on_its_wall({check.id: check.corners_mm for check in found.markers})
    errors = []
    for path in photographs(room, 3):
        seen = quads(seen_in(path))
        for marker in [m for m in WALL if m in seen and len(seen) >= 4]:
            others = [m for m in seen if m != marker]
            result = held_out(room, path, crossing(seen[marker]), others, table=table, lens=found.intrinsics)
            assert isinstance(result, Estimate)
            errors.append(result.height_mm - float(table[marker][:, 2].mean()))
    assert len(errors) >= 50
    assert np.std(errors) <= 0.8 and abs(np.mean(errors)) <= 0.3 and np.abs(errors).max() <= 3.0


def on_its_wall(table: dict[int, NDArray[np.float64]]) -> dict[int, NDArray[np.float64]]:
    """The same bay turned so that the wall's best plane is y = 0."""
    middles = np.array([table[marker].mean(axis=0) for marker in WALL])
    middle = middles.mean(axis=0)
    away = np.linalg.svd(middles - middle)[2][2]
    away = away if away[1] > 0 else -away
    up = np.array([0.0, 0.0, 1.0]) - away * away[2]
    up /= np.linalg.norm(up)
    rotation = np.array([np.cross(away, up), away, up])
    return {marker: (corners - middle) @ rotation.T for marker, corners in table.items()}


def test_a_single_small_marker_claims_no_more_than_it_knows() -> None:
    """One 100 mm marker at about 2.4 m leaves others 55-60 mm off: the interval has to cover that."""
    room = folder("room-markers")
    errors, u = [], []
    for path in photographs(room, 18):
        seen = quads(seen_in(path))
        for base in seen:
            for marker in [m for m in WALL if m in seen and m != base]:
                result = held_out(room, path, crossing(seen[marker]), [base])
                if isinstance(result, Estimate):
                    errors.append(result.height_mm - truth_mm(room, marker))
                    u.append(result.u_mm)
    assert len(errors) >= 60
    assert np.abs(errors).max() >= 40.0  # the case is really in here
    assert np.mean(np.abs(errors) <= 2.0 * np.array(u)) >= 0.93


def test_the_whole_command_on_one_and_on_several_photographs() -> None:
    """From files: one photograph with the wall as coupling plane, and two without any plane, by triangulation."""
    room = folder("room-markers")
    paths = photographs(room, 6)[1:3]
    shown = [quads(seen_in(path)) for path in paths]
    marker = next(m for m in WALL if all(m in seen for seen in shown))
    others = sorted({m for seen in shown for m in seen if m != marker})
    px = [crossing(seen[marker]) for seen in shown]
    for count, plane in ((1, True), (2, False)):
        outcome = measure(request_for(room, paths[:count], px[:count], others, plane=plane))
        assert isinstance(outcome, Result)
        error = outcome.estimate.height_mm - truth_mm(room, marker)
        assert abs(error) <= 2.0 * outcome.estimate.u_mm + 0.5
        assert outcome.estimate.u_mm < 8.0  # a mark on a pin: placed by eye, on the near side of the plane


def test_distances_between_points_are_those_of_the_tape() -> None:
    """Corner 0 to corner 0 along the wall, one photograph, both markers held out; the tape is independent.

    A plain OpenCV pipeline came out 1-6 mm off; the tape is good to about 5 mm.
    """
    room = folder("room-markers")
    with (room / "tape_distances_m.csv").open() as stream:
        table = [(int(row[0]), int(row[1]), 1000.0 * float(row[2])) for row in list(csv.reader(stream))[1:]]
    tapes = [(one, two, length) for one, two, length in table if {one, two} <= set(WALL)]
    off = []
    for one, two, tape_mm in tapes:
        for path in photographs(room, 3):
            seen = quads(seen_in(path))
            others = [m for m in seen if m not in (one, two)]
            if not {one, two} <= set(seen) or len(others) < 4:
                continue
            ends = [held_out(room, path, seen[marker][0], others) for marker in (one, two)]
            assert all(isinstance(end, Estimate) for end in ends)
            at = [
                np.array([end.value(f"centre.{axis}") for axis in "xyz"]) for end in ends if isinstance(end, Estimate)
            ]
            off.append(float(np.linalg.norm(at[0] - at[1])) - tape_mm)
    assert len(off) >= 8
    assert np.abs(off).max() <= 10.0 and abs(np.median(off)) <= 6.0
