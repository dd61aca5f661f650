"""The picture of a sphere: closed formulas and exact cone against geometry, OpenCV, scikit-image and a ray tracer.

A sphere's contour is the circle in which the tangents from the lens touch it: radius R sqrt(1 - R^2/|C|^2) about
C (1 - R^2/|C|^2), in the plane across C (elementary geometry). Projected by OpenCV it is the reference for everything
here.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from photomeasure.seen.centre.ball.sphere import outline_px, sight_line
from tests.scenes import Ball, Camera, Scene, ambient_only, light_on_sensor

Array = NDArray[np.float64]
FOCAL, PRINCIPAL, RADIUS = 3000.0, np.array([2000.0, 1500.0]), 25.0
PLACES = [(0.0, 0.0, 1500.0), (400.0, -250.0, 1500.0), (-900.0, 500.0, 2000.0), (30.0, 20.0, 120.0)]
STRAIGHT = np.array([FOCAL, FOCAL, *PRINCIPAL, 0.0, 0.0, 0.0, 0.0, 0.0])
BENT = np.array([FOCAL, 1.01 * FOCAL, *PRINCIPAL, 0.08, -0.06, 1e-3, -5e-4, 0.01])


def tangent_circle(centre: Array, count: int = 360) -> Array:
    """(count, 3) points of the sphere's contour."""
    shrink = 1.0 - RADIUS**2 / float(centre @ centre)
    forward = centre / np.linalg.norm(centre)
    right = np.cross([0.0, 1.0, 0.0], forward)
    right /= np.linalg.norm(right)
    turn = np.linspace(0.0, 2.0 * np.pi, count, endpoint=False)[:, None]
    across = np.cos(turn) * right + np.sin(turn) * np.cross(forward, right)
    return np.asarray(shrink * centre + RADIUS * np.sqrt(shrink) * across)


def reference_px(centre: Array, intrinsics: Array) -> Array:
    """The contour projected by OpenCV."""
    fx, fy, cx, cy = intrinsics[:4]
    camera = np.array([[fx, 0.0, cx], [0.0, fy, cy], [0.0, 0.0, 1.0]])
    points = tangent_circle(centre).reshape(-1, 1, 3)
    px, _ = cv2.projectPoints(points, np.zeros(3), np.zeros(3), camera, intrinsics[4:])
    return np.asarray(px, dtype=np.float64).reshape(-1, 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class OutlineEllipse:
    """The outline of a sphere in a picture without distortion.

    middle_px (2,): of the ellipse, which is not the picture of the sphere's centre: centre_px (2,). The radial
    semi-axis points at the principal point along radial_direction (2,), the tangential one lies across it.
    """

    middle_px: Array
    centre_px: Array
    radial_px: float
    tangential_px: float
    radial_direction: Array


def outline_ellipse(focal_px: float, principal_px: Array, centre_cam: Array, radius: float) -> OutlineEllipse:
    """Closed formulas for a sphere about centre_cam (3,) in front of a pinhole; ValueError where the outline is no ellipse.

    All rays that touch a sphere of radius R about C make the same angle alpha = asin(R / |C|) with C: a circular cone.
    With f the focal length in pixels and theta the angle between C and the optical axis, the cone's two rays in the
    plane through C and the axis meet the picture at f tan(theta - alpha) and f tan(theta + alpha), measured from the
    principal point. Half their sum and half their difference are the ellipse's middle and its radial semi-axis; with
    tan(t + a) +- tan(t - a) = sin 2t, sin 2a over cos(t + a) cos(t - a) and cos(t + a) cos(t - a) = cos^2 a - sin^2 t =
    D:

        middle = f sin theta cos theta / D      radial semi-axis = f sin alpha cos alpha / D
        tangential semi-axis = f sin alpha / sqrt(D)
        middle - f tan theta = f tan theta sin^2 alpha / D      (how far the middle lies outside the picture of C)

    The tangential one follows from the cone (d . c)^2 = cos^2 alpha |d|^2 with c = (sin theta, 0, cos theta) at d = (m,
    y, 1), m = middle / f. The conic itself is the dual of a quadric's: Hartley and Zisserman, Multiple View Geometry,
    2nd ed., 8.3 (from memory).
    """
    distance = float(np.linalg.norm(centre_cam))
    off_axis = float(np.hypot(centre_cam[0], centre_cam[1]))
    sin_a, sin_t, cos_t = radius / distance, off_axis / distance, float(centre_cam[2]) / distance
    d = 1.0 - sin_a**2 - sin_t**2
    if sin_a >= 1.0 or d <= 0.0 or cos_t <= 0.0:
        raise ValueError("the sphere reaches the plane of the lens: its outline is no ellipse")
    outward = centre_cam[:2] / off_axis if off_axis > 0.0 else np.array([1.0, 0.0])
    return OutlineEllipse(
        middle_px=principal_px + outward * (focal_px * sin_t * cos_t / d),
        centre_px=principal_px + outward * (focal_px * sin_t / cos_t),
        radial_px=focal_px * sin_a * float(np.sqrt(1.0 - sin_a**2)) / d,
        tangential_px=focal_px * sin_a / float(np.sqrt(d)),
        radial_direction=outward,
    )


def closed(place: tuple[float, float, float]) -> OutlineEllipse:
    return outline_ellipse(FOCAL, PRINCIPAL, np.array(place), RADIUS)


@pytest.mark.parametrize("place", PLACES)
def test_closed_formulas_are_the_ellipse_that_opencv_fits_to_the_projected_contour(
    place: tuple[float, float, float],
) -> None:
    ellipse = closed(place)
    points = reference_px(np.array(place), STRAIGHT) - ellipse.middle_px  # float32 inside: near the origin
    middle, axes, _ = cv2.fitEllipseDirect(points.astype(np.float32))
    np.testing.assert_allclose(middle, 0.0, atol=2e-3)
    np.testing.assert_allclose(sorted(axes), sorted([2 * ellipse.tangential_px, 2 * ellipse.radial_px]), rtol=1e-4)


@pytest.mark.parametrize("place", PLACES[1:])
def test_closed_formulas_are_the_conic_through_the_contour(place: tuple[float, float, float]) -> None:
    """The conic a x^2 + b x y + c y^2 + d x + e y + f = 0 by least squares of its terms; points are exact, so any norm will do.

    (scikit-image 0.26 fitted it with numpy up to 2.4 and fails with 2.5, whose `eig` answers in complex numbers.)
    """
    ellipse = closed(place)
    points = reference_px(np.array(place), STRAIGHT) - ellipse.middle_px
    size = np.abs(points).max()
    x, y = (points / size).T
    a, b, c, d, e, f = np.linalg.svd(np.column_stack([x * x, x * y, y * y, x, y, np.ones_like(x)]))[2][-1]
    form = np.array([[a, b / 2], [b / 2, c]])
    middle = np.linalg.solve(2 * form, [-d, -e])
    axes = np.sqrt((middle @ form @ middle - f) / np.linalg.eigvalsh(form)) * size
    np.testing.assert_allclose(middle * size, 0.0, atol=1e-6)
    np.testing.assert_allclose(sorted(axes), sorted([ellipse.tangential_px, ellipse.radial_px]), rtol=1e-7)


def test_the_ellipses_middle_is_not_the_picture_of_the_centre() -> None:
    """25 mm at 1 m, 20 degrees off the axis: f tan(theta) (r / z)^2 = 0.68 px to first order."""
    ellipse = closed((1000.0 * np.tan(np.deg2rad(20.0)), 0.0, 1000.0))
    offset = ellipse.middle_px - ellipse.centre_px
    assert offset[0] == pytest.approx(FOCAL * np.tan(np.deg2rad(20.0)) * (RADIUS / 1000.0) ** 2, rel=0.02)
    assert offset[1] == 0.0


def test_a_sphere_that_reaches_the_plane_of_the_lens_has_no_ellipse() -> None:
    with pytest.raises(ValueError, match="no ellipse"):
        outline_ellipse(FOCAL, PRINCIPAL, np.array([100.0, 0.0, 20.0]), RADIUS)


@pytest.mark.parametrize("intrinsics", [STRAIGHT, BENT])
@pytest.mark.parametrize("place", PLACES)
def test_the_cones_outline_is_the_projected_contour_with_and_without_distortion(
    place: tuple[float, float, float], intrinsics: Array
) -> None:
    centre = np.array(place)
    line = sight_line(centre, np.array([0.1, -1.0, 0.2]))
    got = outline_px(intrinsics, line, float(np.linalg.norm(centre)), RADIUS, np.linspace(0.0, 2 * np.pi, 720))
    wanted = reference_px(centre, intrinsics)
    # every reference point lies on the outline: distance to the finely drawn polygon
    start, step = got[:-1], np.diff(got, axis=0)
    along = np.clip(
        ((wanted[:, None] - start) * step).sum(axis=2) / (step**2).sum(axis=1), 0.0, 1.0
    )  # (reference, segments)
    gap = np.linalg.norm(wanted[:, None] - start - along[..., None] * step, axis=2).min(axis=1)
    # the polygon's own sagitta: r (1 - cos(0.25 degrees)) = 1e-5 r
    assert gap.max() < 2e-5 * np.ptp(wanted[:, 0]) + 1e-6


@pytest.mark.parametrize("place", [(0.0, 0.0, 1500.0), (500.0, -300.0, 1500.0)])
def test_the_ray_tracers_ball_has_the_area_and_the_middle_of_the_closed_formulas(
    place: tuple[float, float, float],
) -> None:
    ellipse = closed(place)
    corner = np.floor(ellipse.middle_px - 80.0)
    intrinsics = STRAIGHT.copy()
    intrinsics[2:4] -= corner
    camera = Camera(intrinsics=intrinsics, size_px=(160, 160), cam_from_world=np.eye(4))
    ball = Ball(centre_mm=np.array(place), diameter_mm=2 * RADIUS, finish="matt")
    light = light_on_sensor(Scene(cameras=(camera,), surfaces=(ball,), light=ambient_only()), samples=64)[..., 0]
    y, x = np.indices(light.shape)
    area = float(light.sum())
    middle = np.array([(light * x).sum(), (light * y).sum()]) / area + corner
    assert area == pytest.approx(np.pi * ellipse.radial_px * ellipse.tangential_px, rel=3e-4)
    np.testing.assert_allclose(middle, ellipse.middle_px, atol=3e-3)
