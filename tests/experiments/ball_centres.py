"""How far off the ball's centre is in path-traced photographs of rigs, for each finish, and over what is claimed of it.

    python -m tests.experiments.ball_centres FOLDER ... [--only beside] [--each]

Rigs by hands (`make_scenes.py --study --hands`), bars read. Millimetres are those of a ball's radius of 25 in the picture. A figure of
the chrome balls tells what mirrors do; the heights of the same rigs are `traced_study`'s.
"""

from __future__ import annotations

import argparse
import tomllib
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from photomeasure.asked.bars import Bars
from photomeasure.asked.request import Request
from photomeasure.asked.state import State
from photomeasure.pipeline import measure
from photomeasure.rules.load import default_rule
from photomeasure.scene.scene import OutlineView
from photomeasure.seen.look import Refused


def centre_u(view: OutlineView, centre_px: NDArray[np.float64]) -> NDArray[np.float64]:
    """Standard uncertainty (2,) right and up of the centre that outline points tell, their common shift unknown to half a pixel."""
    away = view.px - centre_px
    basis = np.column_stack([away / np.linalg.norm(away, axis=1, keepdims=True), np.ones(len(away))])
    basis = basis / view.sigma_px[:, None]
    normal = basis.T @ basis + np.diag([0.0, 0.0, 1.0 / 0.5**2])
    return np.asarray(np.sqrt(np.diag(np.linalg.inv(normal))[:2]))


def centres(told: Path) -> Iterator[tuple[str, str, NDArray[np.float64] | None, NDArray[np.float64] | None]]:
    """Name and finish of each photograph of a rig, how far off (2,) the centre is and its u (2,), mm; None where it is not found."""
    truth = tomllib.loads(told.read_text(encoding="utf-8"))
    if truth["coupled"]:
        return
    outcome = measure(
        Request(
            photos=tuple(told.with_name(file) for file in truth["files"]),
            rule=default_rule("ball-50"),
            bars=Bars(x_mm=truth["bar_x_mm"], y_mm=truth["bar_y_mm"]),
            state=State(coupled=False, laden=True, level_ground=True),
        )
    )
    seen = {} if isinstance(outcome, Refused) else {view.photo: view for view in outcome.sightings.outlines}
    for photo, true_px in enumerate(truth["centre_px"]):
        name = f"{told.stem} {photo + 1}"
        found = None if isinstance(outcome, Refused) else outcome.sightings.centre_px[photo]
        if found is None or photo not in seen:
            yield name, truth["finish"], None, None
            continue
        pose = np.array(truth["photo"][photo]["cam_from_world"])
        at = pose[2, :3] @ np.array([truth["centre"][f"{axis}_mm"] for axis in "xyz"]) + pose[2, 3]
        mm = at / truth["photo"][photo]["focal_px"]
        yield name, truth["finish"], mm * (found - np.array(true_px)), mm * centre_u(seen[photo], found)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("folders", type=Path, nargs="+")
    parser.add_argument("--only", default="", help="rigs whose names begin so")
    parser.add_argument("--each", action="store_true")
    options = parser.parse_args()
    errors: dict[str, list[NDArray[np.float64]]] = defaultdict(list)
    claims: dict[str, list[NDArray[np.float64]]] = defaultdict(list)
    lost: dict[str, int] = defaultdict(int)
    for told in sorted(path for folder in options.folders for path in folder.glob(f"{options.only}*.toml")):
        for name, finish, off, u in centres(told):
            words = "not found"
            if off is None or u is None:
                lost[finish] += 1
            else:
                errors[finish].append(off)
                claims[finish].append(u)
                words = f"{off[0]:+.2f} {off[1]:+.2f}, u {u[0]:.2f} {u[1]:.2f}"
            if options.each:
                print(name, finish, words, flush=True)
    print(
        "| finish | found | rms an axis mm | median | 90 % | worst | z (rms an axis) |\n|---|---|---|---|---|---|---|"
    )
    for finish in sorted(set(errors) | set(lost)):
        all_off, all_u = np.array(errors[finish]).reshape(-1, 2), np.array(claims[finish]).reshape(-1, 2)
        far = np.linalg.norm(all_off, axis=1) if len(all_off) else np.array([np.nan])
        print(
            f"| {finish} | {len(all_off)} of {len(all_off) + lost[finish]} | {np.sqrt((all_off**2).mean()):.2f} | {np.median(far):.2f} "
            f"| {np.quantile(far, 0.9):.2f} | {far.max():.2f} | {np.sqrt(((all_off / all_u) ** 2).mean()):.2f} |"
        )


if __name__ == "__main__":
    main()
