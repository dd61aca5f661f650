"""What lens, sensor and phone make of the light: blur, bloom, noise, tone curve, sharpening, size."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from .camera import FloatArray

Image = NDArray[np.float32]


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """One phone's way with a picture; the defaults change nothing but the range (proofs of geometry).

    exposure:         factor on the light; above 1 / reflectance white clips.
    vignetting:       share of the light lost in the corners.
    blur_px:          standard deviation of the lens blur.
    halo, halo_px:    share of the light spread far, and how far: with clipping, white eats into black.
    motion_px, motion_rad: length and direction of the movement during exposure, about its middle.
    shot, read:       noise variance per unit of light, noise deviation in the dark; full scale 1.
    gamma, contrast:  encoding exponent, share of an S curve mixed in.
    sharpen, sharpen_px: amount and radius of the unsharp mask on the encoded picture.
    long_side_px:     delivered size (area average); None leaves it.
    jpeg_quality:     for photographs that are saved.
    grey:             render one channel.
    samples:          rays per measured pixel.
    """

    exposure: float = 1.0
    vignetting: float = 0.0
    blur_px: float = 0.0
    halo: float = 0.0
    halo_px: float = 8.0
    motion_px: float = 0.0
    motion_rad: float = 0.0
    shot: float = 0.0
    read: float = 0.0
    gamma: float = 1.0
    contrast: float = 0.0
    sharpen: float = 0.0
    sharpen_px: float = 1.2
    long_side_px: int | None = None
    jpeg_quality: int = 92
    grey: bool = False
    samples: int = 25


def develop(light: Image, look: Look, rng: np.random.Generator) -> NDArray[np.uint8]:
    """(h, w, channels) radiance -> uint8 picture, (h, w) if there is one channel."""
    image: Any = light[..., 0] if light.shape[2] == 1 else light
    image = image * np.float32(look.exposure)
    if look.vignetting:
        image *= _vignette(image.shape[0], image.shape[1], look.vignetting, image.ndim)
    image = _optics(image, look)
    if look.shot or look.read:
        image = _noisy(image, look, rng)
    np.clip(image, 0.0, 1.0, out=image)
    image = _tone(image, look)
    if look.sharpen:
        soft = cv2.GaussianBlur(image, (0, 0), look.sharpen_px)
        image = cv2.addWeighted(image, 1.0 + look.sharpen, soft, -look.sharpen, 0.0)
    image = resize(image, look)
    np.clip(image, 0.0, 1.0, out=image)
    return np.asarray(cv2.convertScaleAbs(image, alpha=255.0), dtype=np.uint8)


def _vignette(height: int, width: int, loss: float, ndim: int) -> Any:
    """Falls with the square of the distance from the middle."""
    y: Any = (np.arange(height, dtype=np.float32) - 0.5 * (height - 1))[:, None]
    x = (np.arange(width, dtype=np.float32) - 0.5 * (width - 1))[None, :]
    field = 1.0 - np.float32(4.0 * loss / (height**2 + width**2)) * (x * x + y * y)
    return field if ndim == 2 else field[..., None]


def _optics(image: Any, look: Look) -> Any:
    if look.motion_px > 0.0:
        image = cv2.filter2D(image, -1, motion_kernel(look.motion_px, look.motion_rad), borderType=cv2.BORDER_REPLICATE)
    if look.blur_px > 0.0:
        image = cv2.GaussianBlur(image, (0, 0), look.blur_px, borderType=cv2.BORDER_REPLICATE)
    if look.halo > 0.0:
        small = cv2.resize(image, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
        wide = cv2.GaussianBlur(small, (0, 0), look.halo_px / 4.0, borderType=cv2.BORDER_REPLICATE)
        wide = cv2.resize(wide, (image.shape[1], image.shape[0]), interpolation=cv2.INTER_LINEAR)
        image = cv2.addWeighted(image, 1.0 - look.halo, wide, look.halo, 0.0)
    return image


def motion_kernel(length_px: float, angle_rad: float) -> Image:
    """A straight stroke through the middle, its samples shared bilinearly; mean exactly at the middle."""
    half = int(np.ceil(0.5 * length_px)) + 1
    kernel = np.zeros((2 * half + 2, 2 * half + 2))
    count = 16 * half
    steps = ((np.arange(count) + 0.5) / count - 0.5) * length_px
    for x, y in zip(half + steps * np.cos(angle_rad), half + steps * np.sin(angle_rad), strict=True):
        ix, iy = int(np.floor(x)), int(np.floor(y))
        fx, fy = x - ix, y - iy
        kernel[iy : iy + 2, ix : ix + 2] += np.outer([1 - fy, fy], [1 - fx, fx])
    return np.asarray(kernel[:-1, :-1] / kernel.sum(), dtype=np.float32)


def _noisy(image: Image, look: Look, rng: np.random.Generator) -> Any:
    """Gaussian with variance shot * light + read^2."""
    deviation = np.sqrt(np.maximum(image, 0) * np.float32(look.shot) + np.float32(look.read**2))
    deviation *= rng.standard_normal(image.shape, dtype=np.float32)
    deviation += image
    return deviation


def _tone(image: Image, look: Look) -> Any:
    """Encoding curve by a table of 16384 steps."""
    if look.gamma == 1.0 and look.contrast == 0.0:
        return image
    x = np.linspace(0.0, 1.0, 16385)
    encoded = x ** (1.0 / look.gamma)
    curve = encoded + look.contrast * (encoded * encoded * (3.0 - 2.0 * encoded) - encoded)
    return curve.astype(np.float32)[(image * 16384.0 + 0.5).astype(np.int32)]


def delivered_size(size_px: tuple[int, int], look: Look) -> tuple[int, int]:
    """Width, height of the picture that is handed on."""
    if look.long_side_px is None or look.long_side_px >= max(size_px):
        return size_px
    scale = look.long_side_px / max(size_px)
    return round(size_px[0] * scale), round(size_px[1] * scale)


def delivered_px(points_px: FloatArray, size_px: tuple[int, int], look: Look) -> FloatArray:
    """(N, 2) pixels of the sensor -> pixels of the picture that is handed on."""
    scale = np.array(delivered_size(size_px, look)) / np.array(size_px)
    return np.asarray((points_px + 0.5) * scale - 0.5)


def resize(image: Any, look: Look) -> Any:
    """Area average to the delivered size."""
    size = image.shape[1], image.shape[0]
    wanted = delivered_size(size, look)
    return image if wanted == size else cv2.resize(image, wanted, interpolation=cv2.INTER_AREA)
