"""A bay photographed with a wide lens of which nothing is known: does the interval hold, and which terms must the markers free?

By hand: python -m tests.experiments.bay_lens_study [STEP]

Real photographs (`tests.bay.test_bay_room`): every marker of the wall held out in turn and measured by the others, with the lens's
profile and without; one photograph with the wall as coupling plane, and pairs without. Counted apart: marks outside the
hull of the markers that are left, where the lens is extrapolated.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import cv2
import numpy as np

from photomeasure.interval.expanded import expanded
from photomeasure.scene.priors import plane_prior
from photomeasure.scene.scene import CameraPrior, MarkerView, PointView, Scene
from photomeasure.seen.camera_by_exif import camera_prior
from photomeasure.seen.look import View
from photomeasure.solution.estimate import Estimate, estimate
from photomeasure.solution.withdrawn import reconciled
from tests.bay.test_bay_room import WALL, bay_of, corners_mm, crossing, photographs, quads, seen_in, truth_mm
from tests.shared_data import folder


def others_of(view: View, marker: int, photo: int) -> MarkerView:
    seen = view.markers
    assert seen is not None
    keep = [i for i, name in enumerate(seen.names) if not name.startswith(f"marker{marker}.")]
    few = replace(
        seen,
        names=tuple(seen.names[i] for i in keep),
        world_mm=seen.world_mm[keep],
        px=seen.px[keep],
        sigma_px=seen.sigma_px[keep],
    )
    return few.view(photo, 1.0)


def scene_of(room: Path, views: Sequence[View], marker: int, *, known: bool) -> Scene:
    cameras = []
    for view in views:
        camera = view.camera if known else camera_prior(view.photo.size_px, view.photo.facts)
        assert isinstance(camera, CameraPrior)
        cameras.append(camera)
    plane = bay_of(corners_mm(room), [marker]).coupling_plane
    assert plane is not None
    return Scene(
        cameras=(cameras[0],),
        camera_of=(0,) * len(views),
        markers=tuple(others_of(view, marker, i) for i, view in enumerate(views)),
        points=tuple(
            PointView(photo=i, px=crossing(quads(view)[marker]), sigma_px=0.3, quantity="pick")
            for i, view in enumerate(views)
        ),
        priors=(plane_prior(plane),) if len(views) == 1 else (),
        measurand={"centre.z": 1.0},
    )


def outside(views: Sequence[View], marker: int) -> bool:
    """Whether the mark is beyond the hull of the other markers in any of the pictures."""
    for view in views:
        hull = cv2.convexHull(
            np.concatenate([quad for m, quad in quads(view).items() if m != marker]).astype(np.float32)
        )
        x, y = crossing(quads(view)[marker])
        if cv2.pointPolygonTest(hull, (float(x), float(y)), False) < 0:
            return True
    return False


def main() -> None:
    room, step = folder("room-markers"), int((sys.argv[1:] or ["3"])[0])
    views = [seen_in(path) for path in photographs(room, step)]
    sets: list[tuple[View, ...]] = [*((view,) for view in views), *pairwise(views)]
    print(
        "| photographs, lens, mark | count | RMS mm | mean U mm | inside U % | worst error / U | in doubt % | refused |"
    )
    print("|---|---|---|---|---|---|---|---|")
    for count in (1, 2):
        for known in (True, False):
            found: dict[bool, list[tuple[float, float, bool]]] = {False: [], True: []}
            refused = 0
            for some in (one for one in sets if len(one) == count):
                common = set.intersection(*(set(quads(view)) for view in some)) & set(WALL)
                for marker in sorted(common):
                    if min(len(quads(view)) for view in some) < 5:
                        continue
                    scene = scene_of(room, some, marker, known=known)
                    stated = estimate(scene)
                    if not isinstance(stated, Estimate):
                        refused += 1
                        continue
                    done = reconciled(scene, stated)
                    error = done.estimate.height_mm - truth_mm(room, marker)
                    found[outside(some, marker)].append((error, expanded(done.estimate).U_mm, bool(done.causes)))
            for beyond, rows in found.items():
                if rows:
                    off, U_mm, doubt = np.array(rows).T
                    print(
                        f"| {count}, {'profile' if known else 'unknown'}, {'outside' if beyond else 'among'} the markers | {len(rows)} "
                        f"| {np.sqrt(np.mean(off**2)):.2f} | {U_mm.mean():.2f} | {100 * np.mean(np.abs(off) <= U_mm):.0f} "
                        f"| {np.max(np.abs(off) / U_mm):.2f} | {100 * doubt.mean():.0f} | {refused} |",
                        flush=True,
                    )


if __name__ == "__main__":
    main()
