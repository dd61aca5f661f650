"""The renderer is exact: against the reference library's projection and against closed forms.

Sources: cv2.projectPoints (OpenCV); the outline of a sphere as the image of a quadric, Hartley and
Zisserman, Multiple View Geometry, 2nd ed., section 8.3 (from memory); area and centroid of a polygon by the
shoelace formula.
"""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import least_squares
from scipy.special import erf

from .camera import Camera, FloatArray, TileRays, pose_looking_at, project, undistort
from .ground import Ground
from .light import ambient_only
from .scene import Scene, light_on_sensor
from .surfaces import Ball, Plane, Surface, frame
from .trace import lattice

STRAIGHT = [900.0, 900.0, 330.3, 241.2, 0.0, 0.0, 0.0, 0.0, 0.0]
BENT = [900.0, 903.0, 330.3, 241.2, 0.06, -0.05, 4e-4, -3e-4, 0.01]


def _camera(intrinsics: list[float], size_px: tuple[int, int] = (640, 480)) -> Camera:
    pose = pose_looking_at([400.0, -1500.0, 700.0], [30.0, 0.0, 200.0], roll_rad=0.03)
    return Camera(intrinsics=np.array(intrinsics), size_px=size_px, cam_from_world=pose)


def _reference_px(camera: Camera, points_mm: FloatArray) -> FloatArray:
    turn, _ = cv2.Rodrigues(camera.rotation)
    shift = camera.cam_from_world[:3, 3]
    px, _ = cv2.projectPoints(points_mm.reshape(-1, 1, 3), turn, shift, camera.matrix, camera.intrinsics[4:])
    return np.asarray(px, dtype=np.float64).reshape(-1, 2)


def _light(camera: Camera, *surfaces: Surface, samples: int = 25, ground: Ground | None = None) -> FloatArray:
    scene = Scene(cameras=(camera,), surfaces=surfaces, light=ambient_only(), ground=ground)
    return light_on_sensor(scene, samples=samples)[..., 0].astype(np.float64)


def _white(width_mm: int, height_mm: int) -> NDArray[np.uint8]:
    return np.full((height_mm, width_mm), 255, dtype=np.uint8)


def _moments(image: FloatArray) -> tuple[float, FloatArray]:
    """Area and centroid of what shines."""
    y, x = np.indices(image.shape)
    area = float(image.sum())
    return area, np.array([(x * image).sum(), (y * image).sum()]) / area


@pytest.mark.parametrize("intrinsics", [STRAIGHT, BENT])
def test_projection_is_the_reference_librarys(intrinsics: list[float]) -> None:
    rng = np.random.default_rng(1)
    points = rng.uniform([-500, -300, 0], [500, 300, 700], size=(200, 3))
    camera = _camera(intrinsics)
    np.testing.assert_allclose(project(camera, points), _reference_px(camera, points), atol=1e-8)


def test_undistorting_and_projecting_again_gives_the_pixel_back() -> None:
    camera = _camera(BENT)
    rng = np.random.default_rng(2)
    pixels = rng.uniform([-0.5, -0.5], [639.5, 479.5], size=(500, 2))
    ideal = undistort(camera, pixels)
    rays = np.column_stack([ideal, np.ones(len(ideal))])
    back, _ = cv2.projectPoints(rays.reshape(-1, 1, 3), np.zeros(3), np.zeros(3), camera.matrix, camera.intrinsics[4:])
    np.testing.assert_allclose(back.reshape(-1, 2), pixels, atol=1e-7)


def test_rays_of_a_tile_are_newtons_within_a_millionth_of_a_pixel() -> None:
    camera = _camera([3000.0, 3000.0, 2010.0, 1480.0, 0.05, -0.04, 5e-4, -5e-4, 0.02], (4000, 3000))
    for x0, y0 in ((0, 0), (3744, 2744), (1920, 1400)):
        got = TileRays.of(camera, x0, y0, 256, 256).at(0.31, -0.44).reshape(2, -1).T
        y, x = np.indices((256, 256)).reshape(2, -1)
        wanted = undistort(camera, np.column_stack([x0 + x + 0.31, y0 + y - 0.44]))
        assert np.abs(got - wanted).max() * 3000.0 < 1e-6


def test_a_distortion_that_folds_over_is_an_error() -> None:
    camera = _camera([300.0, 300.0, 320.0, 240.0, -0.9, 0.0, 0.0, 0.0, 0.0])
    with pytest.raises(ArithmeticError, match="distortion"):
        undistort(camera, [[0.0, 0.0]])


@pytest.mark.parametrize("samples", [4, 16, 25, 64])
def test_the_lattice_is_centred_and_uses_each_row_and_column_once(samples: int) -> None:
    points = lattice(samples)
    mirrored = -points[::-1]
    np.testing.assert_allclose(mirrored[np.argsort(mirrored[:, 0])], points, atol=1e-12)
    for axis in (0, 1):
        ranks = np.sort(np.rint((points[:, axis] + 0.5) * samples - 0.5))
        np.testing.assert_array_equal(ranks, np.arange(samples))


@pytest.mark.parametrize("tilt", [0.0, 0.007, 0.3])
def test_a_rectangles_light_and_its_centre_are_the_projected_polygons(tilt: float) -> None:
    camera = _camera(STRAIGHT)
    plane = Plane(
        texture=_white(210, 297),
        mm_per_texel=(1.0, 1.0),
        world_from_plane=frame([-60.0, 20.0, 40.0], [1.0, 0.1, tilt], [0.0, 0.1, 1.0]),
        reflectance=(0.0, 1.0),
    )
    x, y = project(camera, plane.corners_mm()).T
    cross = x * np.roll(y, -1) - np.roll(x, -1) * y  # shoelace
    area = 0.5 * cross.sum()
    centroid = np.array([((x + np.roll(x, -1)) * cross).sum(), ((y + np.roll(y, -1)) * cross).sum()]) / (6.0 * area)
    got_area, got_centroid = _moments(_light(camera, plane))
    assert got_area == pytest.approx(abs(area), rel=2e-4)
    np.testing.assert_allclose(got_centroid, centroid, atol=2e-3)


@pytest.mark.parametrize("place", [(0.0, 0.0, 200.0), (-250.0, 50.0, 420.0), (350.0, -300.0, 60.0)])
def test_a_balls_light_and_its_centre_are_the_outline_conics(place: tuple[float, float, float]) -> None:
    camera = _camera(STRAIGHT)
    ball = Ball(centre_mm=np.array(place), diameter_mm=100.0, finish="matt")
    centre = camera.rotation @ ball.centre_mm + camera.cam_from_world[:3, 3]
    # The rays tangent to the ball: (c.d)^2 = (|c|^2 - r^2) |d|^2; in pixels a conic x' C x = 0.
    cone = np.outer(centre, centre) - (centre @ centre - 50.0**2) * np.eye(3)
    inverse = np.linalg.inv(camera.matrix)
    conic = inverse.T @ cone @ inverse
    square = conic[:2, :2]
    middle = np.linalg.solve(square, -conic[:2, 2])
    level = conic[2, 2] + conic[:2, 2] @ middle
    area = np.pi * abs(level) / np.sqrt(np.linalg.det(square))
    for samples, tolerance_px in ((25, 0.01), (101, 0.002)):  # it converges to the closed form
        got_area, got_middle = _moments(_light(camera, ball, samples=samples))
        assert got_area == pytest.approx(area, rel=1e-3)
        np.testing.assert_allclose(got_middle, middle, atol=tolerance_px)


def _chequer(texels_per_square: int, squares: int) -> NDArray[np.uint8]:
    y, x = np.indices((squares * texels_per_square, squares * texels_per_square)) // texels_per_square
    return np.asarray(((x + y) % 2) * 255, dtype=np.uint8)


def _saddle_px(image: FloatArray, start_px: FloatArray, directions: FloatArray, radius_px: int) -> FloatArray:
    """Where m + a erf(d1 / s) erf(d2 / s) fits best; directions (2, 2) start the two edges' directions."""
    x0, y0 = np.rint(start_px).astype(int)
    patch = image[y0 - radius_px : y0 + radius_px + 1, x0 - radius_px : x0 + radius_px + 1]
    y, x = np.indices(patch.shape) + np.array([y0 - radius_px, x0 - radius_px])[:, None, None]
    angles = np.arctan2(directions[:, 1], directions[:, 0])

    def misfit(p: FloatArray) -> FloatArray:
        d1 = -np.sin(p[2]) * (x - p[0]) + np.cos(p[2]) * (y - p[1])
        d2 = -np.sin(p[3]) * (x - p[0]) + np.cos(p[3]) * (y - p[1])
        return np.asarray((p[4] + p[5] * erf(d1 / p[6]) * erf(d2 / p[6]) - patch).ravel())

    sign = np.sign(patch[0, radius_px] - patch[radius_px, 0] + 1e-9)
    fits = [least_squares(misfit, [*start_px, *angles, 0.5, 0.5 * s * sign, 0.6], method="lm") for s in (1, -1)]
    return np.asarray(min(fits, key=lambda fit: fit.cost).x[:2])


@pytest.mark.parametrize("intrinsics", [STRAIGHT, BENT])
@pytest.mark.parametrize("roll", [0.0, 0.02])
def test_saddles_of_a_chequer_lie_where_the_reference_library_puts_them(intrinsics: list[float], roll: float) -> None:
    camera = _camera([v * 2.0 for v in intrinsics[:4]] + intrinsics[4:], (1280, 960))
    plane = Plane(
        texture=_chequer(200, 6),
        mm_per_texel=(0.15, 0.15),
        world_from_plane=frame([-90.0, 0.0, 100.0], [1.0, 0.0, roll], [0.0, 0.05, 1.0]),
        reflectance=(0.0, 1.0),
    )
    image = np.asarray(cv2.GaussianBlur(_light(camera, plane), (15, 15), 1.6), dtype=np.float64)
    world = plane.world_from_plane
    inner = np.array([[i, j, 0.0] for i in range(1, 6) for j in range(1, 6)]) * [30.0, 30.0, 0.0]
    centres = _reference_px(camera, inner @ world[:3, :3].T + world[:3, 3])
    errors = []
    for local, centre in zip(inner, centres, strict=True):
        steps = local + np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
        ends = _reference_px(camera, steps @ world[:3, :3].T + world[:3, 3])
        errors.append(_saddle_px(image, centre, ends - centre, 6) - centre)
    rms = np.sqrt(np.mean(np.square(errors)))
    # The model takes its two edges for square to each other, which costs it some thousandths of a pixel.
    assert rms < 0.006
    assert np.abs(np.mean(errors, axis=0)).max() < 0.0025


def test_what_is_nearer_hides_what_is_behind() -> None:
    camera = _camera(STRAIGHT)
    wall = Plane(
        texture=_white(400, 400),
        mm_per_texel=(1.0, 1.0),
        world_from_plane=frame([-200.0, 100.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]),
        reflectance=(0.0, 1.0),
    )
    ball = Ball(centre_mm=np.array([0.0, 0.0, 200.0]), diameter_mm=80.0, finish="black")
    x, y = np.rint(project(camera, ball.centre_mm)[0]).astype(int)
    assert _light(camera, wall)[y, x] == pytest.approx(1.0)
    assert _light(camera, wall, ball)[y, x] < 0.2
    behind = Ball(centre_mm=np.array([0.0, 300.0, 130.0]), diameter_mm=80.0, finish="black")
    np.testing.assert_array_equal(_light(camera, wall, behind), _light(camera, wall))


@pytest.mark.parametrize("place", [(0.0, 0.0), (250.0, -180.0)])
def test_rays_meet_a_sloped_and_bumped_ground_on_it(place: tuple[float, float]) -> None:
    ground = Ground(slope_x=0.01, slope_y=-0.02, bump_mm=5.0, bump_at_mm=(100.0, 0.0), bump_radius_mm=300.0)
    target = np.array([*place, ground.z_mm(*place)])
    origin = np.array([200.0, -1800.0, 600.0])
    t = ground.hit(origin[:, None], (target - origin)[:, None])
    assert t[0] == pytest.approx(1.0, abs=1e-6)
