"""How often a print that is true to scale is doubted, and one that was shrunk noticed, where lengths are typed as drawn. By hand.

    python -m tests.experiments.print_study [--count N]

Scenes of points drawn from the priors (`tests.points.simulate`): with the ball alone as a witness, with the paper's width alone
(a tag or a mark tells no size), and with both. What pictures show is in `tests/solution/test_stances.py` and in print_study.md.
"""

from __future__ import annotations

import argparse
from dataclasses import replace

import numpy as np

from calib.kit.kit import kit
from photomeasure.asked.bars import Bars
from photomeasure.interval.expanded import expanded
from photomeasure.scene.paper import Paper, paper_priors, paper_vouches
from photomeasure.seen.paper import ISO_216_MM
from photomeasure.solution.estimate import Estimate, estimate
from photomeasure.solution.withdrawn import reconciled
from tests.points.simulate import Harm, Shot, simulate

PAPER_U_MM = 1.2  # what `photomeasure.seen.paper` claims at 2 m


def run(source: str, scale: float, count: int, *, paper: bool) -> str:
    sheet = kit("a4").upright
    rng = np.random.default_rng(round(1e4 * scale) + len(source))
    shot = Shot(source=source, bars=Bars(x_mm=sheet.bars_mm[0], y_mm=sheet.bars_mm[1]))
    harm = Harm(values={f"print.{axis}": lambda rng: scale * (1.0 + 0.001 * float(rng.normal())) for axis in "xy"})
    noticed = outside = quiet = 0
    for _ in range(count):
        made = simulate(shot, rng, harm)
        scene = made.scene
        if paper:
            true_mm = sheet.width_mm + ISO_216_MM * np.sqrt(6.0) * float(rng.triangular(-1.0, 0.0, 1.0))
            seen = true_mm / made.truth[made.where.index["print.x"]] + 0.3 * float(rng.normal())
            papers = [Paper(width_mm=seen, u_mm=PAPER_U_MM, lower_mm=None)]
            heard = (*scene.priors, *paper_priors(papers, sheet.width_mm, 1.0))
            scene = replace(scene, priors=heard, paper_vouches=paper_vouches(papers, sheet.width_mm, 1.0))
        stated = estimate(scene)
        if not isinstance(stated, Estimate):
            continue
        result = reconciled(scene, stated)
        told = bool(result.causes)
        out = abs(result.estimate.height_mm - made.height_mm) > expanded(result.estimate).U_mm
        noticed += told
        outside += out
        quiet += out and not told
    witness = " and ".join(["ball"] * (source == "ball") + ["paper"] * paper)
    return f"| {witness} | {scale:g} | {100 * noticed / count:.1f} | {100 * outside / count:.1f} | {100 * quiet / count:.1f} |"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=200)
    count = parser.parse_args().count
    print("| witness | print | said, % | outside U, % | outside U and nothing said, % |\n|---|---|---|---|---|")
    for source, paper in (("ball", False), ("tag", True), ("ball", True)):
        for scale in (1.0, 0.985, 0.97, 0.94):
            print(run(source, scale, count, paper=paper), flush=True)


if __name__ == "__main__":
    main()
