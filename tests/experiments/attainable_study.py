"""How well the height can be known at best by hands that do what `sample_images/scene/hands.py` draws, however good the pictures. By hand.

    python -m tests.experiments.attainable_study [--count N]

No picture and no solution: the standard uncertainty that the model's own rows leave (`estimate.finish`), root mean square over
scenes drawn as the rigs are (coupling 40-220 mm aside or under, lens level with it). No estimator that is right on average does
better than the least-squares one with the true spreads, so the column "perfect pictures, as drawn" is a bound.
"""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from photomeasure.asked.bars import Bars
from photomeasure.scene.priors import DEG, SQRT3
from photomeasure.scene.scene import Scene
from photomeasure.solution.estimate import finish
from tests.points.groups import LEFT, MIDDLE, RIGHT
from tests.points.simulate import Shot, Simulated, simulate

SEED = 4_711
AS_DRAWN = {
    "sheet roll": float(np.hypot(0.2 * DEG, np.sqrt(2.0) * 0.3 / 210.0)),  # cut askew, and grit under either end
    "foot cut": 0.5 / SQRT3,
    "foot gap": 0.3 / np.sqrt(2.0),
    "depth": 20.0 / SQRT3,
    "rule": 0.2 / SQRT3,
    "check bar x": 0.25 / SQRT3,
    "check bar y": 0.25 / SQRT3,
    "paper humidity": 0.001 / SQRT3,
    "ball diameter": 0.01,  # always 50 mm there
}
UNEVEN = 0.002 / 0.0015  # of the ground's fall, over the prior's
BETTER: dict[str, dict[str, float]] = {
    "roll known to 0.1 degrees": {"sheet roll": 0.1 * DEG},
    "ground under the coupling known to 0.2 mm": {"ground": 0.2, "ground evenness": 0.05},
    "bars read to a tenth with callipers, rule good to 0.03 mm": {
        "check bar x": 0.06,
        "check bar y": 0.06,
        "rule": 0.03,
    },
    "foot cut to 0.1 mm with a knife": {"foot cut": 0.06},
}
BESIDE = Shot(source="ball", aside_mm=(40.0, 220.0), scatter_mm=60.0, bars=Bars(x_mm=174.5, y_mm=242.5))
WAYS = {
    "one, 40-220 mm aside": BESIDE,
    "one, under the coupling": replace(BESIDE, aside_mm=(-15.0, 15.0)),
    "one, 40-220 mm aside, ground sheet": replace(BESIDE, ground_sheet=True),
    "one, a sheet on either side": replace(BESIDE, second_mm=(400.0, 0.0)),
    "three, 40-220 mm aside, ground sheet": replace(BESIDE, lenses_mm=(LEFT, MIDDLE, RIGHT), ground_sheet=True),
}


def sharp(scene: Scene) -> Scene:
    """With pixels that are a hundred times as good, and no common shift of the ball's edge."""
    return replace(
        scene,
        planes=tuple(replace(view, sigma_px=view.sigma_px / 100.0) for view in scene.planes),
        outlines=tuple(replace(view, sigma_px=view.sigma_px / 100.0) for view in scene.outlines),
        priors=tuple(replace(one, u=one.u / 100.0) if one.quantity == "ball edge" else one for one in scene.priors),
    )


def known_to(scene: Scene, u: Mapping[str, float]) -> Scene:
    """With other standard uncertainties of some input quantities, as one print and sheet or as two of them have them."""

    def other(quantity: str, before: float) -> float:
        quantity = quantity.removeprefix("second ")
        return u.get(quantity, before * (UNEVEN if quantity == "ground evenness" and "foot gap" in u else 1.0))

    return replace(scene, priors=tuple(replace(one, u=other(one.quantity, one.u)) for one in scene.priors))


def left_mm(made: Simulated, scene: Scene) -> float:
    """Standard uncertainty of the height that a scene leaves at its own truth."""
    return finish(scene, made.where, made.truth).u_mm


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--count", type=int, default=60)
    count = parser.parse_args().count
    print(f"| u of the height, mm | {' | '.join(WAYS)} |")
    print("|---" * (1 + len(WAYS)) + "|")
    scenes = {}
    for name, shot in WAYS.items():
        rng = np.random.default_rng(SEED)
        scenes[name] = [simulate(shot, rng) for _ in range(count)]
    columns: dict[str, dict[str, float] | None] = {
        "as claimed": None,
        "perfect pictures, as claimed": {},
        "perfect pictures, as drawn": AS_DRAWN,
        **{f"the same, {name}": {**AS_DRAWN, **better} for name, better in BETTER.items()},
        "the same, all of these": {**AS_DRAWN, **{k: v for better in BETTER.values() for k, v in better.items()}},
    }
    for name, u in columns.items():
        cells = []
        for made in scenes.values():
            each = [left_mm(one, one.scene if u is None else known_to(sharp(one.scene), u)) for one in made]
            cells.append(f"{np.sqrt(np.mean(np.square(each))):.2f}")
        print(f"| {name} | {' | '.join(cells)} |", flush=True)


if __name__ == "__main__":
    main()
