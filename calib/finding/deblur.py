"""Taking a blur out of a picture, as far as a code has to be read: the picture that, blurred, would give the one that was taken.

Richardson (1972) and Lucy (1974): the guess is multiplied by the blurred ratio of what was taken to what the guess would
give. Light stays positive and edges do not ring as they do when a picture is sharpened, which is what breaks a code.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

BLUR_PX, ROUNDS = 1.6, 20  # `tests/experiments/kit_second.md`
_FLOOR = 1.0  # of a grey level, so that black is not nothing


def deblurred(grey: NDArray[np.uint8], blur_px: float = BLUR_PX, rounds: int = ROUNDS) -> NDArray[np.uint8]:
    """A picture (h, w) as it may have been before a Gaussian blur of that sigma; what it shows is for looking at, not for measuring."""
    taken = grey.astype(np.float32) + np.float32(_FLOOR)
    guess = taken.copy()
    for _ in range(rounds):
        ratio = taken / np.maximum(cv2.GaussianBlur(guess, (0, 0), blur_px), 1e-3)
        guess *= cv2.GaussianBlur(ratio, (0, 0), blur_px)
    return np.asarray(np.clip(guess - _FLOOR, 0, 255), dtype=np.uint8)
