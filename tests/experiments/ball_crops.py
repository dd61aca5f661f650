"""Crops about the ball of path-traced photographs of rigs, as `ball_rims` learns from them.

    python -m tests.experiments.ball_crops RIGS FOLDER [--only beside]

RIGS: of `make_scenes.py --study --hands`. Each rig with a bare ball becomes FOLDER/rims-NAME.npz: of each photograph the square about the
ball, and the same at half the size through JPEG 70, with the true camera.
"""

from __future__ import annotations

import argparse
import io
import tomllib
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from PIL import Image, ImageOps

REACH_RADII = 2.1


def crops(told: Path) -> dict[str, Any] | None:
    """Arrays of one rig; None where its ball is hidden."""
    truth = tomllib.loads(told.read_text(encoding="utf-8"))
    if truth["coupled"]:
        return None
    centre_mm = np.array([truth["centre"][f"{axis}_mm"] for axis in "xyz"])
    arrays: dict[str, Any] = {"finish": truth["finish"], "centre_mm": centre_mm}
    for number, (photo, at) in enumerate(zip(truth["photo"], truth["centre_px"], strict=True)):
        picture = ImageOps.exif_transpose(Image.open(told.with_name(photo["file"])).convert("L"))
        pose = np.array(photo["cam_from_world"])
        reach = REACH_RADII * photo["focal_px"] * 25.0 / (pose[2, :3] @ centre_mm + pose[2, 3])
        left, top = (int(max(0, place - reach)) // 2 * 2 for place in at)
        ends = (int(place + reach) // 2 * 2 for place in at)
        right, bottom = (min(end, size // 2 * 2) for end, size in zip(ends, picture.size, strict=True))
        grey = np.asarray(picture.crop((left, top, right, bottom)), dtype=np.uint8)
        half = cv2.resize(grey, (grey.shape[1] // 2, grey.shape[0] // 2), interpolation=cv2.INTER_AREA)
        buffer = io.BytesIO()
        Image.fromarray(half).save(buffer, "JPEG", quality=70)
        cx, cy = photo["principal_px"]
        f, k1, k2 = photo["focal_px"], photo["k1"], photo["k2"]
        for size, one, scale in (("a", grey, 1.0), ("b", np.asarray(Image.open(buffer), dtype=np.uint8), 0.5)):
            middle = [(c - low + 0.5) * scale - 0.5 for c, low in ((cx, left), (cy, top))]
            arrays |= {
                f"grey{number:02d}{size}": one,
                f"k{number:02d}{size}": np.array([f * scale, f * scale, *middle, k1, k2, 0.0, 0.0, 0.0]),
                f"pose{number:02d}{size}": pose,
            }
    return arrays


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("rigs", type=Path)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--only", default="*")
    options = parser.parse_args()
    options.folder.mkdir(parents=True, exist_ok=True)
    for told in sorted(options.rigs.glob(f"{options.only}*.toml")):
        if (arrays := crops(told)) is not None:
            np.savez_compressed(options.folder / f"rims-{told.stem}.npz", allow_pickle=False, **arrays)


if __name__ == "__main__":
    main()
