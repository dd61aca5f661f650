"""Crops of path-traced balls alone, to learn from how the rim of a ball looks: several photographs of each random tow bar.

Everything about the ball is what `ball_study.py` draws (kinds of tow bar, finishes, vehicles, round things that mislead); the camera
stands where `study.py` puts it, at the coupling's height or from above. Only the square about the ball is traced finely; the whole
picture is traced small, for its exposure. Each photograph is kept as its sensor saw it and as a chat program passes it on.
"""

from __future__ import annotations

import io
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from PIL import Image

from scene import ball_study
from scene.clean import cleaned
from scene.files import write
from scene.kit_prints import Kit
from scene.lens import Lens
from scene.noise import Bitmap
from scene.phone import Phone, _gain, _sharpened, _smoothed, _toned
from scene.rigs import Rig, Shot
from scene.sky import emitters
from scene.study import draw_shot, draw_shot_of_many, draw_unit
from scene.tracer import trace_window

SHOTS = 12
SHINES = 0.6  # share of chrome balls: the others are easy
REACH_RADII = 1.9
WIDTHS_PX = (2400, 4000)
SMALL_PX = 320


def write_rims(
    folder: Path, kit: Kit, *, seed: int, number: int, tell: Callable[[str], None] = lambda _: None
) -> None:
    """One rig as rims-SSS-NNNN.npz: for each photograph and each of its sizes the crop and its camera; the ball's centre, mm."""
    folder.mkdir(parents=True, exist_ok=True)
    began = time.monotonic()
    rng = np.random.default_rng([seed, number, 79])
    finish = "chrome" if rng.random() < SHINES else str(rng.choice(ball_study.FINISHES))
    kind = str(rng.choice(ball_study.BARS, p=[0.5, 0.25, 0.25]))
    rig = ball_study._draw_rig(rng, number, finish, "bare", kind)
    bar = ball_study.Bar(
        kind=kind,
        neck_mm=float(rng.uniform(11.5, 16.5)),
        seat_mm=float(rng.uniform(38.0, 58.0)),
        round_flange=bool(rng.random() < 0.7),
    )
    varied = None
    if rng.random() < 0.4:
        varied = ball_study.Varied(rng=np.random.default_rng([seed, number, 80]), photographs=None)
    stage, _ = ball_study._staged(rig, kit, bar, "bare", varied)
    scene = stage.built(emitters(rig.light))
    centre = np.array([*rig.ball_mm, rig.height_mm])
    arrays: dict[str, Any] = {"finish": finish, "centre_mm": centre}
    for shot_number in range(SHOTS):
        lens, shot = _camera(rng, rig, shot_number)
        grey = _crop(scene, lens, rig, shot, centre, rng)
        if grey is None:
            continue
        picture, intrinsics = grey
        quality = int(rng.integers(82, 95))
        arrays |= _kept(f"{shot_number:02d}a", _jpeg(picture, quality), intrinsics, lens)
        half = cv2.resize(picture, (picture.shape[1] // 2, picture.shape[0] // 2), interpolation=cv2.INTER_AREA)
        small = intrinsics * 0.5
        small[2:4] = (intrinsics[2:4] + 0.5) * 0.5 - 0.5
        small[4:] = intrinsics[4:]
        arrays |= _kept(f"{shot_number:02d}b", _jpeg(half, 70), small, lens)
        if shot_number % 3 == 2:  # a run that is stopped keeps what it has
            _keep(folder / f"rims-{seed:03d}-{number:04d}.npz", arrays)
    _keep(folder / f"rims-{seed:03d}-{number:04d}.npz", arrays)
    tell(f"rims-{seed:03d}-{number:04d}: {finish}, {kind}, {time.monotonic() - began:.1f} s")


def _keep(path: Path, arrays: dict[str, Any]) -> None:
    buffer = io.BytesIO()
    np.savez_compressed(buffer, **arrays)
    write(path, buffer.getvalue())


def _kept(name: str, picture: np.ndarray, intrinsics: np.ndarray, lens: Lens) -> dict[str, Any]:
    return {f"grey{name}": picture, f"k{name}": intrinsics, f"pose{name}": lens.cam_from_world[:3]}


def _camera(rng: np.random.Generator, rig: Rig, number: int) -> tuple[Lens, Shot]:
    unit = draw_unit(rng, int(rng.integers(*WIDTHS_PX)) // 4 * 4)
    shot = draw_shot(rng, rig) if number % 2 else draw_shot_of_many(rng, rig, float(rng.uniform(-1, 1)))
    if number % 4 == 0:
        shot = replace(shot, place_mm=(*shot.place_mm[:2], float(rng.uniform(1000, 1600))))
    shot = replace(shot, phone=replace(shot.phone, vignette=0.0))
    return unit.lens(shot), shot


def _crop(
    scene: Any, lens: Lens, rig: Rig, shot: Shot, centre: np.ndarray, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray] | None:
    """Grey square about the ball as the phone develops it, and the intrinsics (9,) in it; None where it is not in the picture."""
    at = lens.project(centre[None])[0]
    in_cam = lens.cam_from_world[:3, :3] @ centre + lens.cam_from_world[:3, 3]
    reach = REACH_RADII * lens.focal_px * 25.0 / in_cam[2]
    left, top = (int(v) // 2 * 2 for v in np.floor(at - reach))
    right, bottom = (int(v) // 2 * 2 for v in np.ceil(at + reach))
    if left < 0 or top < 0 or right > lens.width_px or bottom > lens.height_px:
        return None
    seed = int(rng.integers(1, 2**30))
    shrink = SMALL_PX / max(lens.width_px, lens.height_px)
    small = replace(
        lens,
        width_px=round(lens.width_px * shrink),
        height_px=round(lens.height_px * shrink),
        focal_px=lens.focal_px * shrink,
        cx_px=(lens.cx_px + 0.5) * shrink - 0.5,
        cy_px=(lens.cy_px + 0.5) * shrink - 0.5,
    )
    whole = cleaned(trace_window(scene, small, rig.light, (0, 0, small.width_px, small.height_px), samples=4, seed=seed))
    gain = _gain(whole, shot.phone)
    fine = cleaned(
        trace_window(scene, lens, rig.light, (left, top, right, bottom), samples=64, seed=seed + 1),
        levels=1,
        sharpness=3.0,
    )
    colour = _developed(fine, gain, shot.phone, rng)
    grey = cv2.cvtColor(colour, cv2.COLOR_RGB2GRAY)
    intrinsics = np.array([lens.focal_px, lens.focal_px, lens.cx_px - left, lens.cy_px - top, lens.k1, lens.k2, 0, 0, 0])
    return np.asarray(grey, dtype=np.uint8), intrinsics


def _developed(radiance: Bitmap, gain: float, phone: Phone, rng: np.random.Generator) -> np.ndarray:
    """As `phone.developed`, of a part of a picture whose exposure is known."""
    light = radiance * gain * np.array([1 + phone.warmth, 1.0, 1 - phone.warmth], np.float32)
    light = np.asarray(cv2.GaussianBlur(light, (0, 0), phone.blur_px), dtype=np.float32)
    noise = np.sqrt(phone.read_noise**2 + phone.shot_noise**2 * np.clip(light, 0, 1))
    light = light + noise * rng.standard_normal(light.shape, dtype=np.float32)
    return _sharpened(_smoothed(_toned(light), phone.smoothing), phone.sharpening)


def _jpeg(grey: np.ndarray, quality: int) -> np.ndarray:
    buffer = io.BytesIO()
    Image.fromarray(grey).save(buffer, "JPEG", quality=quality)
    return np.asarray(Image.open(buffer), dtype=np.uint8)
