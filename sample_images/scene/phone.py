"""From radiance to the JPEG that a phone would have written: exposure, lens, noise, tone, sharpening, EXIF.

Every filter here is symmetric, so that none of them moves an edge of even contrast.
"""

from __future__ import annotations

import io
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import ExifTags, Image

from scene.noise import Bitmap


@dataclass(frozen=True, slots=True, kw_only=True)
class Phone:
    """How a phone treats its picture. Lengths in pixels, noise as a share of white."""

    exposure_stops: float = 0.0
    blur_px: float = 0.55
    read_noise: float = 0.0016
    shot_noise: float = 0.0055
    smoothing: float = 0.6
    vignette: float = 0.22
    sharpening: float = 0.35
    warmth: float = 0.03
    shake_px: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """What the EXIF block says, all invented. Orientation 6: the stored picture is turned clockwise to be seen."""

    make: str = "Ferncombe"
    model: str = "Yardphone 3"
    focal_mm: float = 5.6
    focal_35mm: int = 26
    taken: str = "2026:05:14 09:32:10"
    orientation: int = 1


def developed(radiance: Bitmap, phone: Phone, rng: np.random.Generator) -> NDArray[np.uint8]:
    """(H, W, 3) 8-bit sRGB from radiance (H, W, 3)."""
    height, width = radiance.shape[:2]
    light = radiance * _gain(radiance, phone)
    light = light * np.array([1 + phone.warmth, 1.0, 1 - phone.warmth], np.float32)
    light = light * _vignette(height, width, phone.vignette)[..., None]
    if phone.shake_px != (0.0, 0.0):
        light = _shaken(light, phone.shake_px)
    light = np.asarray(cv2.GaussianBlur(light, (0, 0), phone.blur_px), dtype=np.float32)
    noise = np.sqrt(phone.read_noise**2 + phone.shot_noise**2 * np.clip(light, 0, 1))
    light = light + noise * rng.standard_normal(light.shape, dtype=np.float32)
    return _sharpened(_smoothed(_toned(light), phone.smoothing), phone.sharpening)


def _gain(radiance: Bitmap, phone: Phone) -> float:
    """Exposure by the middle of the picture, held back where much would go white."""
    height, width = radiance.shape[:2]
    luminance = radiance @ np.array([0.2126, 0.7152, 0.0722], np.float32)
    centre = luminance[height // 8 : -height // 8, width // 8 : -width // 8]
    key = 0.19 / float(np.exp(np.mean(np.log(centre + 1e-3))))
    ceiling = 1.05 / float(np.percentile(luminance, 97.5))
    return float(min(key, 1.25 * ceiling) * 2.0**phone.exposure_stops)


def _vignette(height: int, width: int, strength: float) -> Bitmap:
    y, x = np.mgrid[0:height, 0:width].astype(np.float32)
    square = ((x - width / 2) ** 2 + (y - height / 2) ** 2) / (width**2 + height**2) * 4
    return np.asarray(1 - strength * square, dtype=np.float32)


def _shaken(light: Bitmap, shake_px: tuple[float, float]) -> Bitmap:
    """Motion along a slightly bent path, as a hand makes it; its centre of mass stays where it was."""
    t = np.linspace(-0.5, 0.5, 61)
    path = np.stack([t * shake_px[0], t * shake_px[1]], axis=1) + 0.12 * np.hypot(*shake_px) * np.stack(
        [t**2, -(t**2)], axis=1
    )
    path -= path.mean(axis=0)
    half = int(np.abs(path).max()) + 2
    kernel = np.zeros((2 * half + 1, 2 * half + 1), np.float32)
    for dx, dy in path:
        x, y = int(np.floor(dx)), int(np.floor(dy))
        fx, fy = dx - x, dy - y
        kernel[half + y : half + y + 2, half + x : half + x + 2] += np.outer(
            [1 - fy, fy], [1 - fx, fx]
        ).astype(np.float32)
    return np.asarray(cv2.filter2D(light, -1, kernel / kernel.sum(), borderType=cv2.BORDER_REPLICATE))


def _toned(light: Bitmap) -> Bitmap:
    """A shoulder towards white, the sRGB curve, then a mild S for contrast; 0..1."""
    light = np.clip(light, 0, None)
    knee = 0.70
    over = np.clip((light - knee) / (1 - knee), 0, None)
    light = np.where(light > knee, knee + (1 - knee) * over / (1 + over**2) ** 0.5, light)
    coded = np.where(
        light <= 0.0031308, 12.92 * light, 1.055 * np.power(np.maximum(light, 1e-8), 1 / 2.4) - 0.055
    )
    return np.asarray(np.clip(coded + 0.10 * (coded - 0.5) * coded * (1 - coded) * 4, 0, 1), dtype=np.float32)


def _smoothed(coded: Bitmap, strength: float) -> Bitmap:
    """The phone's own noise reduction: luminance gently, colour strongly."""
    if strength <= 0:
        return coded
    soft = cv2.bilateralFilter(coded, 5, 0.06 * strength, 1.4)
    split = cv2.cvtColor(soft, cv2.COLOR_RGB2YCrCb)
    split[..., 1:] = cv2.GaussianBlur(split[..., 1:], (0, 0), 1.5)
    return np.asarray(cv2.cvtColor(split, cv2.COLOR_YCrCb2RGB))


def _sharpened(coded: Bitmap, amount: float) -> NDArray[np.uint8]:
    sharp = coded + amount * (coded - cv2.GaussianBlur(coded, (0, 0), 1.1))
    return np.asarray(np.clip(sharp * 255 + 0.5, 0, 255), dtype=np.uint8)


def shrunk(picture: NDArray[np.uint8], long_side_px: int) -> NDArray[np.uint8]:
    """What a chat program sends on: the long side reduced by area averaging."""
    height, width = picture.shape[:2]
    scale = long_side_px / max(height, width)
    return np.asarray(
        cv2.resize(picture, (round(width * scale), round(height * scale)), interpolation=cv2.INTER_AREA)
    )


def jpeg(picture: NDArray[np.uint8], *, quality: int, label: Label | None) -> bytes:
    """The file's bytes; without a label there is no EXIF block. A turned label stores the picture turned back."""
    stored = np.rot90(picture, 1) if label is not None and label.orientation == 6 else picture
    buffer = io.BytesIO()
    image = Image.fromarray(np.ascontiguousarray(stored))
    if label is None:
        image.save(buffer, "JPEG", quality=quality, subsampling=2)
    else:
        image.save(buffer, "JPEG", quality=quality, subsampling=2, exif=_exif(label))
    return buffer.getvalue()


def _exif(label: Label) -> Image.Exif:
    exif = Image.Exif()
    exif[ExifTags.Base.Make] = label.make
    exif[ExifTags.Base.Model] = label.model
    exif[ExifTags.Base.Orientation] = label.orientation
    exif[ExifTags.Base.Software] = "invented scene, path-traced"
    exif[ExifTags.Base.DateTime] = label.taken
    details = exif.get_ifd(ExifTags.IFD.Exif)
    details[ExifTags.Base.DateTimeOriginal] = label.taken
    details[ExifTags.Base.FocalLength] = label.focal_mm
    details[ExifTags.Base.FocalLengthIn35mmFilm] = label.focal_35mm
    details[ExifTags.Base.DigitalZoomRatio] = 1.0
    return exif
