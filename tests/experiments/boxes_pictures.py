"""Ticked sheets in pictures, with known answers: pens, marks, light, lens and a chat program's shrinking.

The page is rastered once; marks are drawn on it, then it is warped to the size at which it is seen. Pens and marks are
judgement, no source: a ball pen draws 0.5 mm, a fibre pen 1 mm, a marker 2 mm; hands leave a box by a millimetre or two.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.kit.answers import QUESTIONS, Box
from calib.kit.kit import Paper, Sheet, kit
from calib.kit.number import MAX_NUMBER, modules_of

PX_PER_MM = 8.0
PENS_MM = (0.5, 1.0, 2.0)
MARKS = ("cross", "tick", "fill")
INKS = {0.5: (0.10, 0.30), 1.0: (0.06, 0.22), 2.0: (0.04, 0.15)}  # light that comes back, of white's
PHONE_FOCAL_PX = 26.0 / 36.0 * 4000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition:
    """How a sheet is seen. focal_px: of the picture as it arrives; sun: exposure over that which keeps white."""

    name: str
    near_m: float
    far_m: float
    focal_px: float = PHONE_FOCAL_PX * 0.4
    quality: int = 70
    yaw_deg: float = 8.0
    blur_px: tuple[float, float] = (0.45, 0.75)
    shadow: bool = False
    sun: bool = False


CONDITIONS = (
    Condition(name="1600 px, 1.5 m", near_m=1.5, far_m=1.5),
    Condition(name="1600 px, 2.5 m", near_m=2.5, far_m=2.5),
    Condition(name="1600 px, 1.5-2.5 m, shadow", near_m=1.5, far_m=2.5, shadow=True),
    Condition(name="1600 px, 1.5-2.5 m, sun", near_m=1.5, far_m=2.5, sun=True),
    Condition(name="1600 px, 1.5-2.5 m, yaw 30", near_m=1.5, far_m=2.5, yaw_deg=30.0),
    Condition(name="1600 px, 1.5-2.5 m, blurred", near_m=1.5, far_m=2.5, blur_px=(0.9, 1.5)),
    Condition(name="12 MP, 1.5-2.5 m", near_m=1.5, far_m=2.5, focal_px=PHONE_FOCAL_PX, quality=92, blur_px=(0.8, 1.4)),
    Condition(
        name="12 MP, 1.5-2.5 m, shadow", near_m=1.5, far_m=2.5, focal_px=PHONE_FOCAL_PX, quality=92, blur_px=(0.8, 1.4), shadow=True
    ),
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Ticked:
    """grey: the picture; answers: by question, the values that were ticked; pen_mm, marks: how; number: of the print."""

    grey: NDArray[np.uint8]
    answers: dict[str, tuple[str, ...]]
    pen_mm: float
    mark: str
    number: int


@cache
def page(paper: Paper) -> NDArray[np.uint8]:
    ready = os.environ.get("PHOTOMEASURE_PAGE_RASTER")  # for machines that have no reader of PDF: "FOLDER/{paper}.png"
    if ready:
        return np.asarray(cv2.imread(ready.format(paper=paper), cv2.IMREAD_GRAYSCALE), dtype=np.uint8)
    import pypdfium2

    from calib.kit.sheets import target_pdf

    document = pypdfium2.PdfDocument(target_pdf(kit(paper)))
    picture = document[kit(paper).upright.page - 1].render(scale=PX_PER_MM * 25.4 / 72, grayscale=True).to_numpy()
    return np.ascontiguousarray(picture.reshape(picture.shape[:2]))


def printed(paper: Paper, number: int) -> NDArray[np.float32]:
    """Light from the blank printed page, 1 is white paper, with its number."""
    sheet, raster = kit(paper).upright, page(paper).copy()
    assert sheet.strip is not None
    for place, black in enumerate(modules_of(number)):
        if black:
            left, bottom, right, top = sheet.strip.sides_mm(place)
            (x0, y1), (x1, y0) = _texel(sheet, (left, bottom)), _texel(sheet, (right, top))
            raster[round(y0) : round(y1), round(x0) : round(x1)] = 0
    return (0.05 + 0.95 / 255.0 * raster).astype(np.float32)


def _texel(sheet: Sheet, mm: tuple[float, float]) -> tuple[float, float]:
    return mm[0] * PX_PER_MM, (sheet.height_mm - mm[1]) * PX_PER_MM


def draw_mark(
    light: NDArray[np.float32], sheet: Sheet, box: Box, mark: str, pen_mm: float, rng: np.random.Generator
) -> None:
    """A cross, a tick or a filling by hand, in place."""
    side, (x, y) = box.width_mm, box.centre_mm
    x, y = x + rng.normal(0, 0.06) * side, y + rng.normal(0, 0.06) * side
    size = side * rng.uniform(0.75, 1.2) / 2

    def at(u: float, v: float) -> tuple[float, float]:
        return x + u * size + rng.normal(0, 0.05) * side, y + v * size + rng.normal(0, 0.05) * side

    if mark == "cross":
        strokes = [[at(-1, -1), at(0, 0), at(1, 1)], [at(-1, 1), at(0, 0), at(1, -1)]]
    elif mark == "tick":
        over = rng.uniform(1.0, 1.6)
        strokes = [[at(-0.8, 0.1), at(-0.2, -0.8), at(0.4, 0.3), at(over, over * 1.1)]]
    else:
        size = side * rng.uniform(0.75, 1.0) / 2
        rows = max(3, int(1.3 * 2 * size / pen_mm))
        line = [at((-1) ** i, 1 - 2 * i / (rows - 1)) for i in range(rows)]
        strokes = [line]
    ink = rng.uniform(*INKS[pen_mm])
    shift = 4
    for stroke in strokes:
        points = np.rint(np.array([_texel(sheet, p) for p in stroke]) * 2**shift).astype(np.int32)
        low = np.maximum(points.min(axis=0) // 2**shift - 30, 0)
        high = points.max(axis=0) // 2**shift + 30
        window = light[low[1] : high[1], low[0] : high[0]]
        mask = np.zeros(window.shape, dtype=np.uint8)
        cv2.polylines(
            mask, [points - low * 2**shift], False, 255, max(1, round(pen_mm * PX_PER_MM)), cv2.LINE_AA, shift
        )
        window[:] = np.minimum(window, 1 - (1 - ink) * mask.astype(np.float32) / 255.0)


def smudge(light: NDArray[np.float32], sheet: Sheet, box: Box, rng: np.random.Generator) -> None:
    """A dirty thumb over a box: a soft grey blot."""
    x, y = _texel(sheet, box.centre_mm)
    v, u = np.mgrid[: light.shape[0], : light.shape[1]].astype(np.float32)
    radius = box.width_mm * PX_PER_MM * rng.uniform(0.5, 0.9)
    depth = rng.uniform(0.2, 0.5)
    light *= 1 - depth * np.exp(-(((u - x) / radius) ** 2 + ((v - y) / radius / rng.uniform(0.7, 1.4)) ** 2))


def answers_of(sheet: Sheet, rng: np.random.Generator) -> dict[str, tuple[str, ...]]:
    """One value a question; bars around what printers really give, anywhere once in three."""
    answers: dict[str, tuple[str, ...]] = {}
    for question in QUESTIONS:
        values = [box.value for box in sheet.boxes if box.question == question]
        answers[question] = (str(rng.choice(values)),)
    return answers


def take(light: NDArray[np.float32], sheet: Sheet, condition: Condition, rng: np.random.Generator) -> NDArray[np.uint8]:
    """The page seen from a distance: a part of the picture around it, JPEG and back."""
    if condition.shadow:
        turn, (rows, columns) = rng.uniform(0, 2 * np.pi), light.shape
        v, u = np.mgrid[:rows, :columns].astype(np.float32)
        across = (u / columns - rng.uniform(0.1, 0.9)) * np.cos(turn) + (v / rows - rng.uniform(0.1, 0.9)) * np.sin(
            turn
        )
        light = light * (
            1 - rng.uniform(0.5, 0.8) * np.clip(across * rng.uniform(15, 150) + 0.5, 0, 1).astype(np.float32)
        )
    distance = 1000 * rng.uniform(condition.near_m, condition.far_m)
    yaw = np.deg2rad(
        rng.choice([-1, 1])
        * condition.yaw_deg
        * (rng.uniform(0.8, 1.0) if condition.yaw_deg > 10 else rng.uniform(0, 1))
    )
    pitch, roll = np.deg2rad(rng.uniform(-5, 25)), np.deg2rad(rng.normal(0, 3))
    turned = _turn("y", yaw) @ _turn("x", pitch) @ _turn("z", roll)
    corners = np.array([[0, 0], [sheet.width_mm, 0], [sheet.width_mm, sheet.height_mm], [0, sheet.height_mm]])
    flat = (corners - corners.mean(axis=0)) * [1, -1]
    in_camera = np.column_stack([flat, np.zeros(4)]) @ turned.T + [0, 0, distance]
    px = condition.focal_px * in_camera[:, :2] / in_camera[:, 2:]
    px -= px.min(axis=0) - 12 - rng.uniform(0, 1, 2)
    size = np.ceil(px.max(axis=0) + 12).astype(int)
    fine = 3
    px_per_mm = condition.focal_px / distance
    page_light = light
    while PX_PER_MM * page_light.shape[1] / light.shape[1] > 2 * 1.3 * fine * px_per_mm:
        half = (page_light.shape[1] // 2, page_light.shape[0] // 2)
        page_light = np.asarray(cv2.resize(page_light, half, interpolation=cv2.INTER_AREA))
    scale = np.array([page_light.shape[1] / sheet.width_mm, page_light.shape[0] / sheet.height_mm])
    source = (corners * [1, -1] + [0, sheet.height_mm]) * scale - 0.5
    matrix, _ = cv2.findHomography(source, (px + 0.5) * fine - 0.5)
    around = np.full((size[1] * fine, size[0] * fine), rng.uniform(0.15, 0.5), dtype=np.float32)
    cv2.warpPerspective(
        page_light, matrix, (size[0] * fine, size[1] * fine), around, cv2.INTER_LINEAR, cv2.BORDER_TRANSPARENT
    )
    small = cv2.resize(around, (int(size[0]), int(size[1])), interpolation=cv2.INTER_AREA)
    seen = np.asarray(cv2.GaussianBlur(small, (0, 0), rng.uniform(*condition.blur_px)), dtype=np.float32)
    fall = np.linspace(0, 1, seen.shape[1], dtype=np.float32)
    seen *= 1 + np.float32(rng.uniform(-0.15, 0.15)) * fall
    seen *= np.float32(rng.uniform(1.2, 1.7) if condition.sun else rng.uniform(0.5, 0.9))
    noise = 0.004 if condition.focal_px < 2000 else 0.010
    seen += rng.standard_normal(seen.shape, dtype=np.float32) * np.float32(noise) * np.sqrt(np.maximum(seen, 0.02))
    tone = np.clip(seen, 0, 1) ** (1 / 2.2)
    tone += rng.uniform(0.1, 0.4) * (tone * tone * (3 - 2 * tone) - tone)
    tone += rng.uniform(0.2, 0.8) * (tone - cv2.GaussianBlur(tone, (0, 0), 1.2 if condition.focal_px > 2000 else 0.7))
    grey = np.clip(np.rint(255 * tone), 0, 255).astype(np.uint8)
    packed = cv2.imencode(".jpg", grey, [cv2.IMWRITE_JPEG_QUALITY, condition.quality])[1]
    return np.asarray(cv2.imdecode(packed, cv2.IMREAD_GRAYSCALE), dtype=np.uint8)


def _turn(axis: str, angle: float) -> NDArray[np.float64]:
    c, s = np.cos(angle), np.sin(angle)
    return np.array(
        {
            "x": [[1, 0, 0], [0, c, -s], [0, s, c]],
            "y": [[c, 0, s], [0, 1, 0], [-s, 0, c]],
            "z": [[c, -s, 0], [s, c, 0], [0, 0, 1]],
        }[axis]
    )


def ticked(
    paper: Paper,
    condition: Condition,
    rng: np.random.Generator,
    answers: dict[str, tuple[str, ...]],
    smudged: tuple[str, str] | None = None,
) -> Ticked:
    """A sheet of this paper, ticked by one hand with one pen, in a picture."""
    sheet, number = kit(paper).upright, int(rng.integers(1, MAX_NUMBER + 1))
    light = printed(paper, number)
    pen_mm, mark = float(rng.choice(PENS_MM)), str(rng.choice(MARKS))
    for box in sheet.boxes:
        if box.value in answers.get(box.question, ()):
            draw_mark(light, sheet, box, mark, pen_mm, rng)
        if smudged == (box.question, box.value):
            smudge(light, sheet, box, rng)
    return Ticked(grey=take(light, sheet, condition, rng), answers=answers, pen_mm=pen_mm, mark=mark, number=number)
