"""The ways of taking the picture that coverage is stated for."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from calib.outcome.refusal import Refusal
from photomeasure.asked.bars import Bars
from photomeasure.interval.expanded import expanded
from photomeasure.solution.estimate import Estimate, estimate
from tests.points.simulate import Harm, Shot, Simulated, simulate

LEFT, MIDDLE, RIGHT = (-700.0, -1900.0, 450.0), (0.0, -2000.0, 700.0), (700.0, -1900.0, 450.0)
STANDING = ((0.0, -2000.0, 1500.0),)

GROUPS: dict[str, Shot] = {
    "followed, picked": Shot(),
    "followed, ball": Shot(source="ball"),
    "followed, tag": Shot(source="tag"),
    "followed, tag in the sun": Shot(source="tag", tag_px=0.25),
    "two sheets, ball": Shot(source="ball", aside_mm=(200.0, 300.0), second_mm=(500.0, 0.0)),
    "standing height": Shot(lenses_mm=STANDING),
    "three and ground sheet": Shot(lenses_mm=(LEFT, MIDDLE, RIGHT), ground_sheet=True),
    "bars not measured": Shot(bars=Bars()),
    "1600 px, no EXIF": Shot(size_px=(1600, 1200), focal_35mm=None, corner_px=0.05),
}

FURTHER = {
    "followed, ball": "two sheets, ball",
    "followed, tag in the sun": "followed, tag",
}  # relative that fails with it


def groups() -> list[Any]:
    """Values of a parameter `name`: in every run one group of a kind, further ones by `pytest -m slow`."""
    return [pytest.param(name, marks=pytest.mark.slow) if name in FURTHER else name for name in GROUPS]


def solved_scenes(
    shot: Shot, count: int, seed: int, harm: Harm | None = None
) -> list[tuple[Simulated, Estimate | Refusal]]:
    """`count` simulated rigs, each solved."""
    rng = np.random.default_rng(seed)
    scenes = [simulate(shot, rng, harm) for _ in range(count)]
    return [(scene, estimate(scene.scene)) for scene in scenes]


def errors_mm(scenes: list[tuple[Simulated, Estimate | Refusal]]) -> NDArray[np.float64]:
    """(n, 3) error, u, and U of the interval that is reported, of each scene that was not refused."""
    return np.array(
        [
            (solved.height_mm - scene.height_mm, solved.u_mm, expanded(solved).U_mm)
            for scene, solved in scenes
            if isinstance(solved, Estimate)
        ]
    )
