"""Simulated trailers seen from the side: sheet, ground line and rail, drawn from the priors or from something harsher.

The pixels of ground and rail are projected by OpenCV from points placed here, not by the model's own lines.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.camera.camera import matrix
from calib.kit.kit import kit
from photomeasure.asked.bars import Bars
from photomeasure.asked.level import LevelRequest
from photomeasure.asked.request import Request
from photomeasure.asked.state import State
from photomeasure.rules.load import default_rule
from photomeasure.scene.print_scale import bar_u_mm
from photomeasure.scene.priors import FOOT_ROLL_RAD, SQUARE_STAND_RAD
from photomeasure.scene.scene import CameraPrior, PlaneView, Scene
from photomeasure.seen.camera_by_exif import ExifFacts, camera_prior
from photomeasure.solution.geometry import pose_looking
from photomeasure.solution.level_scene import with_side
from photomeasure.solution.model import rotation_matrix
from photomeasure.solution.scene_of import of_sheets

DEG = np.pi / 180.0
Rng = np.random.Generator
Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """How a trailer is photographed, lengths in mm, angles in degrees; u: standard deviations drawn.

    distance_mm, lens_height_mm, aside_mm: of the lens from the sheet, low and high. along_mm: where the trailer begins and
    how long it is, from the sheet to the right. turn_u_deg: the sheet against the trailer; roll_u_deg: its foot line against the
    ground (stated as such). depth_mm: of the tyres before the sheet. second_mm: where a second sheet's foot stands, to the right
    of the first one's and away; its ground is off by slope_u, and the trailer's against the line between the feet by as much again.
    """

    distance_mm: tuple[float, float] = (4000.0, 7000.0)
    lens_height_mm: tuple[float, float] = (1200.0, 1700.0)
    aside_mm: tuple[float, float] = (500.0, 2500.0)
    turn_u_deg: float = 4.0
    roll_u_deg: float = FOOT_ROLL_RAD / DEG
    slope_u: float = 0.0015
    second_mm: tuple[float, float] | None = None
    depth_mm: tuple[float, float] = (-900.0, 50.0)
    step_mm: tuple[float, float] = (0.0, 250.0)
    rail_mm: tuple[float, float] = (450.0, 700.0)
    pitch_deg: tuple[float, float] = (-4.0, 4.0)
    corner_px: float = 0.05
    pick_px: float = 1.0
    size_px: tuple[int, int] = (4000, 3000)
    focal_u: float = 0.03
    photos: int = 1
    ground_sheet: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenSide:
    """What the estimator is given, and the pitch of the rail against the ground line, right end up positive."""

    scene: Scene
    asked: LevelRequest
    pitch_deg: float


def _turned(local: Array, lean: float, roll: float, gap: float, scale: tuple[float, float]) -> Array:
    """(N, 3) world points of an upright sheet: rolled in its plane, then leant back about the foot line."""
    x, z = local[:, 0] * scale[0], local[:, 1] * scale[1]
    rolled_x, rolled_z = x * np.cos(roll) + z * np.sin(roll), -x * np.sin(roll) + z * np.cos(roll)
    return np.stack([rolled_x, rolled_z * np.sin(lean), rolled_z * np.cos(lean) + gap], axis=1)


def _seen(world: Array, camera: CameraPrior, focal: float, centre: Array, k1: float, pose: Array) -> Array:
    intrinsics = camera.mean.copy()
    intrinsics[:2] = focal
    intrinsics[2:4] = centre
    px, _ = cv2.projectPoints(
        world, cv2.Rodrigues(rotation_matrix(pose[:3]))[0], pose[3:], matrix(intrinsics), np.array([k1, 0, 0, 0, 0.0])
    )
    return np.asarray(px.reshape(-1, 2), dtype=np.float64)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Second:
    """A second sheet as it stands, mm and radians; alike: its print's scale over the first one's."""

    at_mm: tuple[float, float]
    lean: float
    roll: float
    yaw: float
    lift_mm: float
    alike: tuple[float, float]

    def placed(self, points: Array) -> Array:
        """(N, 3) points about the middle of its foot line, in the world."""
        c, s = np.cos(self.yaw), np.sin(self.yaw)
        turned = points @ np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
        return np.asarray(turned + np.array([*self.at_mm, 0.0]), dtype=np.float64)


def _second(side: Side, at_mm: tuple[float, float], off: float, rng: Rng) -> tuple[_Second, float]:
    """A second sheet, and the slope of the trailer's ground: `off` against the line between the feet."""
    right, away = at_mm[0] + rng.normal(0.0, 100.0), at_mm[1] + rng.normal(0.0, 100.0)
    apart = np.hypot(right, away)
    between = rng.normal(0.0, side.slope_u) * apart
    second = _Second(
        at_mm=(right, away),
        lean=rng.normal(0.0, SQUARE_STAND_RAD),
        roll=rng.normal(0.0, FOOT_ROLL_RAD),
        yaw=rng.normal(0.0, 0.07),
        lift_mm=between + rng.uniform(-0.5, 0.5) + rng.exponential(0.2),
        alike=(1.0 + rng.normal(0.0, 0.001), 1.0 + rng.normal(0.0, 0.001)),
    )
    return second, float(off + between * right / apart**2)


def draw_side(side: Side, rng: Rng) -> SeenSide:
    """One trailer, photographed `side.photos` times."""
    pitch, slope = rng.uniform(*side.pitch_deg) * DEG, rng.normal(0.0, side.slope_u)
    turn, depth, step = rng.normal(0.0, side.turn_u_deg) * DEG, rng.uniform(*side.depth_mm), rng.uniform(*side.step_mm)
    rise, height = rng.normal(0.0, 1.0), rng.uniform(*side.rail_mm)
    second: _Second | None = None
    if side.second_mm is not None:
        second, slope = _second(side, side.second_mm, slope, rng)
    nose = rng.uniform(200.0, 700.0)
    camera = camera_prior(side.size_px, ExifFacts(focal_35mm=26.0))
    assert isinstance(camera, CameraPrior)
    focal = float(camera.mean[0]) * (1.0 + side.focal_u * rng.normal() * 0.7)
    scale = (1.0 + rng.normal(0.0, 0.01), 1.0 + rng.normal(0.0, 0.01))
    sheet = kit("a4").upright
    reading = tuple(mm * one + rng.normal(0.0, bar_u_mm(150.0)) for mm, one in zip(sheet.bars_mm, scale, strict=True))
    lean, roll = rng.normal(0.0, SQUARE_STAND_RAD), rng.normal(0.0, side.roll_u_deg * DEG)
    gap = rng.uniform(-0.5, 0.5)
    planes: list[PlaneView] = []
    ground_px: list[tuple[float, float]] = []
    rail_px: list[tuple[float, float]] = []
    for photo in range(side.photos):
        distance = rng.uniform(*side.distance_mm)
        lens = np.array([rng.uniform(*side.aside_mm), -distance, rng.uniform(*side.lens_height_mm)])
        looked_at = np.array([lens[0] + rng.normal(0, 200), 0.0, 700.0 + rng.normal(0, 100)])
        pose = pose_looking(lens, looked_at)
        centre = np.array(camera.mean[2:4]) + rng.normal(0.0, 0.003 * side.size_px[0], 2)
        k1 = rng.normal(0.0, 0.004)
        local = sheet.local_mm(sheet.points_mm)
        px = _seen(_turned(local, lean, roll, gap, scale), camera, focal, centre, k1, pose)
        noise = side.corner_px
        planes.append(
            PlaneView(
                photo=photo, plane="upright", local_mm=local, px=px + rng.normal(0.0, noise, px.shape),
                sigma_px=np.full(len(px), noise),
            )
        )  # fmt: skip
        if second is not None:
            local_scale = (scale[0] * second.alike[0], scale[1] * second.alike[1])
            world = second.placed(_turned(local, second.lean, second.roll, second.lift_mm, local_scale))
            px = _seen(world, camera, focal, centre, k1, pose)
            planes.append(replace(planes[-1], plane="second-upright", px=px + rng.normal(0.0, noise, px.shape)))
        first = nose + rng.uniform(600.0, 1200.0)
        ground_at = np.array([first, first + rng.uniform(1800.0, 2600.0)])  # a front and a rear contact, or so
        rail_at = nose + np.array([rng.uniform(200.0, 600.0), rng.uniform(2200.0, 3200.0)])
        for at, back, up, climb, marks in (
            (ground_at, depth, rise, np.tan(slope), ground_px),
            (rail_at, depth + step, height, np.tan(slope + pitch), rail_px),
        ):
            world = np.stack([at * np.cos(turn), back + at * np.sin(turn), up + at * climb], axis=1)
            seen = _seen(world, camera, focal, centre, k1, pose) + rng.normal(0.0, side.pick_px, (2, 2))
            marks += [(float(x), float(y)) for x, y in seen]
    bars = Bars(x_mm=reading[0], y_mm=reading[1])
    request = Request(photos=(), rule=default_rule("ball-50"), bars=bars, state=State(level_ground=True))
    asked = LevelRequest(request=request, ground_px=tuple(ground_px), rail_px=tuple(rail_px), pick_u_px=side.pick_px)
    seen_sheets = Scene(
        cameras=(camera,), camera_of=(0,) * side.photos, planes=tuple(planes), bars_mm=sheet.bars_mm,
        measurand={"photo0.tz": 1.0},
    )  # fmt: skip
    known = (
        replace(prior, u=side.roll_u_deg * DEG) if prior.quantity == "sheet roll" else prior
        for prior in of_sheets(seen_sheets, request)
    )
    sheets = replace(seen_sheets, priors=tuple(known))
    return SeenSide(scene=with_side(sheets, asked), asked=asked, pitch_deg=float(pitch / DEG))
