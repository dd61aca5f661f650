"""Where the rim of a ball is, all around, as a network sees it: the picture about a ball unrolled into a strip.

A ball that mirrors shows at its very rim what is behind it: a stretch of its outline has no contrast, and inside it are rings of
what it mirrors, stronger than the outline itself. A person sees the rim all the same, where textures end. A small network looks at
the strip (angle around the ball down, distance from its middle across) and says for every angle how likely the rim is at each
distance; where it sees nothing it says so by being even. Circles of about the size that is expected are then weighed by
what it says all around, so that a few angles that are surely wrong are outvoted, and what is not known stays wide.
Fitted to path-traced balls (tests/experiments/ball_rims.py).
"""

from __future__ import annotations

import threading
from dataclasses import dataclass
from functools import cache
from importlib import resources

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.seen.centre.ball.convolution import Float32, evened
from photomeasure.seen.centre.ball.graph import Graph, Step
from photomeasure.seen.centre.ball.profiles import Sight, read
from photomeasure.seen.centre.ball.search import SearchedPicture
from photomeasure.seen.centre.ball.sphere import Array

ANGLES, WRAPPED = 128, 16  # and how many of them are told again at both ends, for the strip has none
STEPS, PER_RADIUS, ON_RIM = 64, 54.0, 39  # distances, how many to a radius, and which of them is the expected rim
WINDOWS = (33, 13)
NECK_RAD = np.deg2rad(32.0)  # on either side of the lowest point nothing is counted
FLOOR = 1e-4  # of the share of each distance: nothing is impossible
# Circles that are tried one after the other: how far apart, how far about the best so far, how much larger, how many sizes, and
# every which angle is asked
GRIDS = ((0.03, 0.24, 0.02, 3, 3), (0.01, 0.04, 0.02, 5, 2), (0.0035, 0.0175, 0.012, 5, 1))
WIDE_SHARE = 0.45  # of a grid's reach (a rectangle's is 0.58)


def around_rad() -> Array:
    """Angles (ANGLES,) of the strip's rows, from the lowest point through right and up; as in `profiles`."""
    return np.asarray(-0.5 * np.pi + 2.0 * np.pi * (np.arange(ANGLES) + 0.5) / ANGLES)


def counted() -> Array:
    """(ANGLES,) 1 where the rim is counted, 0 at the neck."""
    below = np.abs(np.angle(np.exp(1j * (around_rad() + 0.5 * np.pi))))
    return np.asarray(below > NECK_RAD, dtype=np.float64)


def strip(view: SearchedPicture, sight: Sight) -> Float32:
    """The picture (ANGLES, STEPS) about a supposed ball, unrolled."""
    t = (np.arange(STEPS) - ON_RIM) / PER_RADIUS * sight.radius_px
    values, _ = read(view.grey, sight.places_px(view, around_rad(), t))
    return np.asarray(values, dtype=np.float32)


def looked_at(picture: Float32) -> Float32:
    """What the network sees (ANGLES + 2 WRAPPED, STEPS, 2) of a strip."""
    whole = np.concatenate([picture[-WRAPPED:], picture, picture[:WRAPPED]])
    return evened(whole, np.zeros(whole.shape, dtype=np.bool_), WINDOWS)


@dataclass(frozen=True, slots=True, kw_only=True)
class RimNet:
    """Weights and offset of each layer, and by how much what neighbouring angles say counts (they are alike)."""

    layers: tuple[tuple[Float32, Float32], ...]
    weight: float


APART = (2, 4, 8, 1)
TRIMMED = (
    0,
    4,
    8,
    1,
)  # rows of these layers about the neck, which is not counted: what is told again and a little more
LEFT_OFF = 2 * sum(TRIMMED) - WRAPPED  # angles at both ends of which nothing is said then


def steps_of(net: RimNet) -> list[Step]:
    """The network's layers."""
    first, second, *middle, last = net.layers
    return [
        Step(layer=first, stride=2),
        Step(layer=second),
        *(
            Step(layer=layer, apart=apart, added=True, trimmed=trimmed)
            for layer, apart, trimmed in zip(middle, APART, TRIMMED, strict=True)
        ),
        Step(layer=last, rectified=False),
    ]


@cache
def rim_net() -> RimNet:
    """What `ball_rims` has written."""
    with (resources.files("photomeasure.seen.centre.ball") / "rim.npz").open("rb") as file:
        stored = {
            name: np.asarray(value, dtype=np.float32) for name, value in np.load(file, allow_pickle=False).items()
        }
    count = sum(name.startswith("w") for name in stored) - 1
    layers = tuple((stored[f"w{i}"], stored[f"b{i}"]) for i in range(count))
    return RimNet(layers=layers, weight=float(stored["weight"]))


class _Graph(threading.local):
    """Each thread has its own."""

    def __init__(self) -> None:
        self.run = Graph(steps_of(rim_net()))


@cache
def _graph() -> _Graph:
    return _Graph()


def rim_logs(picture: Float32) -> Array:
    """Logarithms (ANGLES, STEPS) of how likely the rim is at each distance, of a strip; nan where nothing is said."""
    answers = _graph().run(looked_at(picture)[None])[0].astype(np.float64)
    rows, columns, _ = answers.shape
    y = answers.reshape(rows, columns, 2, 2).swapaxes(1, 2).reshape(2 * rows, 2 * columns)
    share = np.exp(y - y.max(axis=1, keepdims=True))
    share /= share.sum(axis=1, keepdims=True)
    logs = np.full((ANGLES, STEPS), np.nan)
    logs[LEFT_OFF:-LEFT_OFF] = np.log(share + FLOOR)
    return logs


@dataclass(frozen=True, slots=True, kw_only=True)
class RimSeen:
    """The circle by what the network says all around a supposed ball: mean (3,), how far its middle is to the right and up of
    the supposed one and by how much it is larger, in radii, and their covariance (3, 3)."""

    mean: Array
    covariance: Array


def weighed(logs: Array, weight: float, size_u: float) -> RimSeen:
    """Circles about a strip's middle, weighed by what is said at each angle; size_u: standard uncertainty of its size, of a radius."""
    middle, wide, said = np.zeros(3), None, logs.astype(np.float32)
    for number, (_, reach, _, sizes, every) in enumerate(GRIDS):
        circles = middle + _grid(number)
        told = weight * _told(said, circles[::sizes, :2], circles[:sizes, 2], every)
        told -= 0.5 * (circles[:, 2] / size_u) ** 2
        share = np.exp(told - told.max())
        share /= share.sum()
        mean = share @ circles
        off = circles - mean
        covariance = (off * share[:, None]).T @ off
        if wide is not None and np.sqrt(np.diag(covariance)[:2].max()) > WIDE_SHARE * reach:
            return wide  # finer circles would only show a part of what is possible
        wide = RimSeen(mean=mean, covariance=covariance)
        middle = circles[int(told.argmax())]
    assert wide is not None
    return wide


@cache
def _grid(number: int) -> Array:
    """Circles (N, 3) of one of the GRIDS about none, as in `RimSeen`, read-only; of one middle all sizes follow each other."""
    step, reach, size_reach, sizes, _ = GRIDS[number]
    side = np.arange(-reach, reach + 0.5 * step, step)
    right, up, size = np.meshgrid(side, side, np.linspace(-size_reach, size_reach, sizes), indexing="ij")
    circles = np.stack([right.ravel(), up.ravel(), size.ravel()], axis=1)
    circles.setflags(write=False)
    return circles


@cache
def _asked(every: int) -> tuple[NDArray[np.intp], Float32]:
    """Every which of the angles that are counted, and their cosine and sine (2, angles); read-only."""
    used = np.flatnonzero(counted())[::every]
    around = around_rad()[used]
    directions = np.stack([np.cos(around), np.sin(around)]).astype(np.float32)
    for part in (used, directions):
        part.setflags(write=False)
    return used, directions


def _told(logs: Float32, middles: Array, larger: Array, every: int) -> Array:
    """Sum over the angles (N * sizes,) of what is said of circles about N middles (N, 2), each in every size (sizes,), every
    which angle asked and taken for its neighbours."""
    used, (cos, sin) = _asked(every)
    a, b = middles[:, :1].astype(np.float32), middles[:, 1:].astype(np.float32)
    towards, across = a * cos + b * sin, a * sin - b * cos  # (N, angles)
    sizes = larger[:, None].astype(np.float32)
    at = towards[:, None] + sizes - (0.5 * across * across)[:, None] / (1.0 + sizes)  # (N, sizes, angles)
    at *= np.float32(PER_RADIUS)
    at += np.float32(ON_RIM)
    at = at.reshape(-1, len(used))
    row = np.ascontiguousarray(np.broadcast_to(np.arange(len(used), dtype=np.float32), at.shape))
    told = cv2.remap(logs[used], at, row, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(every * told.sum(axis=1, dtype=np.float64))


LOOKS, SETTLED_RADII = 2, 0.015  # a second look where the first moved it by more than about a step of the strip
SIZE_U = 0.015  # of a radius: depth, wear and what a tone curve does


def see_rim(view: SearchedPicture, sight: Sight) -> tuple[Sight, RimSeen] | None:
    """The circle by its rim near a supposed ball: the ball moved to its middle, and what is left to it; None where none can be."""
    seen: RimSeen | None = None
    for _ in range(LOOKS):
        seen = weighed(rim_logs(strip(view, sight)), rim_net().weight, SIZE_U)
        moved = sight.moved(view, *(seen.mean[:2] * sight.radius_px))
        if moved is None:
            return None
        sight = moved
        if np.hypot(*seen.mean[:2]) < SETTLED_RADII:
            break
    assert seen is not None
    return sight, seen
