"""Pictures of a centre tag, with the upright sheet where it is wanted, and their exact truth.

Sheet and tag are painted by their exact homographies, SUPER x SUPER rays a pixel; lens, colour mosaic, tone curve,
sharpening and JPEG follow. Only the part of the photograph around both is made; sizes and lens are those of the whole.
The numbers of a phone's look are common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.kit.kit import CENTRE_TAG_IDS, CHECK_BAR_MM, CODE_MODULES, tag_codes
from photomeasure.scene.print_scale import bar_u_mm
from photomeasure.scene.priors import FOOT_ROLL_RAD, SQUARE_STAND_RAD
from photomeasure.seen.centre.tag.pattern import black_modules
from tests.experiments.kit_designs import TEXELS_PER_MM, designs
from tests.experiments.kit_pictures import _background, _mosaiced
from tests.scenes import Camera, Look, encode_jpeg, frame, pose_looking_at, project
from tests.scenes.camera import FloatArray
from tests.scenes.sensor import _optics, delivered_px, develop

SENSOR_PX, FOCAL_35MM, CHAT_PX = (4000, 3000), 26.0, 1600
SUPER = 5
INK, PAPER = 0.05, 1.0
RIM_MM = 4.0  # printed white beyond the quiet zone, up to the line along which a tag is cut out
GRID_PX = 10  # parts of a photograph start and end on whole pixels of the shrunk one


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition:
    """What a picture is like. turn_rad: the tag about the vertical; lens_above_mm: over the tag, from and to."""

    name: str
    distance_mm: float
    chat: bool = False
    sun: bool = False
    shadow: bool = False
    yaw_rad: float = 0.0
    tag_mm: float = 40.0
    turn_rad: float = 0.0
    with_sheet: bool = False
    lens_above_mm: tuple[float, float] = (-150.0, 150.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class TagPicture:
    """A part of a photograph with the camera as it truly is, in the part's own pixels.

    offset_px: of the part in the whole photograph of size whole_px; look: how the whole is delivered.
    """

    grey: NDArray[np.uint8]
    intrinsics: FloatArray
    rotation: FloatArray
    translation: FloatArray
    tag_id: int
    corners_px: FloatArray
    tag_mm: FloatArray
    offset_px: tuple[int, int]
    whole_px: tuple[int, int]
    quality: int


def draw(condition: Condition, rng: np.random.Generator) -> TagPicture:
    """One picture under the condition; the tag stands 0-60 mm before the sheet's plane, the sheet as its priors say."""
    height = rng.uniform(345.0, 520.0) + 0.75 * (condition.tag_mm - 40.0)
    middle = np.array([rng.uniform(-80.0, 80.0), -rng.uniform(0.0, 60.0), height])
    turn = rng.choice([-1.0, 1.0]) * condition.turn_rad + rng.normal(0.0, 0.15)
    lean, roll = rng.normal(0.0, 0.04, 2)
    world_from_tag = frame(
        middle, [np.cos(turn), np.sin(turn), np.sin(roll)], [-np.sin(lean) * np.sin(turn), np.sin(lean), 1.0]
    )
    lean_rad, roll_rad, gap = rng.normal(0.0, SQUARE_STAND_RAD), rng.normal(0.0, FOOT_ROLL_RAD), rng.uniform(-0.5, 0.5)
    up = np.array([0.0, np.sin(lean_rad), np.cos(lean_rad)])
    along = np.array([np.cos(roll_rad), 0.0, np.sin(roll_rad)])
    world_from_sheet = frame([0.0, 0.0, gap], along, up)
    print_ = rng.normal(1.0, bar_u_mm(CHECK_BAR_MM) / CHECK_BAR_MM, 2)  # whose check bars were read as right
    whole = _phone(condition, middle, rng)
    outline = np.array([[-105.0, 0.0], [105.0, 0.0], [105.0, 285.0], [-105.0, 285.0]])
    sheet_mm = _in_world(world_from_sheet, outline * print_)
    near = middle + np.array([[-60.0, 0.0, -60.0], [60.0, 0.0, 60.0]]) * (condition.tag_mm / 40.0)
    seen = [project(whole, near)] + ([project(whole, sheet_mm)] if condition.with_sheet else [])
    part, start = _part(whole, np.concatenate(seen))
    code_id = int(rng.choice([i for i in CENTRE_TAG_IDS if tag_codes()[i].size_mm == condition.tag_mm]))
    half = condition.tag_mm / 2
    square = np.array([[-half, half], [half, half], [half, -half], [-half, -half]])
    corners = project(part, _in_world(world_from_tag, square * print_))
    canvas = _canvas(part, rng)
    if condition.with_sheet:
        _paint_sheet(canvas, project(part, sheet_mm))
    _paint_tag(canvas, corners, black_modules(code_id), (1.0 + RIM_MM / condition.tag_mm * CODE_MODULES))
    if condition.shadow:
        _cast(canvas, (corners.mean(axis=0) + 0.5) * SUPER, float(np.linalg.norm(corners[1] - corners[0])) * SUPER, rng)
    light = np.asarray(cv2.resize(canvas, part.size_px, interpolation=cv2.INTER_AREA), dtype=np.float32)
    look = _look(condition, rng)
    electronic = Look(gamma=look.gamma, contrast=look.contrast, sharpen=look.sharpen, sharpen_px=look.sharpen_px)
    scale, quality = 1.0, 92
    if condition.chat:
        scale, quality = CHAT_PX / SENSOR_PX[0], 70
        electronic = replace(electronic, long_side_px=round(max(part.size_px) * scale))
    grey = develop(_mosaiced(np.asarray(_optics(light, look), dtype=np.float32), look, rng)[..., None], electronic, rng)
    decoded = cv2.imdecode(np.frombuffer(encode_jpeg(grey, quality), np.uint8), cv2.IMREAD_GRAYSCALE)
    intrinsics = part.intrinsics.copy()
    intrinsics[:2] *= scale
    intrinsics[2:4] = (intrinsics[2:4] + 0.5) * scale - 0.5
    return TagPicture(
        grey=np.ascontiguousarray(decoded, dtype=np.uint8),
        intrinsics=intrinsics,
        rotation=part.rotation,
        translation=part.cam_from_world[:3, 3],
        tag_id=code_id,
        corners_px=delivered_px(corners, part.size_px, electronic),
        tag_mm=middle,
        offset_px=(round(start[0] * scale), round(start[1] * scale)),
        whole_px=(round(SENSOR_PX[0] * scale), round(SENSOR_PX[1] * scale)),
        quality=quality,
    )


def _in_world(world_from_local: FloatArray, local_mm: FloatArray) -> FloatArray:
    return np.asarray(local_mm @ world_from_local[:3, :2].T + world_from_local[:3, 3])


def _phone(condition: Condition, middle: FloatArray, rng: np.random.Generator) -> Camera:
    width, height = SENSOR_PX
    focal = width / 36.0 * FOCAL_35MM * rng.normal(1.0, 0.01)
    yaw = condition.yaw_rad * rng.choice([-1.0, 1.0]) + rng.normal(0.0, 0.05)
    lens = [
        condition.distance_mm * np.sin(yaw),
        -condition.distance_mm * np.cos(yaw),
        middle[2] + rng.uniform(*condition.lens_above_mm),
    ]
    aim = [rng.normal(middle[0] / 2, 40.0), 0.0, rng.normal(300.0, 60.0)]
    return Camera(
        intrinsics=np.array([focal, focal, width / 2, height / 2, 0.0, 0.0, 0.0, 0.0, 0.0]),
        size_px=SENSOR_PX,
        cam_from_world=pose_looking_at(lens, aim, roll_rad=rng.normal(0.0, 0.03)),
    )


def _part(whole: Camera, seen_px: FloatArray) -> tuple[Camera, NDArray[np.int64]]:
    """The camera of the part of the picture around what is seen, and where it starts."""
    low = np.floor((seen_px.min(axis=0) - 60) / GRID_PX).astype(int) * GRID_PX
    high = np.ceil((seen_px.max(axis=0) + 60) / GRID_PX).astype(int) * GRID_PX
    intrinsics = whole.intrinsics.copy()
    intrinsics[2:4] -= low
    size = int(high[0] - low[0]), int(high[1] - low[1])
    return Camera(intrinsics=intrinsics, size_px=size, cam_from_world=whole.cam_from_world), low


def _canvas(part: Camera, rng: np.random.Generator) -> NDArray[np.float32]:
    """Clutter behind everything, one value a pixel, in rays."""
    width, height = part.size_px
    behind = _background((height, width), rng)
    rays = cv2.resize(behind, (width * SUPER, height * SUPER), interpolation=cv2.INTER_NEAREST)
    return np.asarray(rays, dtype=np.float32)


def _paint_sheet(canvas: NDArray[np.float32], corners_px: FloatArray) -> None:
    """The upright sheet, cut along its foot line; corners_px from its lower left, anticlockwise."""
    texture = designs()["A"].texture[: round(285 * TEXELS_PER_MM)]
    page = (INK + (PAPER - INK) / 255.0 * texture).astype(np.float32)
    corners = np.array([[0.0, 285.0], [210.0, 285.0], [210.0, 0.0], [0.0, 0.0]]) * TEXELS_PER_MM - 0.5
    matrix = cv2.getPerspectiveTransform(
        corners.astype(np.float32), ((corners_px + 0.5) * SUPER - 0.5).astype(np.float32)
    )
    cv2.warpPerspective(page, matrix, canvas.shape[::-1], canvas, cv2.INTER_LINEAR, cv2.BORDER_TRANSPARENT)


def _paint_tag(canvas: NDArray[np.float32], corners_px: FloatArray, black: NDArray[np.bool_], rim: float) -> None:
    """The tag, ray by ray: what a ray meets is decided by the module it falls into; rim in modules of white around."""
    modules = np.array([[0.0, 0.0], [7.0, 0.0], [7.0, 7.0], [0.0, 7.0]])
    forward, _ = cv2.findHomography(modules, (corners_px + 0.5) * SUPER - 0.5, 0)
    outer = np.array([[-rim, -rim, 1], [7 + rim, -rim, 1], [7 + rim, 7 + rim, 1], [-rim, 7 + rim, 1]]) @ forward.T
    rim_px = outer[:, :2] / outer[:, 2:]
    low = np.maximum(np.floor(rim_px.min(axis=0)), 0).astype(int)
    high = np.ceil(rim_px.max(axis=0)).astype(int) + 1
    part = canvas[low[1] : high[1], low[0] : high[0]]
    y, x = np.indices(part.shape)
    uvw = np.stack([x + low[0], y + low[1], np.ones_like(x)], axis=-1) @ np.linalg.inv(forward).T
    u, v = uvw[..., 0] / uvw[..., 2], uvw[..., 1] / uvw[..., 2]
    padded = np.pad(black, 3)
    column, row = np.floor(u).astype(int) + 3, np.floor(v).astype(int) + 3
    on = (u >= -rim) & (u <= 7 + rim) & (v >= -rim) & (v <= 7 + rim)
    dark = padded[np.clip(row, 0, 12), np.clip(column, 0, 12)]
    part[on] = np.where(dark, INK, PAPER)[on]


def _cast(canvas: NDArray[np.float32], at: FloatArray, side: float, rng: np.random.Generator) -> None:
    """A shadow whose edge crosses the tag, soft over 2 to 20 mm of it."""
    angle, soft = rng.uniform(0.0, 2 * np.pi), rng.uniform(0.05, 0.5) * side
    at = at + rng.normal(0.0, 0.2, 2) * side
    y, x = np.ogrid[: canvas.shape[0], : canvas.shape[1]]
    depth = ((x - at[0]) * np.cos(angle) + (y - at[1]) * np.sin(angle)) / soft
    canvas *= (1.0 - rng.uniform(0.7, 0.85) * np.clip(depth + 0.5, 0, 1)).astype(np.float32)


def _look(condition: Condition, rng: np.random.Generator) -> Look:
    return Look(
        exposure=rng.uniform(1.6, 3.0) if condition.sun else rng.uniform(0.55, 0.85),
        blur_px=rng.uniform(0.6, 1.1),
        halo=rng.uniform(0.10, 0.20) if condition.sun else rng.uniform(0.01, 0.04),
        halo_px=rng.uniform(5.0, 12.0),
        motion_px=rng.uniform(0.0, 1.5),
        motion_rad=rng.uniform(0.0, np.pi),
        shot=rng.uniform(1e-4, 6e-4),
        read=rng.uniform(0.002, 0.006),
        gamma=2.2,
        contrast=rng.uniform(0.1, 0.4),
        sharpen=rng.uniform(0.3, 1.0),
        sharpen_px=1.2,
    )
