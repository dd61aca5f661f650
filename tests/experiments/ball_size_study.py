"""The ball's diameter as photographs tell it, and how often a ball of another size than stated is warned of.

    python sample_images/make_scenes.py --kit KIT --study FOLDER --hands beside --n 40 --seed 31 --ball-diameter 47.6
    python -m tests.experiments.ball_size_study FOLDER --true 47.6 --stated 50 [--chat] [--unread] [--only beside]

Path-traced rigs by hands, their bars read to half a millimetre (--unread: not at all). Other sizes stated of a ball of 50 mm show
the same: 52.52 is to it what 50 is to one of 47.6, 49.21 what 50 is to one of 50.8 (--sold names the sizes that the program is then
to know).
"""

from __future__ import annotations

import argparse
import tempfile
import tomllib
from pathlib import Path

import numpy as np

from photomeasure.asked.bars import Bars
from photomeasure.asked.request import Request
from photomeasure.asked.state import State
from photomeasure.pipeline import measure
from photomeasure.rules.load import default_rule
from photomeasure.scene import ball_sizes
from photomeasure.seen.look import Refused
from photomeasure.verdict.ball_size import of_ball_size
from tests.experiments.traced_study import shrunk_by_chat


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--true", type=float, default=50.0)
    parser.add_argument("--stated", type=float, default=50.0)
    parser.add_argument("--sold", type=float, nargs="*")
    parser.add_argument("--chat", action="store_true")
    parser.add_argument("--unread", action="store_true")
    parser.add_argument("--only", default="", help="rigs whose names begin so")
    parser.add_argument("--each", action="store_true", help="a line for each rig")
    options = parser.parse_args()
    if options.sold:
        ball_sizes.SOLD_MM = tuple(options.sold)
    rows, refused, errors_mm = [], 0, []
    with tempfile.TemporaryDirectory() as temporary:
        for told in sorted(options.folder.glob(f"{options.only}*.toml")):
            truth = tomllib.loads(told.read_text(encoding="utf-8"))
            if truth["coupled"]:
                continue
            shown = [told.with_name(file) for file in truth["files"]]
            if options.chat:
                shown = [shrunk_by_chat(path, Path(temporary))[0] for path in shown]
            bars = Bars() if options.unread else Bars(x_mm=truth["bar_x_mm"], y_mm=truth["bar_y_mm"])
            outcome = measure(
                Request(
                    photos=tuple(shown),
                    rule=default_rule("ball-50"),
                    bars=bars,
                    state=State(coupled=False, laden=True, level_ground=True),
                    ball_diameter_mm=options.stated,
                )
            )
            if isinstance(outcome, Refused) or outcome.ball is None:
                refused += 1
                continue
            warned = of_ball_size(outcome.ball, options.stated)
            rows.append(
                (outcome.ball.diameter_mm, outcome.ball.u_mm, bool(warned) and "come off" in warned[0], bool(warned))
            )
            errors_mm.append((outcome.estimate.height_mm - float(truth["height_mm"])) / outcome.estimate.u_mm)
            if options.each:
                print(told.stem, f"{rows[-1][0]:.2f} mm, u {rows[-1][1]:.2f}", *warned, flush=True)
    d, u, small, any_size = (np.array(column) for column in zip(*rows, strict=True))
    error = d - options.true
    print(
        "| true, stated | measured | mean error mm | RMS mm | u mm | z (rms) | said smaller | said larger | height z (rms) |"
    )
    print("|---|---|---|---|---|---|---|---|---|")
    print(
        f"| {options.true:g}, {options.stated:g} | {len(rows)} of {len(rows) + refused} | {error.mean():+.2f} "
        f"| {np.sqrt((error**2).mean()):.2f} | {np.median(u):.2f} | {np.sqrt(((error / u) ** 2).mean()):.2f} "
        f"| {int(small.sum())} | {int((any_size & ~small).sum())} | {np.sqrt(np.square(errors_mm).mean()):.2f} |"
    )


if __name__ == "__main__":
    main()
