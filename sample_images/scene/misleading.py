"""Round things that are no tow ball, of about a ball's size, hung and stood about a tow bar; and walls of other places."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np

from scene.mesh import Array, box, rectangle
from scene.noise import Bitmap
from scene.shapes import bolt, cylinder, lathe, standing_on, tube
from scene.stage import Recipe, Stage, bitmap

BALL_RADIUS_MM = 25.0
KINDS = ("cap", "post", "float", "ring", "nut", "wheel", "socket", "pipe")
MATERIALS = (
    "paint", "plastic", "rubber", "zinc", "bright", "chain", "rim", "red-lamp", "amber-lamp", "clear-lamp", "plate", "bar",
    "ball", "hose", "orange",
)  # fmt: skip
CLEAR_MM = 75.0  # beside the ball and in front of it: nothing hides it


def add_misleading(stage: Stage, rng: np.random.Generator, centre_mm: Array, count: int) -> None:
    """`count` round things about the coupling centre (3,), none of them in front of it."""
    for _ in range(count):
        at = centre_mm + [rng.uniform(-400, 400), rng.uniform(-25, 380), rng.uniform(-230, 320)]
        if at[1] < centre_mm[1] + 45 and abs(at[0] - centre_mm[0]) < CLEAR_MM:
            at[0] = centre_mm[0] + np.copysign(CLEAR_MM + rng.uniform(0, 200), at[0] - centre_mm[0])
        at[2] = max(at[2], 70.0)
        radius = BALL_RADIUS_MM * float(rng.uniform(0.9, 1.1) if rng.random() < 0.6 else rng.uniform(0.4, 2.0))
        _add_one(stage, rng, str(rng.choice(KINDS)), at, radius)


def _add_one(stage: Stage, rng: np.random.Generator, kind: str, at: Array, radius: float) -> None:
    material, other = (str(rng.choice(MATERIALS)) for _ in range(2))
    viewer = np.array([rng.normal(0, 0.3), -1.0, rng.normal(0.15, 0.3)])
    viewer /= np.linalg.norm(viewer)
    if kind in ("cap", "socket"):
        stage.add(material, cylinder(at, at + rng.uniform(4, 60) * viewer, radius, bevel_mm=float(rng.uniform(1, 8))))
        if kind == "socket":
            stage.add("hose", cylinder(at, at + 62.0 * viewer, radius * 0.6))
        if rng.random() < 0.6:
            wide, tall = rng.uniform(30, 150), rng.uniform(30, 110)
            stage.add(other, box((at[0] - wide, at[1] + 2, at[2] - tall), (at[0] + wide, at[1] + 14, at[2] + tall)))
    elif kind == "post":  # a pipe or stake with a round top
        dome = [(radius * np.cos(t), radius * np.sin(t)) for t in np.linspace(0, np.pi / 2, 16)]
        foot = (radius * float(rng.choice([1.0, 1.0, 0.2])), -float(rng.uniform(40, 300)))
        outline = [(float(r), float(z)) for r, z in [(0.0, foot[1]), foot, (foot[0], 0.0), *dome]]
        stage.add(material, lathe(outline).moved(standing_on(at, np.array([rng.normal(0, 0.05), rng.normal(0, 0.05), 1.0]))))
    elif kind == "float":
        stage.add_sphere(material, at, radius)
        if rng.random() < 0.6:
            stage.add(other, tube([tuple(at), tuple(at + [rng.normal(0, 8), 0, 300.0])], 2.5))
    elif kind == "ring":
        wire = float(rng.uniform(3, 9))
        turned = [(radius - wire + wire * np.cos(t), wire * np.sin(t)) for t in np.linspace(0, 2 * np.pi, 17)]
        axis = viewer if rng.random() < 0.6 else rng.normal(size=3)
        stage.add(material, lathe([(float(r), float(z)) for r, z in turned]).moved(standing_on(at, axis)))
    elif kind == "nut":
        x, y, z = viewer
        stage.add(material, bolt((float(at[0]), float(at[1]), float(at[2])), (x, y, z), size_mm=2.0 * radius))
    elif kind == "wheel":
        rim = float(rng.uniform(70, 160))
        tyre = [(0.3 * rim, 0.0), (0.8 * rim, -4.0), (rim, 12.0), (rim, 40.0), (0.8 * rim, 55.0), (0.3 * rim, 50.0)]
        stage.add("rubber", lathe(tyre).moved(standing_on(at + [0.0, 60.0, 0.0], viewer)))
        stage.add(material, cylinder(at + [0.0, 60.0, 0.0], at + 10.0 * viewer, radius, bevel_mm=float(rng.uniform(2, 9))))
    else:
        along = np.array([rng.normal(), rng.normal(), 0.3 * rng.normal()])
        stage.add(material, cylinder(at, at + rng.uniform(100, 400) * along / np.linalg.norm(along), radius))


def pictures(folder: Path, rng: np.random.Generator, count: int) -> list[Bitmap]:
    """`count` photographs of a folder, at random, as linear values (H, W, 3)."""
    found = sorted(path for path in folder.iterdir() if path.suffix in (".jpg", ".png"))
    chosen = [cv2.imread(str(found[int(i)])) for i in rng.integers(len(found), size=count)]
    return [np.asarray((picture[..., ::-1] / np.float32(255.0)) ** np.float32(2.2), dtype=np.float32) for picture in chosen]


def add_picture_wall(stage: Stage, rng: np.random.Generator, picture: Bitmap, centre_mm: Array, name: str) -> None:
    """An upright wall that carries a photograph, some way behind the coupling centre (3,)."""
    away, width = float(rng.uniform(350, 2500)), float(rng.uniform(900, 5000))
    tall = width * picture.shape[0] / picture.shape[1]
    corner = centre_mm + [-width * rng.uniform(0.3, 0.7), away, -tall * rng.uniform(0.2, 0.8)]
    stage.define(name, _pictured(picture * np.float32(rng.uniform(0.3, 1.2))))
    whole = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    wall = rectangle(corner, np.array([width, 0.0, 0.0]), np.array([0.0, 0.0, tall]), uv_mm=whole)
    stage.add(name, wall)


def _pictured(rgb: Bitmap) -> Recipe:
    return lambda: {"type": "twosided", "bsdf": {"type": "diffuse", "reflectance": bitmap(np.clip(rgb, 0, 1))}}
