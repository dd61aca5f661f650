"""How wrong is a trailer's pitch, and is its interval honest: simulated sides, by how the photograph is taken.

    python -m tests.experiments.level_study [COUNT]

Points projected by OpenCV (`tests.points.simulate_level`); rendered pictures are in `tests/levelling`. Results: level_study.md.
"""

from __future__ import annotations

import sys
from collections import Counter
from dataclasses import replace

import numpy as np

from photomeasure.interval.budget import budget
from photomeasure.solution.estimate import Estimate, estimate
from photomeasure.solution.level_scene import PER_DEGREE
from tests.points.simulate_level import Side, draw_side

EYES = Side(distance_mm=(5000.0, 5000.0), lens_height_mm=(1350.0, 1700.0), rail_mm=(430.0, 650.0))
BESIDE = (2500.0, -600.0)  # where a second sheet stands: between the wheels, nearer than the first
GROUPS = {
    "5 m, phone at the eyes": EYES,
    "4 to 7 m, phone at the eyes": replace(EYES, distance_mm=(4000.0, 7000.0)),
    "5 m, marks to half a pixel": replace(EYES, pick_px=0.5),
    "5 m, kneeling (0.5 to 0.9 m)": replace(EYES, lens_height_mm=(500.0, 900.0)),
    "5 m, kneeling, two photographs": replace(EYES, lens_height_mm=(500.0, 900.0), photos=2),
    "5 m, kneeling, foot line to 0.15 degrees": replace(EYES, lens_height_mm=(500.0, 900.0), roll_u_deg=0.15),
    "5 m, kneeling, a second sheet 2.5 m from the first": replace(
        EYES, lens_height_mm=(500.0, 900.0), second_mm=BESIDE
    ),
    "5 m, kneeling, a second sheet 1.2 m from the first": replace(
        EYES, lens_height_mm=(500.0, 900.0), second_mm=(1200.0, -300.0)
    ),
    "5 m, phone at the eyes, a second sheet 2.5 m from the first": replace(EYES, second_mm=BESIDE),
    "5 m, arms up (1.9 to 2.1 m)": replace(EYES, lens_height_mm=(1900.0, 2100.0)),
    "5 m, sheet turned by 8 degrees": replace(EYES, turn_u_deg=8.0),
    "5 m, two photographs": replace(EYES, photos=2),
    "5 m, 8 MP": replace(EYES, size_px=(3264, 2448)),
}


def main(count: int) -> None:
    print(
        "| taken | RMS | 95 % | worst | median u | inside U | Birge | mostly from |\n|---|---|---|---|---|---|---|---|"
    )
    for name, side in GROUPS.items():
        error, u, shares = [], [], Counter[str]()
        for number in range(count):
            seen = draw_side(side, np.random.default_rng([77, number]))
            solved = estimate(seen.scene)
            if not isinstance(solved, Estimate):
                continue
            error.append(solved.height_mm / PER_DEGREE - seen.pitch_deg)
            u.append(solved.u_mm / PER_DEGREE)
            shares.update({row.quantity: row.share / count for row in budget(solved)})
        e, s = np.array(error), np.array(u)
        most = ", ".join(f"{quantity} {100 * share:.0f} %" for quantity, share in shares.most_common(3))
        print(
            f"| {name} | {np.sqrt((e**2).mean()):.3f} | {np.quantile(np.abs(e), 0.95):.3f} | {np.abs(e).max():.3f} | "
            f"{np.median(s):.3f} | {100 * (np.abs(e) <= 2 * s).mean():.1f} % | {np.sqrt(((e / s) ** 2).mean()):.2f} | {most} |"
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
