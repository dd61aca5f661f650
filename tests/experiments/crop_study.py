"""What a picture that was cut on a side costs: the samples of a bare ball, cut as people cut, EXIF kept.

    python -m tests.experiments.crop_study

The lens's axis is then not in the middle of the picture, which nothing in the file tells. Printed: error, U, and whether the
program said that the picture speaks against what is known of the camera or of the bars.
"""

from __future__ import annotations

import tempfile
import tomllib
from pathlib import Path

from PIL import Image

from photomeasure.asked.bars import Bars
from photomeasure.asked.request import Request
from photomeasure.asked.state import State
from photomeasure.pipeline import measure
from photomeasure.rules.load import default_rule
from photomeasure.seen.look import Refused

SAMPLES = Path(__file__).resolve().parents[2] / "sample_images"
CUTS = {  # shares of width and height that are kept: left, top, right, bottom
    "left tenth": (0.10, 0.0, 1.0, 1.0),
    "left 22 %": (0.22, 0.0, 1.0, 1.0),
    "left 35 %": (0.35, 0.0, 1.0, 1.0),
    "right 22 %": (0.0, 0.0, 0.78, 1.0),
    "right 36 %": (0.0, 0.0, 0.64, 1.0),
    "top fifth": (0.0, 0.2, 1.0, 1.0),
    "bottom 15 %": (0.0, 0.0, 1.0, 0.85),
    "a fifth all round": (0.2, 0.2, 0.8, 0.8),
}


def main() -> None:
    print("| sample | cut off | error mm | U mm | error / U | verdict | said |\n|---|---|---|---|---|---|---|")
    with tempfile.TemporaryDirectory() as temporary:
        for name in ("close-call", "above", "within"):
            picture = Image.open(SAMPLES / f"{name}.jpg")
            truth = float(tomllib.loads((SAMPLES / f"{name}.toml").read_text(encoding="utf-8"))["height_mm"])
            for what, (left, top, right, bottom) in CUTS.items():
                width, height = picture.size
                cut = Path(temporary) / "cut.jpg"
                box = (int(left * width), int(top * height), int(right * width), int(bottom * height))
                picture.crop(box).save(cut, quality=92, exif=picture.getexif())
                outcome = measure(
                    Request(
                        photos=(cut,),
                        rule=default_rule("ball-50"),
                        bars=Bars(x_mm=150.0, y_mm=150.0),
                        state=State(coupled=False, laden=True, level_ground=True),
                    )
                )
                if isinstance(outcome, Refused):
                    print(f"| {name} | {what} | | | | refused: {outcome.refusal.code} | |")
                    continue
                error, known = outcome.expanded.height_mm - truth, outcome.expanded
                print(
                    f"| {name} | {what} | {error:+.2f} | {known.U_mm:.2f} | {abs(error) / known.U_mm:.1f} "
                    f"| {outcome.verdict.verdict} | {'yes' if outcome.warnings else 'no'} |"
                )


if __name__ == "__main__":
    main()
