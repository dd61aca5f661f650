"""What a picture that was stretched by a little does to height and interval, by how far pixels may be from square.

By hand: python -m tests.experiments.aspect_study 60 [SEED [GROUP]]

Simulated scenes of points (`tests.points.simulate`), their observations stretched down by a share; solved with no column of the
camera for the pixel's proportions and with columns of some width, what is contradicted giving way as in a measurement. Printed
for each stretch and width: inside U %, mean U, how many are in doubt (an edit named), outside without one.
"""

from __future__ import annotations

import sys
from dataclasses import replace

import numpy as np

from calib.outcome.refusal import Refusal
from photomeasure.interval.expanded import expanded
from photomeasure.scene.scene import CameraPrior, Scene
from photomeasure.solution.estimate import estimate
from photomeasure.solution.withdrawn import reconciled
from tests.points.groups import GROUPS
from tests.points.simulate import simulate

GROUP_NAMES = ("followed, picked", "followed, tag", "standing height", "three and ground sheet")
WIDTHS = (0.0, 0.001, 0.002, 0.003)
STRETCHES = (0.0, 0.0025, 0.005, -0.005, 0.01, -0.01)


def stretched(scene: Scene, share: float) -> Scene:
    """All that was seen, stretched down about the picture's middle."""
    middle = 0.5 * (scene.cameras[0].size_px[1] - 1)
    grow, off = np.array([1.0, 1.0 + share]), np.array([0.0, -share * middle])
    return replace(
        scene,
        planes=tuple(replace(view, px=view.px * grow + off) for view in scene.planes),
        points=tuple(replace(view, px=view.px * grow + off) for view in scene.points),
        outlines=tuple(replace(view, px=view.px * grow + off) for view in scene.outlines),
    )


def with_width(camera: CameraPrior, width: float) -> CameraPrior:
    if width == 0.0:
        return camera
    column = np.zeros(len(camera.mean))
    column[:2] = -0.5 * width * camera.mean[0], 0.5 * width * camera.mean[1]
    return replace(
        camera, basis=np.column_stack([camera.basis, column]), quantities=(*camera.quantities, "proportions")
    )


def main() -> None:
    count, seed = int(sys.argv[1]), int((sys.argv[2:] or ["1"])[0])
    print(
        "| group | stretched by | width of the prior | inside U % | mean U mm | in doubt % | outside, no doubt % | bias mm |"
    )
    print("|---|---|---|---|---|---|---|---|")
    for name in sys.argv[3:] or GROUP_NAMES:
        for share in STRETCHES:
            for width in WIDTHS:
                rng, found = np.random.default_rng(seed), []
                for _ in range(count):
                    drawn = simulate(GROUPS[name], rng)
                    scene = stretched(drawn.scene, share)
                    scene = replace(scene, cameras=tuple(with_width(camera, width) for camera in scene.cameras))
                    stated = estimate(scene)
                    if isinstance(stated, Refusal):
                        continue
                    done = reconciled(scene, stated)
                    found.append(
                        (
                            done.estimate.height_mm - drawn.height_mm,
                            expanded(done.estimate).U_mm,
                            bool(set(done.causes) - {"focal length", "distortion"}),
                        )
                    )
                off, U_mm, doubt = np.array(found).T
                outside = np.abs(off) > U_mm
                print(
                    f"| {name} | {100 * share:+.2f} % | {100 * width:.1f} % | {100 * (1 - outside.mean()):.0f} | {U_mm.mean():.2f} "
                    f"| {100 * doubt.mean():.0f} | {100 * (outside & (doubt == 0)).mean():.0f} | {off.mean():+.2f} |",
                    flush=True,
                )


if __name__ == "__main__":
    main()
