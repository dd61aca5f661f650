"""The model's geometry and its exact derivatives, for every kind of view.

Geometry against scipy's rotations and OpenCV's projection (neither is ours); derivatives against central differences.
"""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from calib.camera.camera import matrix
from calib.kit.sheet import FIRST_BARS_MM
from photomeasure.asked.bars import Bars
from photomeasure.scene.ground import side_priors
from photomeasure.scene.print_scale import print_priors
from photomeasure.scene.priors import ball_priors, ground_sheet_priors, sheet_priors, stand_priors, tag_priors
from photomeasure.scene.scene import (
    BAR_TURNS,
    OFFSET,
    SECOND_PRINT,
    SECOND_STANCE,
    CameraPrior,
    LineName,
    LineView,
    MarkerView,
    OutlineView,
    PlaneName,
    PlaneView,
    PointView,
    Scene,
    mount_of,
    offset_of,
)
from photomeasure.scene.second import Apart, second_print_priors, second_stance_priors
from photomeasure.solution.geometry import outline_px, pose_looking
from photomeasure.solution.model import intrinsics_of, layout, line_points, plane_points
from photomeasure.solution.rows import rows
from tests.points.simulate import BARS

CENTRE_MM = np.array([60.0, -15.0, 420.0])
CAMERA = CameraPrior(
    mean=np.array([2900.0, 2910.0, 1990.0, 1505.0, 0.05, -0.09, 4e-4, -3e-4, 0.03]),
    basis=np.diag([60.0, 55.0, 20.0, 20.0, 7e-3, 7e-3, 2e-4, 2e-4, 5e-3]),
    quantities=("camera profile",) * 9,
    size_px=(4000, 3000),
    kind="profile",
    source="invented",
    own=(2, 3),
)
LOCAL = np.array([[-80.0, 40.0], [85.0, 45.0], [70.0, 260.0], [-75.0, 250.0], [5.0, 130.0]])
LENSES = (np.array([-350.0, -1900.0, 600.0]), np.array([420.0, -2100.0, 900.0]))
LINES: tuple[LineName, ...] = ("ground", "rail")
SMALL = np.array([[-20.0, 20.0], [20.0, 20.0], [20.0, -20.0], [-20.0, -20.0]])


def plane_view(photo: int, plane: PlaneName, local: NDArray[np.float64]) -> PlaneView:
    return PlaneView(
        photo=photo,
        plane=plane,
        local_mm=local,
        px=np.full_like(local, 1500.0),
        sigma_px=np.linspace(0.02, 0.5, len(local)),
    )


def line_view(photo: int, line: LineName) -> LineView:
    return LineView(
        photo=photo,
        line=line,
        px=np.full((2, 2), 1500.0),
        sigma_px=np.array([0.8, 1.2]),
        quantity=f"marks on the {line}",
    )


def markers(photo: int, names: tuple[str, ...]) -> MarkerView:
    world = np.array([[300.0 * i - 400.0, 50.0 * (i % 2), 200.0 + 150.0 * i] for i in range(len(names))])
    return MarkerView(
        photo=photo,
        names=names,
        world_mm=world,
        px=np.full((len(names), 2), 1500.0),
        sigma_px=np.full(len(names), 0.4),
        u_mm=1.5,
    )


def everything(upright: PlaneName) -> tuple[Scene, NDArray[np.float64]]:
    """A scene with every kind of view in two photographs of one camera, and parameters away from anything special."""
    rng = np.random.default_rng(7)
    scene = Scene(
        cameras=(CAMERA,),
        camera_of=(0, 0),
        planes=(
            plane_view(0, upright, LOCAL),
            plane_view(1, upright, LOCAL),
            plane_view(0, "ground", LOCAL - [0.0, 300.0]),
            plane_view(1, "tag", SMALL),
            plane_view(0, "bar-tag", SMALL),
            replace(plane_view(1, "further-bar-tag", SMALL), tag=27),
            plane_view(1, "second-upright", LOCAL),
        ),
        points=tuple(
            PointView(photo=i, px=np.array([2000.0, 1500.0]), sigma_px=0.5, quantity="pick") for i in range(2)
        ),
        outlines=(OutlineView(photo=1, px=np.empty((0, 2)), sigma_px=np.empty(0)),),
        lines=tuple(line_view(photo, line) for photo in range(2) for line in LINES),
        markers=(markers(0, ("a.0", "a.1", "b.0", "c.0")), markers(1, ("a.0", "a.1", "d.0"))),
        priors=(
            *print_priors(BARS),
            *sheet_priors(),
            *stand_priors(),
            *ground_sheet_priors(),
            *tag_priors(),
            *ball_priors(50.0, (1,)),
            *side_priors(flat=True),
            *second_stance_priors(Apart(right_mm=400.0, away_mm=-60.0), flat=True, level_within_mm_per_m=None),
            *second_print_priors(Bars(), FIRST_BARS_MM),
        ),
        measurand={"centre.z": 1.0, "ground.rise": -1.0, "tag.placement": 1.0},
    )
    where = layout(scene)
    x = rng.normal(0.0, 0.02, len(where.names))
    x[where.at("print.x", "print.y")] = 0.985, 1.012
    x[where.at("centre.x", "centre.y", "centre.z")] = CENTRE_MM
    x[where.at("ball.radius", "ball.edge1", "sheet.gap", "flat.y")] = 24.8, 0.3, 0.4, -250.0
    x[where.at(*BAR_TURNS)], x[where.at(*OFFSET)] = (0.4, 0.1, -0.2), (90.0, -20.0, 45.0)
    x[where.at(*mount_of(27))], x[where.at(*offset_of(27))] = (-0.3, 0.2, 0.1), (120.0, 15.0, -30.0)
    if "stand.x" in where.index:
        x[where.at("stand.x", "stand.y", "stand.yaw")] = 120.0, -40.0, 0.3
    x[where.at(*SECOND_STANCE)] = 400.0, -60.0, 0.2, 0.01, -0.02, 1.4
    x[where.at(*SECOND_PRINT)] = 0.981, 1.007
    x[where.at("side.turn", "side.depth", "side.slope", "side.rise")] = 0.07, -250.0, 0.004, 1.5
    x[where.at("side.step", "side.height", "side.pitch")] = 90.0, 480.0, -0.03
    for photo in range(2):
        x[where.at(*line_view(photo, "ground").along, *line_view(photo, "rail").along)] = 300.0, 800.0, -100.0, 900.0
    for photo, lens in enumerate(LENSES):
        x[where.pose(photo)] = pose_looking(lens, np.array([20.0, 0.0, 300.0]))
    rotation, move = cv2.Rodrigues(x[where.pose(1)][:3])[0], x[where.pose(1)][3:]
    edge = outline_px(intrinsics_of(scene, where, x, 1), rotation @ CENTRE_MM + move, 26.0, 25)
    outline = OutlineView(photo=1, px=edge, sigma_px=np.full(25, 0.3))
    return replace(scene, outlines=(outline,)), x


@pytest.mark.parametrize("upright", ["upright", "upright-in-bay"])
def test_every_derivative_is_the_central_difference(upright: PlaneName) -> None:
    """All parameters of all kinds of view: sheets, tag, picks, outline, surveyed points seen once and twice, priors."""
    scene, x = everything(upright)
    where = layout(scene)
    exact = rows(scene, where, x)
    assert {"a.0.x", "a.1.z"} <= set(where.names) and "b.0.x" not in where.index  # only shared points have an unknown
    for column, name in enumerate(where.names):
        step = np.zeros(len(x))
        step[column] = 1e-6 * max(1.0, abs(x[column])) if name.startswith("photo") else 1e-5
        high, low = (rows(scene, where, x + sign * step).residual for sign in (1.0, -1.0))
        numeric = (high - low) / (2.0 * step[column])
        tolerance = 1e-6 * np.abs(numeric).max() + 1e-6
        assert np.abs(exact.jacobian[:, column] - numeric).max() < tolerance, name
        assert np.abs(numeric).max() > 0.0 or name in ("ground.rise",), f"{name} does nothing"


@pytest.mark.filterwarnings("error::RuntimeWarning")
def test_no_camera_sees_through_a_focal_length_below_nothing() -> None:
    """A step of the search may go there; it is no better place than any, and nothing is computed for it."""
    scene, x = everything("upright")
    where = layout(scene)
    focal = where.camera(scene, 0)[0]
    seen = x.copy()
    seen[focal] = -1.5 * CAMERA.mean[0] / CAMERA.basis[0, 0]
    assert intrinsics_of(scene, where, seen, 1)[0] < 0.0
    assert np.isinf(rows(scene, where, seen).residual).all() and np.isfinite(rows(scene, where, x).residual).all()


def projected(
    points: NDArray[np.float64], pose: NDArray[np.float64], intrinsics: NDArray[np.float64]
) -> NDArray[np.float64]:
    """(N, 2) pixels by OpenCV; pose (6,) rotation vector and translation."""
    px, _ = cv2.projectPoints(points, pose[:3], pose[3:], matrix(intrinsics), intrinsics[4:])
    return np.asarray(px, dtype=np.float64).reshape(-1, 2)


def seen_by_opencv(world: NDArray[np.float64], scene: Scene, x: NDArray[np.float64], photo: int) -> NDArray[np.float64]:
    where = layout(scene)
    pose, intrinsics = x[where.pose(photo)], intrinsics_of(scene, where, x, photo)
    return projected(world, pose, intrinsics)


def test_the_side_of_a_trailer_is_where_scipys_rotations_put_it() -> None:
    """A line along x is tilted nose-up about y, turned about z, and moved; its points are at steps of their own run."""
    scene, x = everything("upright")
    where = layout(scene)
    turn, depth, slope, rise, step, height, pitch = x[
        where.at("side.turn", "side.depth", "side.slope", "side.rise", "side.step", "side.height", "side.pitch")
    ]
    for line, angle, origin in (
        ("ground", slope, [0.0, depth, rise]),
        ("rail", slope + pitch, [0.0, depth + step, height]),
    ):
        view = line_view(0, line)  # type: ignore[arg-type]
        (points, _), _ = line_points(where, x, view)
        along = Rotation.from_euler("ZY", [turn, -angle]).apply([1.0, 0.0, 0.0])
        for name, point in zip(view.along, points, strict=True):
            run = x[where.index[name]] / np.cos(angle)
            assert point == pytest.approx(origin + run * along, abs=1e-9)
    (ground, _), _ = line_points(where, x, line_view(0, "ground"))
    (rail, _), _ = line_points(where, x, line_view(0, "rail"))

    def climb(points: NDArray[np.float64]) -> float:
        run = points[1] - points[0]
        return float(np.arctan2(run[2], np.hypot(run[0], run[1])))

    assert climb(rail) - climb(ground) == pytest.approx(pitch, abs=1e-12)


def test_the_sheets_stand_where_scipys_rotations_put_them_and_are_seen_as_opencv_sees_them() -> None:
    """World frame and directions as `photomeasure.scene.scene` states them: lean away from the viewer, then roll, yaw."""
    scene, x = everything("upright-in-bay")
    where = layout(scene)
    value = dict(zip(where.names, x.tolist(), strict=True))
    scale = np.array([value["print.x"], value["print.y"]])

    def flat(local: NDArray[np.float64]) -> NDArray[np.float64]:
        printed = local * scale
        return np.stack([printed[:, 0], np.zeros(len(local)), printed[:, 1]], axis=1)

    # intrinsic rotations in capital letters, first to last
    sheet = Rotation.from_euler("ZXY", [value["stand.yaw"], -value["sheet.lean"], value["sheet.roll"]])
    upright = sheet.apply(flat(LOCAL)) + np.array([value["stand.x"], value["stand.y"], value["sheet.gap"]])
    tag = Rotation.from_euler("ZXY", [value["tag.turn"], -value["tag.lean"], value["tag.roll"]])
    stuck = tag.apply(flat(SMALL)) + CENTRE_MM
    turned = Rotation.from_euler("ZXY", [value["second.yaw"], -value["second.lean"], value["second.roll"]])
    other = flat(LOCAL) / scale[[0, 0, 1]] * [value["second_print.x"], 0.0, value["second_print.y"]]
    second = turned.apply(other) + np.array([value["second.x"], value["second.y"], value["second.lift"]])
    for view, world in ((scene.planes[0], upright), (scene.planes[3], stuck), (scene.planes[-1], second)):
        (points, _), _ = plane_points(scene, where, x, view)
        assert points == pytest.approx(world, abs=1e-9)
    whitened = rows(scene, where, x).residual
    first = (scene.planes[0].px - seen_by_opencv(upright, scene, x, 0)) / scene.planes[0].sigma_px[:, None]
    assert whitened[: first.size] == pytest.approx(first.ravel(), rel=1e-8, abs=1e-6)


def test_a_sheet_that_leans_has_its_top_further_away() -> None:
    scene, _ = everything("upright")
    where = layout(scene)
    x = np.zeros(len(where.names))
    x[where.at("print.x", "print.y")] = 1.0
    x[where.index["sheet.lean"]] = np.radians(3.0)
    (points, _), _ = plane_points(scene, where, x, replace(scene.planes[0], local_mm=np.array([[0.0, 200.0]])))
    assert points[0] == pytest.approx([0.0, 200.0 * np.sin(np.radians(3.0)), 200.0 * np.cos(np.radians(3.0))])


def tangency_circle(centre_cam: NDArray[np.float64], radius_mm: float) -> NDArray[np.float64]:
    """(36, 3) points of a sphere where rays from the origin touch it: P with P.(P - C) = 0 and |P - C| = r."""
    length = float(np.linalg.norm(centre_cam))
    axis = centre_cam / length
    across = np.cross(axis, [0.3, 0.9, 0.1])
    across /= np.linalg.norm(across)
    around = np.linspace(0.0, 2.0 * np.pi, 36, endpoint=False)
    ring = np.cos(around)[:, None] * across + np.sin(around)[:, None] * np.cross(axis, across)
    ratio = radius_mm / length
    circle: NDArray[np.float64] = axis * length * (1.0 - ratio**2) + ring * radius_mm * np.sqrt(1.0 - ratio**2)
    return circle


@pytest.mark.parametrize("lens_mm", [(-350.0, -1900.0, 600.0), (900.0, -700.0, 1500.0)])
def test_tangent_rays_lie_on_the_outline(lens_mm: tuple[float, float, float]) -> None:
    """Points built from the definition of tangency, projected by OpenCV: the outline's residual is the edge's shift."""
    scene, x = everything("upright")
    where = layout(scene)
    pose = pose_looking(np.array(lens_mm), np.array([-200.0, 0.0, 300.0]))
    x[where.pose(1)] = pose
    centre = cv2.Rodrigues(pose[:3])[0] @ CENTRE_MM + pose[3:]
    touching = tangency_circle(centre, float(x[where.index["ball.radius"]]))
    assert np.abs((touching * (touching - centre)).sum(axis=1)).max() < 1e-6 * (centre @ centre)
    intrinsics = intrinsics_of(scene, where, x, 1)
    px = projected(touching, np.zeros(6), intrinsics)
    outline = OutlineView(photo=1, px=px, sigma_px=np.ones(len(px)))
    only = replace(scene, planes=(), points=(), markers=(), outlines=(outline,))
    names = layout(only)
    y = np.array([x[where.index[name]] for name in names.names])
    residual = rows(only, names, y).residual[: len(px)]
    assert residual == pytest.approx(np.full(len(px), float(x[where.index["ball.edge1"]])), abs=1e-6)


def test_the_outline_encloses_the_whole_sphere() -> None:
    """No point of the sphere's surface is seen outside the outline (brute force, projected by OpenCV)."""
    intrinsics = np.concatenate([CAMERA.mean[:4], np.zeros(5)])
    centre, radius = np.array([300.0, -200.0, 900.0]), 25.0
    ring = outline_px(intrinsics, centre, radius, 400)
    rng = np.random.default_rng(3)
    surface = rng.normal(size=(20_000, 3))
    surface = centre + radius * surface / np.linalg.norm(surface, axis=1, keepdims=True)
    px = projected(surface, np.zeros(6), intrinsics)
    middle = (intrinsics[:2] * centre[:2] / centre[2]) + intrinsics[2:4]
    # upper half only, where `outline_px` runs without a gap: compare the reach in each direction
    for low in np.arange(-3.0, -0.2, 0.2):
        reach = []
        for points in (px, ring):
            angle = np.arctan2(points[:, 1] - middle[1], points[:, 0] - middle[0])
            inside = (angle >= low) & (angle < low + 0.2)
            reach.append(np.linalg.norm(points[inside] - middle, axis=1).max())
        assert reach[0] <= reach[1] + 0.05 and reach[0] >= reach[1] - 0.3
