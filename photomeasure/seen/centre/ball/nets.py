"""What a ball on its neck looks like: two small networks, one that looks everywhere and one that looks closely.

The solved scene says how large a ball would be and which way is down, so that a picture can be turned and scaled until
every ball in it is upright and of one size. The coarse network looks over the whole region at once and says of every
place how likely a ball's centre is there; the close one looks at a few places again, at half as much detail more, says
the same of each by itself, and how far off the centre is. Both see every pixel against its surroundings
(`convolution.evened`), so that light and exposure drop out. They were fitted to drawn and path-traced yards and to
photographs without a ball (tests/experiments/ball_nets.py). They say where to look and add to the evidence; the centre that is
measured is the outline's.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass
from functools import cache
from importlib import resources

import numpy as np
from numpy.typing import NDArray

from photomeasure.seen.centre.ball.convolution import Float32, convolved, evened, pooled, rectified
from photomeasure.seen.centre.ball.graph import Graph, Step

COARSE_PX, CLOSE_PX = 8.0, 12.0  # radius of a ball in the picture that each of them sees
COARSE_WINDOWS, CLOSE_WINDOWS = (33, 13), (49, 19)
STRIDE = 2  # pixels of the coarse picture from one answer to the next
PATCH = 64  # pixels of a close look

Layer = tuple[Float32, Float32]


@dataclass(frozen=True, slots=True, kw_only=True)
class Nets:
    """Weights and offset of each layer, first to last."""

    coarse: tuple[Layer, ...]
    close: tuple[Layer, ...]


@cache
def nets() -> Nets:
    """What `ball_nets` has written."""
    with (resources.files("photomeasure.seen.centre.ball") / "nets.npz").open("rb") as file:
        stored = {
            name: np.asarray(value, dtype=np.float32) for name, value in np.load(file, allow_pickle=False).items()
        }

    def layers(which: str) -> tuple[Layer, ...]:
        count = sum(name.startswith(which) for name in stored) // 2
        return tuple((stored[f"{which}{i}w"], stored[f"{which}{i}b"]) for i in range(count))

    return Nets(coarse=layers("A"), close=layers("B"))


def likeness(picture: Float32, ignored: NDArray[np.bool_], by: Nets) -> Float32:
    """Logarithm of the odds (h, w), against no ball at all, that a centre is at STRIDE times the place, plus half a pixel.

    picture (H, W): balls are COARSE_PX large; ignored (H, W): printed sheets.
    """
    first, second, third, fourth, fifth, sixth, last = by.coarse
    x = rectified(convolved(evened(picture, ignored, COARSE_WINDOWS), *first, stride=2))
    x = pooled(rectified(convolved(x, *second)))
    x = rectified(convolved(x, *third))
    x = x + rectified(convolved(x, *fourth, apart=2))
    x = x + rectified(convolved(x, *fifth, apart=2))
    x = x + rectified(convolved(x, *sixth))
    return _side_by_side(convolved(x, *last))


def _side_by_side(answers: Float32) -> Float32:
    """Four answers for each place (h, w, 4) as two by two (2 h, 2 w)."""
    rows, columns, _ = answers.shape
    return np.asarray(answers.reshape(rows, columns, 2, 2).swapaxes(1, 2).reshape(2 * rows, 2 * columns))


def quick_likeness(picture: Float32, ignored: NDArray[np.bool_]) -> Float32:
    """`likeness` everywhere by the networks that ship, run by OpenCV: what `glance.sieved_likeness` is held against."""
    return np.asarray(late_coarse(early_coarse(picture, ignored)[None])[0])


def early_coarse(picture: Float32, ignored: NDArray[np.bool_]) -> Float32:
    """What the first three layers of `likeness` say (h / 2, w / 2, C)."""
    return np.asarray(_graphs().early(evened(picture, ignored, COARSE_WINDOWS)[None])[0])


def late_coarse(early: Float32) -> Float32:
    """The answers (N, h, w) of `likeness` from what its first three layers said of N pictures or parts (N, h / 2, w / 2, C)."""
    return np.stack([_side_by_side(answers) for answers in _graphs().late(early)])


class _Graphs(threading.local):
    """Each thread has its own."""

    def __init__(self) -> None:
        by = nets()
        first, second, third, fourth, fifth, sixth, last = by.coarse
        self.early = Graph([
            Step(layer=first, stride=2),
            Step(layer=second, pooled=True),
            Step(layer=third),
        ])  # fmt: skip
        self.late = Graph([
            Step(layer=fourth, apart=2, added=True),
            Step(layer=fifth, apart=2, added=True),
            Step(layer=sixth, added=True),
            Step(layer=last, rectified=False),
        ])  # fmt: skip
        self.close = Graph([
            Step(layer=by.close[0], stride=2),
            *(Step(layer=layer, pooled=True) for layer in by.close[1:4]),
        ])  # fmt: skip


@cache
def _graphs() -> _Graphs:
    return _Graphs()


def quick_close_look(patches: Float32, ignored: NDArray[np.bool_]) -> tuple[Float32, Float32]:
    """`close_look` by the networks that ship, run by OpenCV."""
    even = [evened(one, hidden, CLOSE_WINDOWS) for one, hidden in zip(patches, ignored, strict=True)]
    return _answered(_graphs().close(np.stack(even)), nets())


def close_look(patches: Float32, ignored: NDArray[np.bool_], by: Nets) -> tuple[Float32, Float32]:
    """Logarithm of the odds (N,) that a ball is at the middle of patches (N, PATCH, PATCH), and the centre's place (N, 2)
    against that middle, right and down in radii."""
    even = [evened(one, hidden, CLOSE_WINDOWS) for one, hidden in zip(patches, ignored, strict=True)]
    first, second, third, fourth, _, _ = by.close
    x = rectified(convolved(np.stack(even), *first, stride=2))
    for layer in (second, third, fourth):
        x = pooled(rectified(convolved(x, *layer)))
    return _answered(x, by)


def _answered(x: Float32, by: Nets) -> tuple[Float32, Float32]:
    """The close network's last two layers."""
    fifth, last = by.close[4:]
    flat = rectified(x.reshape(len(x), -1) @ fifth[0] + fifth[1])
    answers = flat @ last[0] + last[1]
    return answers[:, 0], answers[:, 1:]
