"""How well the centre tag is found and measured: `python -m tests.experiments.tag_study [pictures] [rigs]`.

First the pictures of a tag alone, condition by condition: found, error of the centre and of the side against their
truth, and against what is claimed (root mean square of error over standard uncertainty: 1 is honest). Then whole
measurements, one photograph each, print measured, lens within 150 mm of the tag's height, the tag's middle exactly at
the height that is wanted; lean, roll and gap of the sheet, scale of the print and rise of the ground drawn from what
the priors say of them.
"""

from __future__ import annotations

import sys
import tempfile
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np

from photomeasure.seen.centre.tag.fit import diagonal_crossing
from photomeasure.seen.centre.tag.tag import TagSeen, find_tags, the_centre_tag
from tests.experiments.tag_pictures import FOCAL_35MM, Condition, TagPicture, draw
from tests.scenes import save_jpeg

CONDITIONS = (
    Condition(name="12 MP 1.5 m", distance_mm=1500.0),
    Condition(name="12 MP 2 m", distance_mm=2000.0),
    Condition(name="12 MP 3 m", distance_mm=3000.0),
    Condition(name="12 MP 3 m yaw 30", distance_mm=3000.0, yaw_rad=0.52),
    Condition(name="12 MP 3 m sun", distance_mm=3000.0, sun=True),
    Condition(name="12 MP 3 m half shadow", distance_mm=3000.0, shadow=True),
    Condition(name="12 MP 2 m, tag turned 40", distance_mm=2000.0, turn_rad=0.7),
    Condition(name="12 MP 4 m, 60 mm", distance_mm=4000.0, tag_mm=60.0),
    Condition(name="1600 px 2 m", distance_mm=2000.0, chat=True),
    Condition(name="1600 px 2 m yaw 30", distance_mm=2000.0, chat=True, yaw_rad=0.52),
    Condition(name="1600 px 2 m sun", distance_mm=2000.0, chat=True, sun=True),
    Condition(name="1600 px 2 m half shadow", distance_mm=2000.0, chat=True, shadow=True),
    Condition(name="1600 px 2.5 m", distance_mm=2500.0, chat=True),
)


def side_px(corners: np.ndarray) -> float:
    return float(np.linalg.norm(corners - np.roll(corners, 1, axis=0), axis=1).mean())


def one(condition: Condition, count: int, seed: int) -> str:
    """A row of the first table."""
    rng = np.random.default_rng(seed)
    centre, side, claim_side, claim_centre, sides, wrong = [], [], [], [], [], 0
    for _ in range(count):
        picture = draw(condition, rng)
        found = find_tags(
            picture.grey, intrinsics=picture.intrinsics, rotation=picture.rotation, translation=picture.translation
        )
        seen = the_centre_tag(found)
        sides.append(side_px(picture.corners_px))
        if not isinstance(seen, TagSeen):
            continue
        wrong += seen.id != picture.tag_id
        centre.append(seen.centre_px - diagonal_crossing(picture.corners_px))
        side.append(side_px(seen.corners_px) - sides[-1])
        claim_centre.append(seen.sigma_px / 2)
        claim_side.append(seen.sigma_px / np.sqrt(2.0))
    if not centre:
        return f"{condition.name:26s} found 0 of {count}"
    off, long = np.array(centre), np.array(side)
    return (
        f"{condition.name:26s} side {np.mean(sides):4.1f} px  found {len(off):3d}/{count}  wrong {wrong}  "
        f"centre bias ({off[:, 0].mean():+.3f}, {off[:, 1].mean():+.3f}) rms {np.sqrt((off**2).mean()):.3f} px, "
        f"over claim {np.sqrt((off**2 / np.array(claim_centre)[:, None] ** 2).mean()):.2f}   "
        f"side bias {100 * long.mean() / np.mean(sides):+.3f} % "
        f"rms {100 * np.sqrt((long**2).mean()) / np.mean(sides):.3f} %, "
        f"over claim {np.sqrt((long**2 / np.array(claim_side) ** 2).mean()):.2f}"
    )


def in_whole(picture: TagPicture, rng: np.random.Generator) -> np.ndarray:
    """The part in its photograph, dull and noisy all around."""
    width, height = picture.whole_px
    whole = np.full((height, width), 110, dtype=np.uint8)
    left, top = picture.offset_px
    rows, columns = picture.grey.shape
    y0, x0 = max(top, 0), max(left, 0)
    y1, x1 = min(top + rows, height), min(left + columns, width)
    whole[y0:y1, x0:x1] = picture.grey[y0 - top : y1 - top, x0 - left : x1 - left]
    return whole


def whole_measurement(condition: Condition, count: int, seed: int) -> str:
    """A row of the second table."""
    from photomeasure.asked.bars import Bars
    from photomeasure.asked.request import Request
    from photomeasure.pipeline import measure
    from photomeasure.rules.load import default_rule
    from photomeasure.scene.priors import TAG_PLACEMENT_MM
    from photomeasure.seen.look import Refused

    rng = np.random.default_rng(seed)
    error, z, depth, refused = [], [], [], []
    with tempfile.TemporaryDirectory() as folder:
        for number in range(count):
            picture = draw(replace(condition, with_sheet=True), rng)
            path = Path(folder) / f"{number}.jpg"
            exif = None if condition.chat else {"FocalLengthIn35mmFilm": int(FOCAL_35MM)}
            save_jpeg(in_whole(picture, rng), path, 97, exif)
            result = measure(Request(photos=(path,), rule=default_rule("ball-50"), bars=Bars(x_mm=150.0, y_mm=150.0)))
            if isinstance(result, Refused):
                refused.append(result.refusal.code)
                continue
            u = np.sqrt(result.estimate.u_mm**2 - TAG_PLACEMENT_MM**2)
            rise = rng.normal(0.0, result.estimate.u("ground.rise"))  # nothing in one photograph tells it
            error.append(result.estimate.height_mm - (picture.tag_mm[2] - rise))
            z.append(error[-1] / u)
            depth.append(result.estimate.value("centre.y") - picture.tag_mm[1])
    off = np.array(error)
    return (
        f"{condition.name:26s} measured {len(off)}/{count} {sorted(set(refused))}  bias {off.mean():+.2f} rms "
        f"{np.sqrt((off**2).mean()):.2f} mm  95 % within {np.quantile(np.abs(off), 0.95):.2f} mm  "
        f"Birge (without placement) {np.sqrt(np.mean(np.square(z))):.2f}  depth bias {np.mean(depth):+.1f} rms "
        f"{np.sqrt(np.mean(np.square(depth))):.1f} mm"
    )


def main() -> None:
    cv2.setNumThreads(1)
    pictures = int(sys.argv[1]) if len(sys.argv) > 1 else 40
    rigs = int(sys.argv[2]) if len(sys.argv) > 2 else 20
    for condition in CONDITIONS if pictures else ():
        print(one(condition, pictures, 11), flush=True)
    for condition in CONDITIONS if rigs else ():
        print(whole_measurement(condition, rigs, 12), flush=True)


if __name__ == "__main__":
    main()
