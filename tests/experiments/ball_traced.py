"""The bare ball in path-traced tow bars: how often it is found, refused or mistaken, and how far off its centre is.

    python sample_images/make_scenes.py --kit DIR --balls OUT --n 130 --seed 3      (the path tracer's own environment)
    python -m tests.experiments.ball_traced OUT [--chat] [--bare-known]

Each case is the part of a 7 MP photograph in which a ball can be, and the same at half the size through JPEG 70 (--chat).
Three kinds of tow bar, six finishes, sun and overcast, the sheet under the ball or up to 330 mm beside it, and rigs on
which the trailer is on or the ball is off. The camera is the true one, the sheet's plane as it leans.
"""

from __future__ import annotations

import argparse
import json
from collections import defaultdict
from pathlib import Path

import cv2
import numpy as np

from calib.camera.camera import project
from photomeasure.seen.centre.ball.ball import SURE, SURE_BARE, Ball, decide, find_candidates, view_of
from photomeasure.seen.centre.ball.fit import centre_u_px
from photomeasure.seen.centre.ball.search import SearchedPicture
from tests.experiments.ball_study import Outcome, height_of, summary


def load(path: Path, *, chat: bool) -> tuple[SearchedPicture, np.ndarray | None, dict[str, object]]:
    """A case: the search's view of it, where the ball's centre is (None: none is to be seen), and its truth file."""
    truth = json.loads(path.read_text())
    scale = 0.5 if chat else 1.0
    picture = cv2.imread(str(path.with_suffix(".jpg" if chat else ".png")), cv2.IMREAD_GRAYSCALE)
    grey = np.asarray(picture, dtype=np.uint8)
    f, _, cx, cy, k1, k2 = truth["intrinsics"]
    k = np.array([f * scale, f * scale, (cx + 0.5) * scale - 0.5, (cy + 0.5) * scale - 0.5, k1, k2, 0.0, 0.0, 0.0])
    pose = np.array(truth["cam_from_world"])
    corners = np.array(truth["sheet_mm"])
    x = (corners[1] - corners[0]) / np.linalg.norm(corners[1] - corners[0])
    z = (corners[3] - corners[0]) / np.linalg.norm(corners[3] - corners[0])
    sheet = np.stack([x, np.cross(z, x), z], axis=1)  # world from sheet
    middle = 0.5 * (corners[0] + corners[1])
    rotation, translation = pose[:3, :3] @ sheet, pose[:3, :3] @ middle + pose[:3, 3]
    in_cam = corners @ pose[:3, :3].T + pose[:3, 3]
    centre = None
    if truth["centre_mm"] is not None:
        centre = project(k, (pose[:3, :3] @ np.array(truth["centre_mm"]) + pose[:3, 3])[None])[0][0]
    view = view_of(
        grey,
        intrinsics=k,
        rotation=rotation,
        translation=translation,
        diameter_mm=50.0,
        keep_out_px=(project(k, in_cam)[0],),
    )
    return view, centre, truth


def judged(path: Path, *, chat: bool, bare_known: bool) -> Outcome:
    view, centre, truth = load(path, chat=chat)
    found = decide(find_candidates(view), SURE_BARE if bare_known and truth["state"] != "coupled" else SURE)
    base = {
        "seed": int(path.stem.split("-")[2]),
        "finish": str(truth["finish"]),
        "light": "sun" if truth["sun"] else "overcast",
        "distance_mm": float(truth["distance_mm"]),  # type: ignore[arg-type]
        "state": str(truth["state"]),
        "chat": chat,
    }
    if not isinstance(found, Ball):
        return Outcome(**base, result=found.code)  # type: ignore[arg-type]
    error = np.full(2, np.nan) if centre is None else found.centre_px - centre
    if not np.linalg.norm(error) < 0.2 * found.radius_px:
        return Outcome(**base, result="wrong", radius_px=found.radius_px, confidence=found.confidence)  # type: ignore[arg-type]
    outline = found.candidates[0].outline
    assert outline is not None
    z = error / centre_u_px(outline)
    pose = np.array(truth["cam_from_world"])
    in_cam = pose[:3, :3] @ np.array(truth["centre_mm"]) + pose[:3, 3]
    height = height_of(
        found,
        intrinsics=view.intrinsics,
        pose=np.vstack([np.column_stack([view.cam_from_world, view.world_in_cam_mm]), [0.0, 0.0, 0.0, 1.0]]),
        centre_mm=(in_cam - view.world_in_cam_mm) @ view.cam_from_world,
        diameter_mm=50.0,
        rng=np.random.default_rng(int(path.stem.split("-")[2])),
    )
    error_mm, u_mm = (float("nan"), float("nan")) if height is None else height
    return Outcome(
        **base,  # type: ignore[arg-type]
        result="found",
        radius_px=found.radius_px,
        confidence=found.confidence,
        error_px=(float(error[0]), float(error[1])),
        z=(float(z[0]), float(z[1])),
        height_error_mm=error_mm,
        height_z=error_mm / u_mm,
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--chat", action="store_true")
    parser.add_argument("--bare-known", action="store_true", help="as where a person says that no trailer is connected")
    options = parser.parse_args()
    outcomes = []
    kinds: dict[str, list[str]] = defaultdict(list)
    for path in sorted(options.folder.glob("ball-*.json")):
        outcomes.append(judged(path, chat=options.chat, bare_known=options.bare_known))
        kinds[json.loads(path.read_text())["bar"]].append(outcomes[-1].result)
    print(summary(outcomes))
    for kind, results in sorted(kinds.items()):
        print(f"tow bar {kind}: {results.count('found')} of {len(results)} found")


if __name__ == "__main__":
    main()
