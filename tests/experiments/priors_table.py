"""What every prior rests on, from the scenes themselves: a table for coverage_study.md. By hand.

python -m tests.experiments.priors_table
"""

from __future__ import annotations

import re
from dataclasses import replace

from photomeasure.asked.bars import Bars
from photomeasure.scene.scene import Prior
from tests.points.groups import LEFT, MIDDLE, RIGHT
from tests.points.simulate import Shot, blank

BALL = Shot(source="ball", aside_mm=(200.0, 200.0))
SHOTS = (
    BALL,
    replace(BALL, source="tag"),
    replace(BALL, source="pick", hidden="ball-50"),
    replace(BALL, source="pick", hidden="pin"),
    replace(BALL, bars=Bars()),
    replace(BALL, bars=Bars(x_mm=179.5, y_mm=249.6, x_u_mm=0.3, y_u_mm=0.4)),
    replace(BALL, flat_ground=False),
    replace(BALL, flat_ground=False, level_within_mm_per_m=2.0),
    replace(BALL, lenses_mm=(LEFT, MIDDLE, RIGHT), ground_sheet=True),
    replace(BALL, second_mm=(500.0, 0.0)),
    replace(BALL, focal_35mm=None),
)
# As `photomeasure.record.input_rows` has them; the spread of focal lengths against EXIF is judgement, compared with no set of phones yet
SPREAD = dict.fromkeys(
    ("principal point", "distortion"), "spread over phones' main cameras (published lens profiles, computed)"
)
KINDS = ("judgement", "published", "computed", "from memory", "read", "secondary", "free")


def rests_on(source: str) -> str:
    """The kind of knowledge, the weakest of what the source names."""
    if source.startswith(("EXIF", "no focal length")):
        return "judgement"
    return next((kind for kind in KINDS if re.search(rf"\b{kind}\b", source)), "instructions")


def main() -> None:
    found: dict[tuple[str, str], tuple[Prior, str]] = {}
    for shot in SHOTS:
        scene = blank(shot)
        for prior in scene.priors:
            if prior.source != "free" and not prior.quantity.startswith("second "):
                found.setdefault((prior.quantity, prior.source), (prior, rests_on(prior.source)))
        for camera in scene.cameras:
            for column, quantity in enumerate(camera.quantities):
                u, source = float(abs(camera.basis[:, column]).max()), SPREAD.get(quantity, camera.source)
                unit = "1" if quantity == "distortion" else "px"
                row = Prior(quantity=quantity, coefficients={}, mean=0.0, u=u, unit=unit, source=source)
                found.setdefault((quantity, source), (row, rests_on(source)))
    print("| input quantity | u | distribution | kind | source as the record has it |\n|---|---|---|---|---|")
    rank = {kind: i for i, kind in enumerate(KINDS)}
    for prior, kind in sorted(found.values(), key=lambda one: rank.get(one[1], len(KINDS))):
        print(f"| {prior.quantity} | {prior.u:.3g} {prior.unit} | {prior.distribution} | {kind} | {prior.source} |")


if __name__ == "__main__":
    main()
