"""Fit the network of `photomeasure.seen.centre.ball.rim` to path-traced balls and write it.

Run by hand, with JAX and best on a graphics card (about a minute there):

    python sample_images/make_scenes.py --kit KIT --rims FOLDER --n 15 --seed 901
    python -m tests.experiments.ball_crops RIGS FOLDER [--only beside]
    python -m tests.experiments.ball_rims FOLDER ... [--seed 0] [--write FILE] [--judge FOLDER]

FOLDER: rims-*.npz, rendered alone (`sample_images/scene/rims.py`) or cut from photographs of rigs (`ball_crops`).
Every tenth rig is kept apart and judged: how far off the weighed circle's
centre is, in radii, and over what it claims. What is learnt is how likely the true circle is among all circles near it, so that
the answer is as wide as it is wrong.
"""

from __future__ import annotations

import argparse
import hashlib
import io
import os
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path
from typing import Any

os.environ["XLA_FLAGS"] = f"{os.environ.get('XLA_FLAGS', '')} --xla_gpu_deterministic_ops=true"  # before JAX starts

import jax
import jax.numpy as jnp
import numpy as np

from calib.outcome.files import write_atomic
from photomeasure.seen.centre.ball.profiles import sight_at
from photomeasure.seen.centre.ball.rim import (
    ANGLES,
    ON_RIM,
    PER_RADIUS,
    SIZE_U,
    STEPS,
    WRAPPED,
    around_rad,
    counted,
    looked_at,
    strip,
    weighed,
)
from photomeasure.seen.centre.ball.search import SearchedPicture
from tests.experiments.ball_nets import _conv

LAYERS = (
    (5, 5, 2, 16),
    (3, 3, 16, 32),
    (3, 3, 32, 32),
    (3, 3, 32, 32),
    (3, 3, 32, 32),
    (3, 3, 32, 32),
    (1, 1, 32, 4),
)
APART = (2, 4, 8, 1)
FINE = 31.0  # whole numbers to one of `evened`
TRIED = 40
JITTERS = 24  # strips of each crop
FAR_RADII, NEAR_RADII, SIZE = 0.2, 0.06, 0.02  # how far off the supposed ball is, first and second look; and its size
ROUNDS, BATCH, RATE = 2500, 64, 3e-3
FLOOR = 1e-4  # of the share of each distance: nothing is impossible
APART_RIGS, TOLD = 10, 400  # every how many rigs one is kept apart; strips of them that are judged
OF_ANGLES = 0.3  # what the single angles count in the loss beside the circle


@dataclass(frozen=True, slots=True, kw_only=True)
class Strips:
    """Evened strips (N, ANGLES + 2 WRAPPED, STEPS, 2) as whole numbers of 1 / FINE, and where the ball truly is (N, 3): right, up and
    larger, in radii."""

    even: np.ndarray
    truth: Any
    rig: np.ndarray
    finish: np.ndarray

    def those(self, which: np.ndarray) -> Strips:
        return Strips(even=self.even[which], truth=self.truth[which], rig=self.rig[which], finish=self.finish[which])


def strips_of(path: Path, rng: np.random.Generator) -> Iterator[tuple[np.ndarray, np.ndarray, str]]:
    """Strips of one rig about places near its ball."""
    stored = dict(np.load(path))
    centre_mm, finish = stored["centre_mm"], str(stored["finish"])
    for name in sorted(key[4:] for key in stored if key.startswith("grey")):
        pose = stored[f"pose{name}"]
        in_cam = pose[:, :3] @ centre_mm + pose[:, 3]
        opening = float(np.arcsin(25.0 / np.linalg.norm(in_cam)))
        for jitter in range(JITTERS):
            view = SearchedPicture(
                grey=np.ascontiguousarray(stored[f"grey{name}"]),
                intrinsics=stored[f"k{name}"],
                cam_from_world=pose[:, :3],
                world_in_cam_mm=pose[:, 3],
                radius_mm=25.0 * float(np.exp(rng.normal(0.0, SIZE))),
                keep_out_px=(),
            )
            flat = in_cam[:2] / in_cam[2] * view.intrinsics[:2] + view.intrinsics[2:4]
            sight = sight_at(view, flat)
            if sight is None:
                continue
            reach = FAR_RADII if jitter % 2 else NEAR_RADII
            far, angle = reach * np.sqrt(rng.random()), rng.uniform(0, 2 * np.pi)
            moved = sight.moved(view, far * np.cos(angle) * sight.radius_px, far * np.sin(angle) * sight.radius_px)
            if moved is None:
                continue
            along = in_cam @ moved.line.forward
            truth = np.array([
                in_cam @ moved.line.right / along / moved.opening_rad,
                in_cam @ moved.line.up / along / moved.opening_rad,
                opening / moved.opening_rad - 1.0,
            ])  # fmt: skip
            even = looked_at(_in_other_light(strip(view, moved), rng))
            yield np.rint(even * FINE).astype(np.int8), truth, finish


def _in_other_light(picture: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Half of them as they are; the others through another tone curve, darker or lighter, noisier."""
    if rng.random() < 0.5:
        return picture
    x = 255.0 * (np.clip(picture, 0, 255) / 255.0) ** np.exp(rng.uniform(-0.35, 0.35)) * rng.uniform(0.5, 1.1)
    return np.asarray(x + rng.uniform(0.0, 15.0) + rng.normal(0.0, rng.uniform(0.0, 2.5), x.shape), dtype=np.float32)


def _strips_of_one(numbered: tuple[int, Path]) -> list[tuple[np.ndarray, np.ndarray, str]]:
    number, path = numbered
    return list(strips_of(path, np.random.default_rng([11, number])))


def read_all(folders: Sequence[Path]) -> Strips:
    even, truth, rig, finish = [], [], [], []
    paths = sorted(path for folder in folders for path in folder.glob("rims-*.npz"))
    with ProcessPoolExecutor(mp_context=get_context("spawn")) as pool:
        for number, some in enumerate(pool.map(_strips_of_one, enumerate(paths), chunksize=4)):
            for one, where, kind in some:
                even.append(one)
                truth.append(where)
                rig.append(number)
                finish.append(kind)
    return Strips(even=np.array(even), truth=np.array(truth, np.float32), rig=np.array(rig), finish=np.array(finish))


def net(p: Any, x: Any) -> Any:
    """Logarithms (N, ANGLES, STEPS) of how likely the rim is at each distance, from evened strips (N, ANGLES + 2 WRAPPED, STEPS, 2)."""
    x = jax.nn.relu(_conv(x, p[0], stride=2))
    x = jax.nn.relu(_conv(x, p[1]))
    for layer, apart in zip(p[2:6], APART, strict=True):
        x = x + jax.nn.relu(_conv(x, layer, apart=apart))
    n, rows, columns, _ = (y := _conv(x, p[6])).shape
    y = y.reshape(n, rows, columns, 2, 2).transpose(0, 1, 3, 2, 4).reshape(n, 2 * rows, 2 * columns)
    y = jax.nn.log_softmax(y[:, WRAPPED:-WRAPPED], axis=-1)
    return jnp.logaddexp(y, jnp.log(FLOOR))


COS, SIN = np.cos(around_rad()).astype(np.float32), np.sin(around_rad()).astype(np.float32)
COUNTED = counted().astype(np.float32)


def rim_at(circle: Any) -> Any:
    """Distance from the expected rim, radii (..., ANGLES), of circles (..., 3)."""
    a, b, c = circle[..., 0:1], circle[..., 1:2], circle[..., 2:3]
    return a * COS + b * SIN + c - 0.5 * (a * SIN - b * COS) ** 2 / (1.0 + c)


def said_of(y: Any, circle: Any) -> Any:
    """Sum over the angles (M,) of what one strip's y (ANGLES, STEPS) says of circles (M, 3)."""
    return (_read(y, rim_at(circle) * PER_RADIUS + ON_RIM) * COUNTED).sum(-1)


def _read(y: Any, at: Any) -> Any:
    """What rows of y (ANGLES, STEPS) say at distances (..., ANGLES), in steps."""
    at = jnp.clip(at, 0.0, STEPS - 1.001)
    low = jnp.floor(at).astype(jnp.int32)
    share, rows = at - low, jnp.arange(ANGLES)
    return y[rows, low] * (1 - share) + y[rows, low + 1] * share


def _grid(reach: float, step: float, sizes: Sequence[float]) -> np.ndarray:
    side = np.arange(-reach, reach + 0.5 * step, step)
    return np.array([[a, b, c] for a in side for b in side for c in sizes], np.float32)


def _asked(at: np.ndarray, steps: int) -> np.ndarray:
    """(ANGLES * steps, M) by which what is said at whole steps is read at distances (M, ANGLES), neck left out: a sum by one product,
    for sums of what was picked out have no order on a graphics card."""
    at = np.clip(at, 0.0, steps - 1.001)
    low = np.floor(at).astype(int)
    share = (at - low).astype(np.float32)
    table = np.zeros((ANGLES, steps, len(at)), np.float32)
    rows, which = np.arange(ANGLES)[None, :], np.arange(len(at))[:, None]
    table[rows, low, which] = (1.0 - share) * COUNTED
    table[rows, low + 1, which] = share * COUNTED
    return table.reshape(ANGLES * steps, len(at))


NEAR = _grid(0.036, 0.006, (-0.02, -0.01, 0.0, 0.01, 0.02))
FAR = _grid(0.27, 0.03, (-0.06, -0.03, 0.0, 0.03, 0.06))
NEAR_VOLUME, FAR_VOLUME = float(np.log(0.006**2 * 0.01)), float(np.log(0.03**2 * 0.03))
AHEAD = 4  # steps on either side of the true rim in which near circles lie


def _far_table() -> np.ndarray:
    return _asked(np.asarray(rim_at(FAR)) * PER_RADIUS + ON_RIM, STEPS)


def _near_table() -> np.ndarray:
    linear = NEAR[:, :1] * COS + NEAR[:, 1:2] * SIN + NEAR[:, 2:]
    return _asked(linear * PER_RADIUS + AHEAD, 2 * AHEAD + 1)


def loss(p: Any, weight: Any, even: Any, truth: Any, key: Any, tables: Any) -> Any:
    """Minus the logarithm of the true circle's density among all circles, and of the true rim's at each angle."""
    n = len(even)
    x = even.astype(jnp.float32) / FINE
    noise, side = jax.random.split(key)
    x = x + 0.05 * jax.random.normal(noise, x.shape)
    flip = jax.random.uniform(side, (n,)) < 0.5
    x = jnp.where(flip[:, None, None, None], x[:, ::-1], x)
    truth = truth * jnp.where(flip[:, None], jnp.array([-1.0, 1.0, 1.0]), 1.0)
    y = net(p, x)
    at = rim_at(truth[:, None, :])[:, 0] * PER_RADIUS + ON_RIM
    off = (jnp.arange(STEPS)[None, None] - at[..., None]) / 0.8
    soft = jax.nn.softmax(-0.5 * off**2, axis=-1)
    of_angles = -((soft * y).sum(-1) * COUNTED).sum(-1) / COUNTED.sum()
    far_table, near_table = tables
    about = jnp.arange(-AHEAD, AHEAD + 1.0)
    near_y = jax.vmap(lambda one, here: _read(one, here[None] + about[:, None]))(y, at)  # (n, 2 AHEAD + 1, ANGLES)
    times = jnp.exp(weight)
    near_said = times * (near_y.transpose(0, 2, 1).reshape(n, -1) @ near_table)
    true_said = times * (near_y[:, AHEAD] * COUNTED).sum(-1)
    far_said = times * (y.reshape(n, -1) @ far_table)
    away = jnp.abs(FAR[None] - truth[:, None])
    far_said = jnp.where((away[..., :2] < 0.039).all(-1) & (away[..., 2] < 0.025), -1e9, far_said)
    total = jnp.logaddexp(
        jax.nn.logsumexp(near_said, axis=1) + NEAR_VOLUME, jax.nn.logsumexp(far_said, axis=1) + FAR_VOLUME
    )
    return 0.1 * (total - true_said).mean() + OF_ANGLES * of_angles.mean()


def train(
    strips: Strips, seed: int, rounds: int, seconds: float | None, keep: Callable[[Any, float], None]
) -> tuple[Any, float]:
    """Layers and weight after so many rounds, or as many as there is time for; keep: called with both now and then."""
    rng = np.random.default_rng(seed)
    p: Any = [
        (rng.normal(0, np.sqrt(2 / np.prod(s[:-1])), s).astype(np.float32), np.zeros(s[-1], np.float32)) for s in LAYERS
    ]
    state: Any = (p, jnp.float32(np.log(0.3)))
    m = v = jax.tree.map(jnp.zeros_like, state)
    tables = (jnp.asarray(_far_table()), jnp.asarray(_near_table()))

    def step(state: Any, m: Any, v: Any, t: Any, even: Any, truth: Any, key: Any, rate: Any, tables: Any) -> Any:
        value, slope = jax.value_and_grad(lambda s: loss(s[0], s[1], even, truth, key, tables))(state)
        size = jnp.sqrt(sum((g * g).sum() for g in jax.tree.leaves(slope)))
        slope = jax.tree.map(lambda g: g * jnp.minimum(1.0, 5.0 / (size + 1e-9)), slope)
        m = jax.tree.map(lambda a, b: 0.9 * a + 0.1 * b, m, slope)
        v = jax.tree.map(lambda a, b: 0.999 * a + 0.001 * b * b, v, slope)

        def moved(w: Any, a: Any, b: Any) -> Any:
            return w - rate * (a / (1 - 0.9**t) / (jnp.sqrt(b / (1 - 0.999**t)) + 1e-8) + 1e-4 * w)

        return jax.tree.map(moved, state, m, v), m, v, value

    quick = jax.jit(step)

    def taken(t: int, state: Any, m: Any, v: Any, own: Any) -> Any:
        now = RATE * min(1.0, t / 200) * (0.495 * (1 + np.cos(np.pi * t / rounds)) + 0.01)
        index = np.random.default_rng([seed, t]).integers(0, len(strips.truth), BATCH)
        return quick(state, m, v, float(t), strips.even[index], strips.truth[index], own, float(now), tables)

    key, began = jax.random.PRNGKey(seed + 7), time.monotonic()
    if seconds is not None:  # steps that are thrown away tell the pace
        for t in range(1, TRIED + 1):
            if t == TRIED // 2:
                paced = time.monotonic()
            float(taken(t, state, m, v, key)[3])
        pace = (time.monotonic() - paced) / (TRIED // 2 + 1)
        rounds = max(1000, int((seconds - (time.monotonic() - began)) / pace) // 500 * 500)
        print(f"{1000 * pace:.1f} ms a step: {rounds} rounds", flush=True)
    for t in range(1, rounds + 1):
        key, own = jax.random.split(key)
        state, m, v, value = taken(t, state, m, v, own)
        if t % 500 == 0:
            print(
                f"step {t}: loss {float(value):.3f}, weight {float(jnp.exp(state[1])):.3f}, {time.monotonic() - began:.0f} s",
                flush=True,
            )
        if t % 1000 == 0:
            keep(*_plain(state))
    return _plain(state)


def _plain(state: Any) -> tuple[Any, float]:
    return [(np.asarray(w, np.float32), np.asarray(b, np.float32)) for w, b in state[0]], float(jnp.exp(state[1]))


def written(layers: Any, weight: float) -> bytes:
    arrays: dict[str, Any] = {}
    for i, (w, b) in enumerate(layers):
        arrays |= {f"w{i}": w.astype(np.float16), f"b{i}": b}
    buffer = io.BytesIO()
    np.savez_compressed(buffer, allow_pickle=False, weight=np.float32(weight), **arrays)
    return buffer.getvalue()


def told(strips: Strips, layers: Any, weight: float) -> None:
    """Print how far off the weighed circle's middle is, in radii, and over what it claims, for each finish."""
    index = np.random.default_rng(0).permutation(len(strips.truth))[:TOLD]
    parts = np.array_split(index, max(1, len(index) // 50))
    logs = np.concatenate(
        [np.asarray(net(layers, jnp.asarray(strips.even[part], jnp.float32) / FINE)) for part in parts]
    )
    circles = [weighed(one.astype(np.float64), weight, SIZE_U) for one in logs]
    off = np.array([seen.mean[:2] for seen in circles]) - strips.truth[index, :2]
    z = off / np.sqrt([np.diag(seen.covariance)[:2] for seen in circles])
    for finish in sorted(set(strips.finish[index])):
        some = strips.finish[index] == finish
        median, most, nearly_all = np.quantile(np.linalg.norm(off[some], axis=1), (0.5, 0.9, 0.98))
        print(
            f"{finish}: {some.sum()}, off by radii: median {median:.4f}, 90 % {most:.4f}, 98 % {nearly_all:.4f}, "
            f"rms an axis {np.sqrt((off[some] ** 2).mean()):.4f}; z rms {np.sqrt((z[some] ** 2).mean()):.2f}"
        )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("folders", type=Path, nargs="+")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--rounds", type=int, default=ROUNDS)
    parser.add_argument(
        "--seconds", type=float, help="as many thousand rounds as there is time for, in place of --rounds"
    )
    parser.add_argument("--judge", type=Path, nargs="*", default=[], help="folders of rigs that are judged only")
    parser.add_argument("--write", type=Path)
    options = parser.parse_args()
    strips = read_all(options.folders)
    apart = strips.rig % APART_RIGS == APART_RIGS - 1
    print(f"{len(strips.truth)} strips of {len(set(strips.rig))} rigs, {apart.sum()} kept apart", flush=True)

    def keep(layers: Any, weight: float) -> None:
        if options.write:
            write_atomic(options.write, written(layers, weight))

    layers, weight = train(strips.those(~apart), options.seed, options.rounds, options.seconds, keep)
    keep(layers, weight)
    print("sha256", hashlib.sha256(written(layers, weight)).hexdigest())
    told(strips.those(apart), layers, weight)
    if options.judge:
        print("rigs of other folders:")
        told(read_all(options.judge), layers, weight)


if __name__ == "__main__":
    main()
