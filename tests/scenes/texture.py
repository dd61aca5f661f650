"""Sampling of grey textures, and noise to make surfaces look like what they are."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

NOISE_SIZE = 1024  # a power of two: the lookup wraps with a mask

Values = NDArray[Any]


def pyramid_level(texture: NDArray[np.uint8], level: int) -> NDArray[np.uint8]:
    """The texture averaged over blocks of 2**level texels (edges repeated to a whole block)."""
    return _levels(_Key(texture), level)


class _Key:
    """A texture by identity, so that its pyramid is kept without hashing its contents."""

    def __init__(self, texture: NDArray[np.uint8]) -> None:
        self.texture = texture

    def __hash__(self) -> int:
        return id(self.texture)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Key) and other.texture is self.texture


@lru_cache(maxsize=16)
def _levels(key: _Key, level: int) -> NDArray[np.uint8]:
    if level == 0:
        return key.texture
    block = 1 << level
    rows, columns = key.texture.shape
    padded = np.pad(key.texture, ((0, -rows % block), (0, -columns % block)), mode="edge")
    sums = padded.reshape(padded.shape[0] // block, block, padded.shape[1] // block, block)
    return np.asarray(np.rint(sums.mean(axis=(1, 3), dtype=np.float64)), dtype=np.uint8)


def sample(texture: NDArray[np.uint8], column: Values, row: Values, level: int) -> Values:
    """Bilinear value at level 0's texel coordinates, (0, 0) = centre of the top-left texel.

    Beyond the edges the last texels are repeated.
    """
    image = pyramid_level(texture, level)
    rows, columns = image.shape
    scale = 1.0 / (1 << level)
    u = np.clip((column + 0.5) * scale - 0.5, 0, columns - 1)
    v = np.clip((row + 0.5) * scale - 0.5, 0, rows - 1)
    iu = np.minimum(u.astype(np.int32), max(columns - 2, 0))
    iv = np.minimum(v.astype(np.int32), max(rows - 2, 0))
    fu, fv = u - iu, v - iv
    at = iv * columns + iu
    flat = image.reshape(-1)
    right = 1 if columns > 1 else 0
    down = columns if rows > 1 else 0
    top = flat[at] + fu * (flat[at + right].astype(fu.dtype) - flat[at])
    bottom = flat[at + down] + fu * (flat[at + down + right].astype(fu.dtype) - flat[at + down])
    return np.asarray(top + fv * (bottom - top))


@lru_cache(maxsize=8)
def noise(kind: str) -> NDArray[np.uint8]:
    """(1024, 1024) wrapping noise, mean about 128: "fine", "stones", "blades", "clouds"."""
    rng = np.random.default_rng(sum(kind.encode()))
    white = rng.standard_normal((NOISE_SIZE, NOISE_SIZE)).astype(np.float32)
    mix: Any
    if kind == "fine":
        mix = _wrapped_blur(white, 0.8) + 0.6 * _wrapped_blur(white.T, 3.0) + 0.6 * _wrapped_blur(white[::-1], 12.0)
    elif kind == "stones":
        coarse = _wrapped_blur(white, 5.0)
        mix = np.abs(coarse) + 0.5 * _wrapped_blur(white.T, 1.5) - 0.6 * (np.abs(coarse) < 0.25)
    elif kind == "blades":
        soft = _wrapped_blur(white, 0.7)
        streaks = [np.roll(soft, (k, k * slope // 3), (0, 1)) for k in range(14) for slope in (-2, 1)]
        mix = np.mean(streaks, axis=0) * 3.0
    else:
        mix = sum(_wrapped_blur(np.roll(white, 37 * k, 0), 2.0**k) for k in range(2, 8))
    mix = (mix - mix.mean()) / mix.std()
    return np.asarray(np.clip(128 + 42 * mix, 0, 255), dtype=np.uint8)


def look_up(kind: str, x: Values, y: Values, texel_mm: float) -> Values:
    """Nearest value of a wrapping noise at coordinates in mm, about -1 to 1, float32."""
    table = noise(kind).reshape(-1)
    mask = NOISE_SIZE - 1
    with np.errstate(invalid="ignore"):  # rays that miss the plane have places that nobody looks at
        iu = np.floor(x * (1.0 / texel_mm)).astype(np.int32) & mask
        iv = np.floor(y * (1.0 / texel_mm)).astype(np.int32) & mask
    return np.asarray(_UNIT[table[iv * NOISE_SIZE + iu]])


_UNIT = ((np.arange(256) - 128) / 84.0).astype(np.float32)


def _wrapped_blur(image: NDArray[np.float32], sigma: float) -> NDArray[np.float32]:
    """Gaussian blur on a torus, scaled back to unit spread."""
    f = np.fft.fftfreq(NOISE_SIZE)
    bell = np.exp(-2.0 * (np.pi * sigma * f) ** 2)
    blurred = np.fft.irfft2(np.fft.rfft2(image) * bell[:, None] * bell[None, : NOISE_SIZE // 2 + 1])
    return np.asarray(blurred / blurred.std(), dtype=np.float32)
