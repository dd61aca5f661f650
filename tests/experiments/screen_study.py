"""Can a tablet's or laptop's screen stand in for the printed sheet? By daylight, whether it is found at all.

Run by hand: python -m tests.experiments.screen_study [--pictures 12]

The upright sheet as a bright screen would show it (500 cd/m2, black 0.5), out of doors: the camera exposes for what stands in the
same light (white paper at 0.8 of what it keeps), the glass throws back a share of the sky. Luminances are usual figures, no
source: a glossy glass mirrors 4 % of what it faces, which is as bright as a grey of 30 % in that light.
"""

from __future__ import annotations

import argparse

import numpy as np

from calib.finding.sheets import Finding, find_sheets
from calib.kit.kit import kit
from tests.experiments.boxes_pictures import PHONE_FOCAL_PX, Condition, printed, take

ILLUMINANCES_LX = {
    "indoors, 500 lx": 500.0,
    "garage door, 2000 lx": 2e3,
    "overcast, 10 000 lx": 1e4,
    "open shade, 20 000 lx": 2e4,
    "sun, 80 000 lx": 8e4,
}
SCREEN_CD_M2, BLACK_CD_M2, MIRRORED, AROUND = 500.0, 0.5, 0.04, 0.30
PAPER, EXPOSED = 0.85, 0.8
CONDITIONS = (
    Condition(name="1600 px, 2 m", near_m=2.0, far_m=2.0),
    Condition(name="12 MP, 2 m", near_m=2.0, far_m=2.0, focal_px=PHONE_FOCAL_PX, quality=92, blur_px=(0.8, 1.4)),
)


def screen_levels(lux: float) -> tuple[float, float]:
    """White and black of the screen, over what the camera keeps at most, beside what mirrors in the glass."""
    paper = lux * PAPER / np.pi
    mirrored = MIRRORED * AROUND * lux / np.pi
    return EXPOSED * (SCREEN_CD_M2 + mirrored) / paper, EXPOSED * (BLACK_CD_M2 + mirrored) / paper


def found(condition: Condition, lux: float, seed: int) -> bool:
    """Whether the sheet on a screen is found in one picture."""
    rng = np.random.default_rng([seed, int(lux)])
    white, black = screen_levels(lux)
    paper = (printed("a4", 468_779) - 0.05) / 0.95
    gain = EXPOSED / 0.7  # `take` exposes by 0.5 to 0.9 of white
    shown = (black + (white - black) * paper) * gain / EXPOSED
    seen = find_sheets(take(np.asarray(shown, dtype=np.float32), kit("a4").upright, condition, rng))
    return isinstance(seen, Finding) and seen.of_role("upright") is not None


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pictures", type=int, default=12)
    count = parser.parse_args().pictures
    for name, lux in ILLUMINANCES_LX.items():
        white, black = screen_levels(lux)
        shares = [sum(found(condition, lux, seed) for seed in range(count)) for condition in CONDITIONS]
        told = ", ".join(f"{c.name}: found {n} of {count}" for c, n in zip(CONDITIONS, shares, strict=True))
        print(f"{name}: screen's white {white:.3f}, black {black:.3f}: {told}")


if __name__ == "__main__":
    main()
