"""The ways of taking the picture that coverage is stated for, and the interval that goes with an estimate."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from calib.outcome import Refusal
from photomeasure.budget import sensitivities
from photomeasure.estimate import Estimate, estimate
from photomeasure.montecarlo import COVERAGE, row_inputs
from photomeasure.priors import Bars
from tests.points.simulate import Harm, Shot, Simulated, simulate

LEFT, MIDDLE, RIGHT = (-700.0, -1900.0, 450.0), (0.0, -2000.0, 700.0), (700.0, -1900.0, 450.0)
STANDING = ((0.0, -2000.0, 1500.0),)

GROUPS: dict[str, Shot] = {
    "followed, picked": Shot(),
    "followed, ball": Shot(source="ball"),
    "followed, tag": Shot(source="tag"),
    "standing height": Shot(lenses_mm=STANDING),
    "three and ground sheet": Shot(lenses_mm=(LEFT, MIDDLE, RIGHT), ground_sheet=True),
    "bars not measured": Shot(bars=Bars()),
    "1600 px, no EXIF": Shot(size_px=(1600, 1200), focal_35mm=None, corner_px=0.05),
}


def coverage_factor(solved: Estimate, rng: np.random.Generator, draws: int = 4000) -> float:
    """Half-width over u of the 95.45 % interval when every row keeps its own distribution (first order, JCGM 101).

    2 where everything is normal; less where one rectangular quantity dominates, such as depth from standing height.
    `tests.test_montecarlo` holds the full Monte Carlo against it.
    """
    weights, inputs = sensitivities(solved), row_inputs(solved)
    normal = np.array([entry.distribution.__class__.__name__ == "Normal" for entry in inputs])
    sums = rng.normal(0.0, float(np.sqrt((weights[normal] ** 2).sum())), draws)
    for weight in weights[~normal]:
        sums = sums + weight * np.sqrt(3.0) * rng.uniform(-1.0, 1.0, draws)
    return float(np.quantile(np.abs(sums), COVERAGE)) / float(np.sqrt((weights**2).sum()))


def solved_scenes(
    shot: Shot, count: int, seed: int, harm: Harm | None = None
) -> list[tuple[Simulated, Estimate | Refusal]]:
    """`count` simulated rigs, each solved."""
    rng = np.random.default_rng(seed)
    scenes = [simulate(shot, rng, harm) for _ in range(count)]
    return [(scene, estimate(scene.scene)) for scene in scenes]


def errors_mm(scenes: list[tuple[Simulated, Estimate | Refusal]]) -> NDArray[np.float64]:
    """(n, 3) error, u, and factor of the interval of each scene that was not refused."""
    rng = np.random.default_rng(99)
    return np.array(
        [
            (solved.height_mm - scene.height_mm, solved.u_mm, coverage_factor(solved, rng))
            for scene, solved in scenes
            if isinstance(solved, Estimate)
        ]
    )
