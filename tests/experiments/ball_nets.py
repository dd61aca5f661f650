"""Fit the two networks of `photomeasure.seen.centre.ball.nets` and write them.

Run by hand, with JAX and best on a graphics card (a minute or two there):

    python -m tests.experiments.ball_nets --drawn 0 450 --yard 301000 301240 --traced FOLDER ... --photographs FOLDER [--write]

Drawn, yard: seeds of `ball_cases` (those that judge are kept apart). Traced: folders of `sample_images/make_scenes.py --balls`, best
with `--varied --photographs`. Photographs: pictures without a tow ball, looked at in several sizes. Every step sees each
example turned, scaled, mirrored, partly hidden and in other light. The coarse network learns which of all places of a
picture is the ball, or that none is; the close one whether the middle of a patch is near a ball, and where the centre is.
What is hard is chosen by the coarse network for the close one.

The same command writes the same file, byte for byte, on one kind of machine (`ball_study.md`): sums on a graphics card are
told to keep their order. The networks that ship are not from this script: they came from a forerunner of it, which was not kept, and
two of the sets that it learnt from were not kept either. The script was written from it; it uses the same layers, losses, changes
of the pictures and steps, with a seed. Networks of its own need `ball_evidence` run anew, for their answers are part of the evidence.
"""

from __future__ import annotations

import argparse
import io
import os
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

os.environ["XLA_FLAGS"] = f"{os.environ.get('XLA_FLAGS', '')} --xla_gpu_deterministic_ops=true"  # before JAX starts

import cv2
import jax
import jax.numpy as jnp
import numpy as np
from jax import lax
from numpy.typing import NDArray

from calib.outcome.files import write_atomic
from photomeasure.seen.centre.ball import nets
from photomeasure.seen.centre.ball.convolution import FLOOR, MOST
from photomeasure.seen.centre.ball.glance import peaks
from photomeasure.seen.centre.ball.nets import CLOSE_PX, CLOSE_WINDOWS, COARSE_PX, COARSE_WINDOWS, PATCH, Nets, likeness
from photomeasure.seen.centre.ball.search import SearchedPicture, radius_map, search_region, turned
from tests.experiments.ball_cases import draw_case, draw_yard
from tests.experiments.ball_traced import load

Float = NDArray[np.float64]
Bool = NDArray[np.bool_]

COARSE_SHAPE, CLOSE_SHAPE = (288, 352), (432, 520)  # every picture is laid into one of this size
CROP = 176
COARSE_LAYERS = (
    (5, 5, 2, 16),
    (3, 3, 16, 24),
    (3, 3, 24, 40),
    (3, 3, 40, 40),
    (3, 3, 40, 40),
    (3, 3, 40, 40),
    (1, 1, 40, 4),
)
CLOSE_LAYERS = ((5, 5, 2, 16), (3, 3, 16, 32), (3, 3, 32, 48), (3, 3, 48, 64), (1024, 48), (48, 3))
ON_PX, OFF_PX = 2.2, 5.0  # nearer is the ball, further is none
NEAR_RADII, FAR_RADII = 0.6, 0.95
HARD = 12
STEPS, BATCH = 3500, 64


@dataclass(frozen=True, slots=True, kw_only=True)
class Plane:
    """A picture at one of the two scales: grey, what is printed, where a centre may be, the ball (x, y) or None."""

    grey: NDArray[np.uint8]
    ignored: Bool
    allowed: Bool
    ball: Float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """Both planes, and the radius of a ball (9, 9) over the close one; traced counts more."""

    coarse: Plane
    close: Plane
    radius_px: Float
    count: float


def shot(view: SearchedPicture, centre_px: Float | None, count: float) -> Shot | None:
    region = search_region(view)
    small, large = (None, None) if region is None else (turned(view, region, COARSE_PX), turned(view, region, CLOSE_PX))
    if small is None or large is None:
        return None
    planes = []
    for one in (small, large):
        turn, origin = one.px_from_turned[:, :2], one.px_from_turned[:, 2]
        ball = None if centre_px is None else np.asarray(np.linalg.solve(turn, centre_px - origin), dtype=np.float64)
        whole = one.part()
        grey = np.clip(np.rint(whole.picture), 0, 255).astype(np.uint8)
        planes.append(Plane(grey=grey, ignored=whole.ignored, allowed=one.allowed() & ~whole.ignored, ball=ball))
    columns, rows = large.size
    y, x = np.meshgrid(np.linspace(0, rows - 1, 9), np.linspace(0, columns - 1, 9), indexing="ij")
    turn, origin = large.px_from_turned[:, :2], large.px_from_turned[:, 2]
    px = np.stack([x, y], axis=-1) @ turn.T + origin
    radius = radius_map(view, px[..., 0], px[..., 1]) / np.sqrt(abs(np.linalg.det(turn)))
    return Shot(coarse=planes[0], close=planes[1], radius_px=np.nan_to_num(radius, nan=CLOSE_PX), count=count)


def photograph_shots(folder: Path, rng: np.random.Generator, times: int = 3) -> Iterator[Shot]:
    for path in sorted(p for p in folder.rglob("*") if p.suffix.lower() in (".jpg", ".jpeg", ".png")):
        grey = np.asarray(cv2.imread(str(path), cv2.IMREAD_GRAYSCALE), dtype=np.uint8)
        for _ in range(times):
            scale = float(rng.uniform(300, 900)) / max(grey.shape)
            corner = rng.random(2)
            planes = []
            for ball_px, shape in ((COARSE_PX, COARSE_SHAPE), (CLOSE_PX, CLOSE_SHAPE)):
                by = scale * ball_px / COARSE_PX
                size = max(1, round(grey.shape[1] * by)), max(1, round(grey.shape[0] * by))
                whole = np.asarray(cv2.resize(grey, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
                y, x = (int(c * max(0, n - m)) for c, n, m in zip(corner, whole.shape, shape, strict=True))
                part = whole[y : y + shape[0], x : x + shape[1]]
                free = np.ones(part.shape, dtype=np.bool_)
                planes.append(Plane(grey=part, ignored=~free, allowed=free, ball=None))
            yield Shot(coarse=planes[0], close=planes[1], radius_px=np.full((9, 9), CLOSE_PX), count=0.5)


@dataclass(frozen=True, slots=True, kw_only=True)
class Laid:
    """Planes of all shots as arrays of one shape."""

    grey: Any  # (N, H, W)
    kept: Any  # (N, H, W)
    ball: Any  # (N, 2), far away where there is none


def laid(planes: Sequence[Plane], shape: tuple[int, int]) -> Laid:
    grey, kept = np.zeros((len(planes), *shape), np.uint8), np.zeros((len(planes), *shape), np.bool_)
    for i, plane in enumerate(planes):
        rows, columns = min(shape[0], plane.grey.shape[0]), min(shape[1], plane.grey.shape[1])
        grey[i, :rows, :columns] = plane.grey[:rows, :columns]
        kept[i, :rows, :columns] = ~plane.ignored[:rows, :columns]
    ball = np.array([[-1e4, -1e4] if plane.ball is None else plane.ball for plane in planes], np.float32)
    return Laid(grey=jnp.asarray(grey), kept=jnp.asarray(kept), ball=jnp.asarray(ball))


def _conv(x: Any, layer: Any, stride: int = 1, apart: int = 1) -> Any:
    weights, offset = layer
    reach = [((size // 2) * apart,) * 2 for size in weights.shape[:2]]
    form = ("NHWC", "HWIO", "NHWC")
    return (
        lax.conv_general_dilated(
            x, weights, (stride, stride), reach, rhs_dilation=(apart, apart), dimension_numbers=form
        )
        + offset
    )


def _pool(x: Any) -> Any:
    return lax.reduce_window(x, -jnp.inf, lax.max, (1, 2, 2, 1), (1, 2, 2, 1), "VALID")


def coarse_net(p: Any, x: Any) -> Any:
    """As `nets.likeness`, of evened pictures (N, H, W, 2)."""
    x = _pool(jax.nn.relu(_conv(jax.nn.relu(_conv(x, p[0], stride=2)), p[1])))
    x = jax.nn.relu(_conv(x, p[2]))
    x = x + jax.nn.relu(_conv(x, p[3], apart=2))
    x = x + jax.nn.relu(_conv(x, p[4], apart=2))
    x = x + jax.nn.relu(_conv(x, p[5]))
    n, rows, columns, _ = (y := _conv(x, p[6])).shape
    return y.reshape(n, rows, columns, 2, 2).transpose(0, 1, 3, 2, 4).reshape(n, 2 * rows, 2 * columns)


def close_net(p: Any, x: Any) -> Any:
    """As `nets.close_look`: (N, 3)."""
    x = jax.nn.relu(_conv(x, p[0], stride=2))
    for layer in p[1:4]:
        x = _pool(jax.nn.relu(_conv(x, layer)))
    return jax.nn.relu(x.reshape(len(x), -1) @ p[4][0] + p[4][1]) @ p[5][0] + p[5][1]


def _box(x: Any, width: int) -> Any:
    one = jnp.ones((width, 1, 1, 1), x.dtype)
    form, half = ("NHWC", "HWIO", "NHWC"), width // 2
    y = lax.conv_general_dilated(x[..., None], one, (1, 1), [(half, half), (0, 0)], dimension_numbers=form)
    y = lax.conv_general_dilated(y, one.transpose(1, 0, 2, 3), (1, 1), [(0, 0), (half, half)], dimension_numbers=form)
    return y[..., 0] / width**2


def _evened(x: Any, kept: Any, windows: tuple[int, ...]) -> Any:
    level, planes = x * kept, []
    for width in windows:
        share = jnp.maximum(_box(kept, width), 1e-3)
        mean = _box(level, width) / share
        spread = jnp.sqrt(jnp.maximum(_box(level * level, width) / share - mean * mean, 0.0))
        planes.append(jnp.clip((x - mean) / (spread + FLOOR), -MOST, MOST) * kept)
    return jnp.stack(planes, -1)


def _sampled(grey: Any, kept: Any, xy: Any) -> tuple[Any, Any]:
    rows, columns = grey.shape
    x, y = xy[..., 0], xy[..., 1]
    inside = (x >= 0) & (y >= 0) & (x <= columns - 1) & (y <= rows - 1)
    x, y = jnp.clip(x, 0, columns - 1.001), jnp.clip(y, 0, rows - 1.001)
    i, j = x.astype(jnp.int32), y.astype(jnp.int32)
    fx, fy = x - i, y - j

    def between(a: Any) -> Any:
        return (a[j, i] * (1 - fx) + a[j, i + 1] * fx) * (1 - fy) + (a[j + 1, i] * (1 - fx) + a[j + 1, i + 1] * fx) * fy

    free = inside & (between(kept.astype(jnp.float32)) > 0.5)
    return between(grey.astype(jnp.float32)), free.astype(jnp.float32)


def _in_other_light(x: Any, key: Any) -> Any:
    keys = jax.random.split(key, 12)

    def drawn(i: int, low: float, high: float) -> Any:
        return jax.random.uniform(keys[i], (), minval=low, maxval=high)

    x = 255.0 * (jnp.clip(x, 0, 255) / 255.0) ** jnp.exp(drawn(0, -0.5, 0.55))
    x = jnp.where(drawn(1, 0, 1) < 0.06, 255.0 - x, x)
    right, down = jnp.linspace(-1, 1, x.shape[1])[None], jnp.linspace(-1, 1, x.shape[0])[:, None]
    x = x * jnp.exp(drawn(2, -0.4, 0.4) * right + drawn(3, -0.4, 0.4) * down) * drawn(4, 0.3, 1.15) + drawn(5, 0, 30)
    kernel = jnp.exp(-0.5 * (jnp.arange(-4, 5) / drawn(6, 0.35, 1.3)) ** 2)
    kernel, form = kernel / kernel.sum(), ("NHWC", "HWIO", "NHWC")
    soft = jnp.pad(x, ((4, 4), (4, 4)), mode="edge")[None, ..., None]
    soft = lax.conv_general_dilated(soft, kernel.reshape(9, 1, 1, 1), (1, 1), "VALID", dimension_numbers=form)
    soft = lax.conv_general_dilated(soft, kernel.reshape(1, 9, 1, 1), (1, 1), "VALID", dimension_numbers=form)[
        0, ..., 0
    ]
    x = x + jnp.where(drawn(7, 0, 1) < 0.5, drawn(8, -0.6, 1.0), 0.0) * (soft - x)
    noise = jnp.where(drawn(9, 0, 1) < 0.6, drawn(10, 0, 5.0), 0.0)
    return x + noise * jax.random.normal(keys[11], x.shape)


def _changed(all_of: Laid, i: Any, centre: Any, key: Any, size: int, scale: Any) -> tuple[Any, Any, Any]:
    """A square of a picture about a place, turned, scaled, mirrored, partly hidden, in other light; and its ball."""
    keys = jax.random.split(key, 6)
    angle = 0.07 * jax.random.normal(keys[0])
    by = scale * jnp.exp(jax.random.uniform(keys[1], (), minval=-0.13, maxval=0.15))
    flip = jnp.where(jax.random.uniform(keys[2]) < 0.5, 1.0, -1.0)
    cos, sin = jnp.cos(angle), jnp.sin(angle)
    turn = jnp.array([[cos, -sin], [sin, cos]]) @ jnp.diag(jnp.array([flip, 1.0])) * by
    middle = 0.5 * (size - 1)
    grid = jnp.stack(jnp.meshgrid(jnp.arange(size) - middle, jnp.arange(size) - middle, indexing="xy"), -1)
    x, kept = _sampled(all_of.grey[i], all_of.kept[i], grid @ turn.T + centre)
    ball = jnp.linalg.solve(turn, all_of.ball[i] - centre) + middle
    low, extent = jax.random.uniform(keys[3], (2,)) * size, jax.random.uniform(keys[4], (2,)) * size * 0.25
    down, right = jnp.mgrid[0:size, 0:size]
    whether, level, light = jax.random.split(keys[5], 3)
    off = low + 0.5 * extent - ball
    clear = jnp.hypot(off[0], off[1]) > 0.5 * jnp.hypot(extent[0], extent[1]) + 0.06 * size
    within = (right > low[0]) & (right < low[0] + extent[0]) & (down > low[1]) & (down < low[1] + extent[1])
    hidden = within & clear & (jax.random.uniform(whether) < 0.25)
    return _in_other_light(jnp.where(hidden, jax.random.uniform(level) * 255.0, x), light), kept, ball


def coarse_loss(all_of: Laid, allowed: Any) -> Callable[[Any, Any, Any], Any]:
    """Of parameters, indices and a key: minus the logarithm of the share that falls to the ball, or to none."""

    def loss(p: Any, index: Any, key: Any) -> Any:
        def one(i: Any, own: Any) -> Any:
            a, b, c, d = jax.random.split(own, 4)
            low, high = allowed[i, :2], allowed[i, 2:]
            near = (all_of.ball[i, 0] > -1e3) & (jax.random.uniform(b) < 0.7)
            about = all_of.ball[i] + (jax.random.uniform(c, (2,)) - 0.5) * CROP * 0.8
            return _changed(
                all_of, i, jnp.where(near, about, low + jax.random.uniform(a, (2,)) * (high - low)), d, CROP, 1.0
            )

        x, kept, ball = jax.vmap(one)(index, jax.random.split(key, len(index)))
        odds = coarse_net(p, _evened(x, kept, COARSE_WINDOWS))
        down, right = jnp.mgrid[0 : CROP // 2, 0 : CROP // 2] * 2.0 + 0.5
        off = jnp.hypot(right[None] - ball[:, 0, None, None], down[None] - ball[:, 1, None, None])
        free = kept[:, ::2, ::2] > 0.5
        on, none = (off < ON_PX) & free, (off >= OFF_PX) & free
        of_ball = jax.nn.logsumexp(jnp.where(on, odds, -1e9), (1, 2))
        of_others = jnp.logaddexp(jax.nn.logsumexp(jnp.where(none, odds, -1e9), (1, 2)), 0.0)
        right_share = jnp.where(on.any((1, 2)), of_ball - jnp.logaddexp(of_ball, of_others), -of_others)
        return -right_share.mean() + 1e-4 * (jnp.where(free, odds, 0.0) ** 2).mean()

    return loss


def close_loss(all_of: Laid, hard: Any, radius: Any, shape: Any) -> Callable[[Any, Any, Any], Any]:
    """Of parameters, indices and a key: logistic loss of ball or none, and how far off the centre is seen."""

    def loss(p: Any, index: Any, key: Any) -> Any:
        def one(i: Any, own: Any) -> Any:
            a, b, c, d, e = jax.random.split(own, 5)
            aside = jax.random.uniform(c, (2,), minval=-1, maxval=1)
            reach = jnp.where(jax.random.uniform(e) < 0.7, 5.0, 14.0)
            is_ball = (all_of.ball[i, 0] > -1e3) & (jax.random.uniform(a) < 0.55)
            place = jnp.where(
                is_ball, all_of.ball[i] + aside * reach, hard[i, jax.random.randint(b, (), 0, HARD)] + 3 * aside
            )
            cell = jnp.clip(jnp.round(place / shape[i] * 8), 0, 8).astype(jnp.int32)
            return _changed(all_of, i, place, d, PATCH, radius[i, cell[1], cell[0]] / CLOSE_PX)

        x, kept, ball = jax.vmap(one)(index, jax.random.split(key, len(index)))
        y = close_net(p, _evened(x, kept, CLOSE_WINDOWS))
        off = (ball - 0.5 * (PATCH - 1)) / CLOSE_PX
        far = jnp.hypot(off[:, 0], off[:, 1])
        on = far < NEAR_RADII
        wrong = jnp.where(on, jax.nn.softplus(-y[:, 0]), jnp.where(far < FAR_RADII, 0.0, jax.nn.softplus(y[:, 0])))
        missed = jnp.where(on, jnp.sqrt(((y[:, 1:] - off) ** 2).sum(-1) + 1e-4), 0.0)
        return wrong.mean() + 2.0 * missed.mean()

    return loss


def descended(
    loss: Callable[[Any, Any, Any], Any],
    shapes: Sequence[tuple[int, ...]],
    draw: Callable[[], Any],
    rate: float,
    seed: int,
) -> Any:
    """Parameters after STEPS of Adam, the rate warmed up and let down as a cosine."""
    rng = np.random.default_rng(seed)
    p: Any = [
        (rng.normal(0, np.sqrt(2 / np.prod(s[:-1])), s).astype(np.float32), np.zeros(s[-1], np.float32)) for s in shapes
    ]
    m = v = jax.tree.map(jnp.zeros_like, p)

    def step(p: Any, m: Any, v: Any, t: Any, index: Any, key: Any, rate: Any) -> Any:
        value, slope = jax.value_and_grad(loss)(p, index, key)
        m = jax.tree.map(lambda a, b: 0.9 * a + 0.1 * b, m, slope)
        v = jax.tree.map(lambda a, b: 0.999 * a + 0.001 * b * b, v, slope)

        def moved(w: Any, a: Any, b: Any) -> Any:
            return w - rate * (a / (1 - 0.9**t) / (jnp.sqrt(b / (1 - 0.999**t)) + 1e-8) + 1e-4 * w)

        return jax.tree.map(moved, p, m, v), m, v, value

    quick = jax.jit(step)
    key, began = jax.random.PRNGKey(seed + 7), time.monotonic()
    for t in range(1, STEPS + 1):
        key, own = jax.random.split(key)
        now = rate * min(1.0, t / 200) * (0.49 * (1 + np.cos(np.pi * t / STEPS)) + 0.02)
        p, m, v, value = quick(p, m, v, float(t), draw(), own, now)
        if t % 500 == 0:
            print(f"step {t}: loss {float(value):.3f}, {time.monotonic() - began:.0f} s", flush=True)
    return [(np.asarray(w, dtype=np.float32), np.asarray(b, dtype=np.float32)) for w, b in p]


def hard_places(plane: Plane, by: Nets) -> Float:
    """The HARD places (HARD, 2) without a ball that the coarse network holds most like one, in the close plane's pixels."""
    odds = likeness(plane.grey.astype(np.float32), plane.ignored, by)
    allowed = plane.allowed[: 2 * odds.shape[0] : 2, : 2 * odds.shape[1] : 2]
    odds[: allowed.shape[0], : allowed.shape[1]][~allowed] = -np.inf
    row, column = peaks(odds, HARD)
    places = 2.0 * np.stack([column, row], axis=1) + 0.5
    if plane.ball is not None:
        places = places[np.linalg.norm(places - plane.ball, axis=1) > OFF_PX + 1.0]
    if not len(places):
        places = np.full((1, 2), 40.0)
    return np.asarray(places[np.arange(HARD) % len(places)] * CLOSE_PX / COARSE_PX)


def train(shots: Sequence[Shot], seed: int = 0) -> Nets:
    rng = np.random.default_rng(seed)
    share = np.array([one.count for one in shots]) / sum(one.count for one in shots)

    def draw(count: int) -> Callable[[], Any]:
        return lambda: jnp.asarray(rng.choice(len(shots), count, p=share))

    places = [np.argwhere(one.coarse.allowed)[:, ::-1] for one in shots]
    allowed = jnp.asarray(
        np.array([[*at.min(axis=0), *at.max(axis=0)] if len(at) else [0, 0, 9, 9] for at in places], np.float32)
    )
    small = laid([one.coarse for one in shots], COARSE_SHAPE)
    first = descended(coarse_loss(small, allowed), COARSE_LAYERS, draw(BATCH), 3e-3, seed)
    by = Nets(coarse=tuple(first), close=())
    hard = jnp.asarray(np.array([hard_places(one.coarse, by) for one in shots], np.float32))
    radius = jnp.asarray(np.array([one.radius_px for one in shots], np.float32))
    shape = jnp.asarray(np.array([one.close.grey.shape[::-1] for one in shots], np.float32))
    large = laid([one.close for one in shots], CLOSE_SHAPE)
    second = descended(close_loss(large, hard, radius, shape), CLOSE_LAYERS, draw(4 * BATCH), 2e-3, seed)
    return Nets(coarse=tuple(first), close=tuple(second))


def written(by: Nets) -> bytes:
    arrays: dict[str, NDArray[np.generic]] = {}
    for which, layers in (("A", by.coarse), ("B", by.close)):
        for i, (weights, offset) in enumerate(layers):
            arrays |= {f"{which}{i}w": weights.astype(np.float16), f"{which}{i}b": offset}
    buffer = io.BytesIO()
    np.savez_compressed(buffer, allow_pickle=False, **arrays)
    return buffer.getvalue()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--drawn", type=int, nargs=2, default=(0, 450))
    parser.add_argument("--yard", type=int, nargs=2, default=(301000, 301240))
    parser.add_argument("--traced", type=Path, nargs="*", default=[])
    parser.add_argument("--photographs", type=Path, nargs="*", default=[])
    parser.add_argument("--write", action="store_true")
    options = parser.parse_args()
    pictures = [draw_case(seed) for seed in range(*options.drawn)] + [draw_yard(seed) for seed in range(*options.yard)]
    found = [shot(picture.view(), picture.centre_px, 1.0) for picture in pictures]
    for path in sorted(path for folder in options.traced for path in folder.glob("ball-*.json")):
        for chat in (False, True):
            view, centre, _ = load(path, chat=chat)
            found.append(shot(view, centre, 1.0))
    shots = [one for one in found if one is not None]
    for folder in options.photographs:
        shots += photograph_shots(folder, np.random.default_rng(2))
    by = train(shots)
    if options.write:
        write_atomic(Path(nets.__file__).with_name("nets.npz"), written(by))


if __name__ == "__main__":
    main()
