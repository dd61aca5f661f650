"""Drawn scenes hold what their condition says, and their truth is where the picture shows it.

Sources: cv2.projectPoints for the truth's pixels; the published spreads of phone lenses (quoted in `conditions`).
"""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from tests.draws import draws

from .camera import FloatArray, project, undistort
from .conditions import CONDITIONS
from .generate import draw_rig_scene
from .phone import draw_lens
from .printed import chequer_kit
from .scene import Scene, render
from .surfaces import Ball, Plane
from .trace import FIRST_SURFACE, Stage

KIT = chequer_kit()
SMALL = (1600, 1200)
GROUPS = [(name, coupled) for name in CONDITIONS for coupled in (False, True)]


def _draw(seed: int, condition: str, coupled: bool = False, size_px: tuple[int, int] = SMALL) -> Scene:
    return draw_rig_scene(np.random.default_rng(seed), condition=condition, kit=KIT, coupled=coupled, size_px=size_px)


def _seen(scene: Scene, photo: int, points_mm: FloatArray) -> NDArray[np.int64]:
    """Index of the surface that is seen where each world point projects; negative for ground and sky."""
    camera = scene.cameras[photo]
    stage = Stage(camera, scene.surfaces, scene.light, scene.ground, scene.backdrop, grey=True)
    rays = stage.rays(undistort(camera, project(camera, points_mm)).T)
    _, names = stage.identify(rays, range(len(scene.surfaces)))
    return names.astype(np.int64) - FIRST_SURFACE


def _grid_on(plane: Plane) -> FloatArray:
    w, h = plane.size_mm
    u, v = np.meshgrid(np.linspace(0.01, 0.99, 40), np.linspace(0.01, 0.99, 40))
    local = np.column_stack([u.ravel() * w, v.ravel() * h, np.zeros(u.size)])
    return np.asarray(local @ plane.world_from_plane[:3, :3].T + plane.world_from_plane[:3, 3])


def _upright(scene: Scene) -> tuple[int, Plane]:
    return next((i, s) for i, s in enumerate(scene.surfaces) if isinstance(s, Plane))


@pytest.mark.parametrize("count", draws(4, 8))
@pytest.mark.parametrize(("condition", "coupled"), GROUPS)
def test_what_is_measured_is_in_the_picture_and_not_hidden(condition: str, coupled: bool, count: int) -> None:
    for seed in range(count):
        scene = _draw(seed, condition, coupled)
        assert scene.truth is not None
        number, sheet = _upright(scene)
        ball = next(i for i, s in enumerate(scene.surfaces) if isinstance(s, Ball))
        for photo, camera in enumerate(scene.cameras):
            room = np.array(camera.size_px)
            grid = _grid_on(sheet)
            for px in (project(camera, grid), project(camera, scene.truth.centre_mm)):
                assert (px > 10).all() and (px < room - 10).all()
            share = np.mean(_seen(scene, photo, grid) == number)
            wanted = 1.0 - CONDITIONS[condition].hidden_share
            # Of a coupled rig that is seen from above, the drawbar may hide the sheet's top.
            assert share == pytest.approx(wanted, abs=0.25 if coupled else 0.02)
            if not coupled:
                assert _seen(scene, photo, scene.truth.centre_mm[None])[0] == ball


@pytest.mark.parametrize("condition", CONDITIONS)
def test_the_camera_stands_where_the_condition_says(condition: str) -> None:
    group = CONDITIONS[condition]
    for seed in range(10):
        scene = _draw(seed, condition)
        assert scene.truth is not None
        for camera in scene.cameras:
            x, y, z = camera.position_mm
            assert group.distance_mm[0] - 1 <= np.hypot(x, y) <= group.distance_mm[1] + 1
            if group.photos == 1:
                yaw_deg = abs(np.degrees(np.arctan2(x, -y)))
                assert group.yaw_deg[0] - 1e-6 <= yaw_deg <= group.yaw_deg[1] + 1e-6
            if group.above_mm is None:
                assert group.lens_mm[0] <= z <= group.lens_mm[1]
            else:
                assert abs(z - scene.truth.centre_mm[2]) <= 150.0 + 1e-6


def test_the_truth_is_the_height_above_the_ground_below_and_projects_as_the_reference_library_says() -> None:
    scene = _draw(3, "ground-set")
    assert scene.truth is not None and scene.ground is not None and len(scene.cameras) == 3
    x, y, z = scene.truth.centre_mm
    assert z - scene.ground.z_mm(x, y) == pytest.approx(scene.truth.height_mm, abs=1e-9)
    for photo, camera in enumerate(scene.cameras):
        turn, _ = cv2.Rodrigues(camera.rotation)
        wanted, _ = cv2.projectPoints(
            scene.truth.centre_mm.reshape(1, 1, 3),
            turn,
            camera.cam_from_world[:3, 3],
            camera.matrix,
            camera.intrinsics[4:],
        )
        np.testing.assert_allclose(scene.centre_px(photo=photo), wanted.ravel(), atol=1e-7)


def test_a_chat_copy_keeps_its_truth_in_the_small_picture() -> None:
    scene = draw_rig_scene(np.random.default_rng(5), condition="chat", kit=KIT)
    assert scene.exif is None and scene.truth is not None
    large = project(scene.cameras[0], scene.truth.centre_mm)[0]
    # Area average by 2.5: the outer edges of the picture coincide, pixel (0, 0) is a pixel's centre.
    np.testing.assert_allclose(scene.centre_px(), (large + 0.5) / 2.5 - 0.5, atol=1e-9)


def test_page_points_of_the_sheet_lie_where_the_picture_shows_its_corners() -> None:
    scene = _draw(11, "followed")
    look = replace(scene.look, grey=True, shot=0.0, read=0.0, sharpen=0.0, motion_px=0.0)
    image = render(scene, look, np.random.default_rng(0))
    inner = np.array([[10.0 + 24.0 * i, 10.0 + 24.0 * j] for i in range(1, 8) for j in range(1, 11)])
    wanted = scene.picture_px(scene.sheet("upright").world_mm(inner))
    start = wanted.astype(np.float32).reshape(-1, 1, 2)
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 40, 1e-4)
    found = cv2.cornerSubPix(image, start, (3, 3), (-1, -1), stop).reshape(-1, 2)
    assert np.abs(np.median(found - wanted, axis=0)).max() < 0.03
    assert np.sqrt(np.mean(np.square(found - wanted))) < 0.15


def test_the_same_seed_gives_the_same_picture() -> None:
    size_px = (800, 600)
    look = replace(_draw(4, "shadow", size_px=size_px).look, grey=True, samples=4)
    first, again = (render(_draw(4, "shadow", size_px=size_px), look, np.random.default_rng(9)) for _ in range(2))
    np.testing.assert_array_equal(first, again)


def test_an_unknown_condition_is_an_error() -> None:
    with pytest.raises(ValueError, match="followed"):
        _draw(0, "moonlight")


def test_lenses_spread_as_published() -> None:
    rng = np.random.default_rng(6)
    shifts, off_x, units = [], [], []
    for _ in range(600):
        lens, exif = draw_lens(rng, (4000, 3000))
        r = np.linspace(0.0, 0.8 * 2500.0 / lens[0], 100)
        shifts.append(lens[0] * np.abs(r**3 * (lens[4] + lens[5] * r * r)).max())
        off_x.append(abs(lens[2] - 1999.5) / 4000.0)
        # 35 mm-equivalent by the diagonals (CIPA DCG-001, from memory)
        units.append(lens[0] / (float(exif["FocalLength"]) / 0.22 / np.hypot(36, 24) * 5000.0))
    assert np.median(shifts) == pytest.approx(5.4, rel=0.15)
    assert np.quantile(shifts, 0.1) == pytest.approx(2.5, rel=0.2)
    assert np.quantile(shifts, 0.9) == pytest.approx(12.7, rel=0.2)
    assert 0.0033 * 0.85 < np.median(off_x) < 0.0044 * 1.1
    assert np.quantile(off_x, 0.9) == pytest.approx(0.014, rel=0.2)
    assert np.std(units) == pytest.approx(0.03, rel=0.12)
