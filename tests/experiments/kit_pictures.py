"""Pictures of one sheet with exact truth, condition by condition.

Only the part of the photograph around the sheet is made; sizes, lens and shrinking are those of the whole photograph.
The numbers of a phone's look are common practice, no source; they bracket what the design asks a sheet to survive.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.experiments.kit_designs import TEXELS_PER_MM, Design
from tests.scenes import Camera, Look, encode_jpeg, frame, pose_looking_at, project
from tests.scenes.camera import FloatArray
from tests.scenes.sensor import _optics, delivered_px, develop

SENSORS_PX = {12: (4000, 3000), 50: (8160, 6144)}
FOCAL_35MM = 26.0
SHRUNK_PX = 1600
SUPER = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition:
    """What is difficult about a picture; distances in metres, drawn evenly between both.

    defocus_px: Gaussian blur that is added, on the sensor.
    """

    name: str
    near_m: float
    far_m: float
    megapixels: int = 12
    shrunk: bool = False
    sun: bool = False
    shadow: bool = False
    yaw_deg: float = 0.0
    hidden: float = 0.0
    defocus_px: float = 0.0


def _at(name: str, metres: float, **more: float | bool) -> Condition:
    return Condition(name=name, near_m=metres, far_m=metres, **more)  # type: ignore[arg-type]


CONDITIONS = (
    _at("12 MP 1.5 m", 1.5),
    _at("12 MP 2.5 m", 2.5),
    _at("12 MP 4 m", 4.0),
    _at("50 MP 2.5 m", 2.5, megapixels=50),
    _at("1600 px 1.5 m", 1.5, shrunk=True),
    _at("1600 px 2.5 m", 2.5, shrunk=True),
    _at("1600 px 4 m", 4.0, shrunk=True),
    Condition(name="12 MP sun", near_m=2.0, far_m=4.0, sun=True),
    Condition(name="1600 px sun", near_m=2.0, far_m=4.0, sun=True, shrunk=True),
    Condition(name="1600 px half in shadow", near_m=2.0, far_m=4.0, shadow=True, shrunk=True),
    Condition(name="1600 px yaw 30", near_m=2.0, far_m=4.0, yaw_deg=30.0, shrunk=True),
    Condition(name="1600 px fifth hidden", near_m=2.0, far_m=4.0, hidden=0.2, shrunk=True),
    Condition(
        name="1600 px all at once",
        near_m=2.0,
        far_m=4.0,
        sun=True,
        shadow=True,
        yaw_deg=30.0,
        hidden=0.2,
        shrunk=True,
    ),
    Condition(name="1600 px out of focus", near_m=3.5, far_m=4.0, shrunk=True, defocus_px=3.2),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A part of a photograph.

    grey: (h, w) uint8; truth_px: (N, 2) of the sheet's points; visible: (N,) not covered;
    long_side_px: of the whole photograph, which decides how far it is shrunk before codes are looked for.
    """

    grey: NDArray[np.uint8]
    truth_px: FloatArray
    visible: NDArray[np.bool_]
    long_side_px: int


def _cover(design: Design, share: float, rng: np.random.Generator) -> tuple[float, float, float, float]:
    """A rectangle (left, bottom, right, top), page mm, over a share of the printed area: edge, corner or strip."""
    board = design.board
    left, right = board.left_mm, board.left_mm + board.columns * board.cell_mm
    bottom, top = board.bottom_mm, board.bottom_mm + board.rows * board.cell_mm
    wide, high = right - left, top - bottom
    kind = rng.integers(3)
    if kind == 0:  # a corner
        a = rng.uniform(0.35, 0.57)
        w, h = a * wide, share / a * high
        x = left if rng.random() < 0.5 else right - w
        y = bottom if rng.random() < 0.5 else top - h
        return x, y, x + w, y + h
    upright = rng.random() < 0.5
    w, h = (share * wide, high) if upright else (wide, share * high)
    place = rng.choice([0.0, 1.0]) if kind == 1 else rng.uniform(0.0, 1.0)
    x, y = (left + place * (wide - w), bottom) if upright else (left, bottom + place * (high - h))
    return x, y, x + w, y + h


def _look(condition: Condition, rng: np.random.Generator) -> Look:
    fine = np.sqrt(condition.megapixels / 12.0)
    bright = rng.uniform(1.6, 3.0) if condition.sun else rng.uniform(0.55, 0.85)
    return Look(
        exposure=bright,
        vignetting=0.2,
        blur_px=float(np.hypot(rng.uniform(0.6, 1.1) * fine, condition.defocus_px)),
        halo=rng.uniform(0.10, 0.20) if condition.sun else rng.uniform(0.01, 0.04),
        halo_px=rng.uniform(5.0, 12.0) * fine,
        motion_px=rng.uniform(0.0, 1.5) * fine,
        motion_rad=rng.uniform(0.0, np.pi),
        shot=rng.uniform(1e-4, 6e-4) * fine,
        read=rng.uniform(0.002, 0.006) * fine,
        gamma=2.2,
        contrast=rng.uniform(0.1, 0.4),
        sharpen=rng.uniform(0.3, 1.0),
        sharpen_px=1.2 * fine,
    )


def _camera(condition: Condition, rng: np.random.Generator) -> Camera:
    width, height = SENSORS_PX[condition.megapixels]
    focal = FOCAL_35MM / 36.0 * width * rng.normal(1.0, 0.02)
    distance = 1000 * rng.uniform(condition.near_m, condition.far_m)
    yaw = np.deg2rad(condition.yaw_deg * rng.choice([-1.0, 1.0]) + rng.normal(0.0, 4.0))
    lens = [distance * np.sin(yaw), -distance * np.cos(yaw), rng.uniform(300.0, 1500.0)]
    aim = [rng.normal(0.0, 0.12) * distance, 0.0, rng.uniform(150.0, 550.0)]
    return Camera(
        intrinsics=np.array([focal, focal, width / 2, height / 2, 0.0, 0.0, 0.0, 0.0, 0.0]),
        size_px=(width, height),
        cam_from_world=pose_looking_at(lens, aim, roll_rad=np.deg2rad(rng.normal(0.0, 3.0))),
    )


def _printed(
    design: Design, condition: Condition, rng: np.random.Generator
) -> tuple[NDArray[np.float32], NDArray[np.bool_]]:
    """Light from the page, 1 = white paper in full light, in texels; and which points are not covered."""
    page = (0.05 + 0.95 / 255.0 * design.texture).astype(np.float32)
    visible = np.ones(len(design.sheet.points_mm), dtype=bool)
    if condition.hidden:
        left, bottom, right, top = _cover(design, condition.hidden, rng)
        rows = slice(round((297 - top) * TEXELS_PER_MM), round((297 - bottom) * TEXELS_PER_MM))
        page[rows, round(left * TEXELS_PER_MM) : round(right * TEXELS_PER_MM)] = rng.uniform(0.03, 0.9)
        x, y = design.sheet.points_mm.T
        visible = ~((x > left - 4) & (x < right + 4) & (y > bottom - 4) & (y < top + 4))
    if condition.shadow:
        turn = rng.uniform(0.0, 2 * np.pi)
        y, x = np.ogrid[: page.shape[0], : page.shape[1]]
        across = (x / TEXELS_PER_MM - 105 - rng.normal(0.0, 25.0)) * np.cos(turn)
        depth = (across + (y / TEXELS_PER_MM - 140 - rng.normal(0.0, 25.0)) * np.sin(turn)) / rng.uniform(2.0, 20.0)
        page *= np.float32(1.0) - np.float32(rng.uniform(0.7, 0.85)) * np.clip(depth + 0.5, 0, 1).astype(np.float32)
    return page, visible


def _background(shape: tuple[int, int], rng: np.random.Generator) -> NDArray[np.float32]:
    """Clutter of several sizes."""
    level = np.full(shape, rng.uniform(0.15, 0.5), dtype=np.float32)
    for size in (4, 16, 64):
        rough = rng.standard_normal((shape[0] // size + 2, shape[1] // size + 2), dtype=np.float32)
        level *= 1 + 0.2 * cv2.resize(rough, shape[::-1], interpolation=cv2.INTER_LINEAR)
    return np.asarray(np.clip(level, 0.02, 1.2))


def _light_on_sensor(
    page: NDArray[np.float32], part: Camera, world_from_page: FloatArray, rng: np.random.Generator
) -> NDArray[np.float32]:
    """The page through the pinhole, SUPER x SUPER rays a pixel, each on a page already averaged to a ray's width."""
    corners = np.array([[0.0, 0.0], [210.0, 0.0], [210.0, 297.0], [0.0, 297.0]])
    seen = project(part, corners @ world_from_page[:3, :2].T + world_from_page[:3, 3])
    px_per_mm = np.linalg.norm(seen[3] - seen[0]) / 297
    while SUPER * px_per_mm < 0.6 * page.shape[1] / 210:
        page = cv2.resize(page, (page.shape[1] // 2, page.shape[0] // 2), interpolation=cv2.INTER_AREA)  # type: ignore[assignment]
    texels = np.array([page.shape[1] / 210, page.shape[0] / 297])
    source = (corners * [1, -1] + [0, 297]) * texels - 0.5
    target = (seen + 0.5) * SUPER - 0.5
    matrix, _ = cv2.findHomography(source, target, 0)
    width, height = part.size_px
    size = (width * SUPER, height * SUPER)
    canvas = cv2.resize(_background((height, width), rng), size, interpolation=cv2.INTER_NEAREST)
    cv2.warpPerspective(page, matrix, size, canvas, cv2.INTER_LINEAR, cv2.BORDER_TRANSPARENT)
    return np.asarray(cv2.resize(canvas, (width, height), interpolation=cv2.INTER_AREA), dtype=np.float32)


def _cropped(camera: Camera, corners_px: FloatArray) -> Camera:
    """The part of the picture around the sheet, on a grid on which shrinking by 0.4 stays whole."""
    low, high = corners_px.min(axis=0), corners_px.max(axis=0)
    pad = 0.15 * (high - low).max()
    start = np.floor((low - pad) / 15).astype(int) * 15
    size = np.ceil((high + pad - start) / 15).astype(int) * 15
    intrinsics = camera.intrinsics.copy()
    intrinsics[2:4] -= start
    return Camera(intrinsics=intrinsics, size_px=(int(size[0]), int(size[1])), cam_from_world=camera.cam_from_world)


def _mosaiced(light: NDArray[np.float32], look: Look, rng: np.random.Generator) -> NDArray[np.float32]:
    """Noise of each photosite carried through the colour interpolation: neighbouring pixels come out correlated."""
    exposed = light * np.float32(look.exposure)
    noise = rng.standard_normal(light.shape, dtype=np.float32)
    noise *= np.sqrt(np.maximum(exposed, 0) * np.float32(look.shot) + np.float32(look.read**2))
    mosaic = np.clip((exposed + noise + 0.05) * 8000.0, 0, 65535).astype(np.uint16)
    colour = cv2.cvtColor(mosaic, cv2.COLOR_BayerBG2BGR).astype(np.float32)
    grey = colour @ np.array([0.114, 0.587, 0.299], dtype=np.float32)
    return np.asarray(grey / np.float32(8000.0) - np.float32(0.05))


def take(design: Design, condition: Condition, rng: np.random.Generator) -> Picture:
    """One picture of the design under the condition."""
    page, visible = _printed(design, condition, rng)
    whole = _camera(condition, rng)
    world_from_page = frame([-105.0, 0.0, -12.0], [1, 0, 0], [0, 0.01, 1])
    corners = np.array([[0.0, 0.0], [210.0, 0.0], [210.0, 297.0], [0.0, 297.0]])
    in_world = corners @ world_from_page[:3, :2].T + world_from_page[:3, 3]
    part = _cropped(whole, project(whole, in_world))
    look = _look(condition, rng)
    light = _optics(_light_on_sensor(page, part, world_from_page, rng), look)
    electronic = Look(gamma=look.gamma, contrast=look.contrast, sharpen=look.sharpen, sharpen_px=look.sharpen_px)
    quality, long_side = 92, max(whole.size_px)
    if condition.shrunk:
        electronic = replace(electronic, long_side_px=round(max(part.size_px) * SHRUNK_PX / long_side))
        quality, long_side = 70, SHRUNK_PX
    grey = develop(_mosaiced(light, look, rng)[..., None], electronic, rng)
    decoded = cv2.imdecode(np.frombuffer(encode_jpeg(grey, quality), np.uint8), cv2.IMREAD_GRAYSCALE)
    points = design.sheet.points_mm @ world_from_page[:3, :2].T + world_from_page[:3, 3]
    return Picture(
        grey=np.asarray(decoded, dtype=np.uint8),
        truth_px=delivered_px(project(part, points), part.size_px, electronic),
        visible=visible,
        long_side_px=long_side,
    )
