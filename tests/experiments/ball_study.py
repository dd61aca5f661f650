"""How often the bare ball is found, refused or mistaken, and how far off its centre is, on drawn scenes.

Run by hand:  python -m tests.experiments.ball_study --n 500 [--seed 200000] [--yard] [--json FILE]

Without --yard: scenes of `ball_scenes`, full of round things that mislead; with it: the rigs of
`tests.scenes.draw_rig_scene`, by condition. Seeds below 10000 and, of the yard, 301000-301499 taught the networks
(`ball_nets`), 70000-70499, 150000-150499 and, of the yard, 300000-300239 the weights of the evidence (`ball_evidence`);
160000-160499 and, of the yard, 310000-310239 were looked at while thresholds were set; 200000 and 330000 on only judge.
The height is that of `photomeasure.solution.estimate` from the found outline alone, the camera and the
sheet known as well as a sheet's saddles tell them. Results: `ball_study.md`.
"""

from __future__ import annotations

import argparse
import json
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from calib.camera.camera import project
from calib.kit.kit import kit
from calib.outcome.refusal import Refusal
from photomeasure.asked.bars import Bars
from photomeasure.scene.ground import ground_priors
from photomeasure.scene.print_scale import print_priors
from photomeasure.scene.priors import ball_priors, depth_priors, sheet_priors
from photomeasure.scene.scene import CameraPrior, OutlineView, PlaneView
from photomeasure.scene.scene import Scene as MeasuredScene
from photomeasure.seen.centre.ball.ball import Ball, find_ball
from photomeasure.seen.centre.ball.fit import centre_u_px
from photomeasure.solution.estimate import estimate
from tests.experiments.ball_cases import draw_case, draw_yard
from tests.experiments.ball_scenes import BallPicture

SADDLE_SIGMA_PX = 0.04
WRONG_RADII = 0.2  # a found centre further from the truth than this share of the radius is a wrong ball
FOCAL_U = 0.03


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """One picture. error_px: right and down of the true centre; z: over the claimed uncertainty; height_z likewise."""

    seed: int
    finish: str
    light: str
    distance_mm: float
    state: str
    chat: bool
    result: str  # found, wrong, or the refusal's code
    radius_px: float = float("nan")
    confidence: float = float("nan")
    error_px: tuple[float, float] = (float("nan"), float("nan"))
    z: tuple[float, float] = (float("nan"), float("nan"))
    height_error_mm: float = float("nan")
    height_z: float = float("nan")


def height_of(
    ball: Ball,
    *,
    intrinsics: NDArray[np.float64],
    pose: NDArray[np.float64],
    centre_mm: NDArray[np.float64],
    diameter_mm: float,
    rng: np.random.Generator,
) -> tuple[float, float] | None:
    """Height error and its standard uncertainty, mm, from the outline; the sheet seen with saddle noise.

    intrinsics (9,) and pose (4, 4), camera from the sheet's world, are the true ones.
    """
    sheet = next(sheet for sheet in kit("a4").sheets if sheet.role == "upright")
    local = sheet.local_mm(sheet.points_mm)
    world = np.stack([local[:, 0], np.zeros(len(local)), local[:, 1]], axis=1)
    px = project(intrinsics, world @ pose[:3, :3].T + pose[:3, 3])[0]
    px += rng.normal(0.0, SADDLE_SIGMA_PX, px.shape)
    mean = intrinsics.copy()
    mean[:2] *= 1.0 + rng.normal(0.0, FOCAL_U)
    basis = np.zeros((9, 1))
    basis[:2, 0] = mean[0] * FOCAL_U
    camera = CameraPrior(
        mean=mean, basis=basis, quantities=("focal length",), size_px=(1, 1), kind="exif", source="drawn"
    )
    sigma_px = np.full(len(px), SADDLE_SIGMA_PX)
    scene = MeasuredScene(
        cameras=(camera,),
        camera_of=(0,),
        planes=(PlaneView(photo=0, plane="upright", local_mm=local, px=px, sigma_px=sigma_px),),
        outlines=(OutlineView(photo=0, px=ball.outline_px, sigma_px=ball.sigma_px),),
        priors=(
            *print_priors(Bars(x_mm=150.0, y_mm=150.0)),
            *sheet_priors(),
            *ball_priors(diameter_mm),
            *depth_priors(0.0),
            *ground_priors(0.0, flat=True),
        ),
    )
    solved = estimate(scene)
    if isinstance(solved, Refusal):
        return None
    return solved.height_mm - float(centre_mm[2]), solved.u_mm


def judge(seed: int, picture: BallPicture) -> Outcome:
    """Search, and compare with the truth."""
    found = find_ball(picture.view())
    outcome = Outcome(
        seed=seed,
        finish=picture.finish,
        light=picture.light,
        distance_mm=picture.distance_mm,
        state=picture.state,
        chat=picture.chat,
        result=found.code if isinstance(found, Refusal) else "wrong",
    )
    if isinstance(found, Refusal):
        return outcome
    outcome = replace(outcome, radius_px=found.radius_px, confidence=found.confidence)
    if picture.centre_px is None:
        return outcome
    error = found.centre_px - picture.centre_px
    if np.linalg.norm(error) > WRONG_RADII * found.radius_px:
        return outcome
    outline = found.candidates[0].outline
    assert outline is not None
    z = error / centre_u_px(outline)
    error_px, over_u = (float(error[0]), float(error[1])), (float(z[0]), float(z[1]))
    outcome = replace(outcome, result="found", error_px=error_px, z=over_u)
    assert picture.centre_mm is not None
    height = height_of(
        found,
        intrinsics=picture.true_intrinsics,
        pose=picture.true_pose,
        centre_mm=picture.centre_mm,
        diameter_mm=picture.diameter_mm,
        rng=np.random.default_rng(seed),
    )
    if height is None:
        return outcome
    return replace(outcome, height_error_mm=height[0], height_z=height[0] / height[1])


def summary(outcomes: list[Outcome]) -> str:
    """Tables by finish, light, distance, size and state."""
    heads = "found refused wrong | centre px: mean (x, y)   rms (x, y)    z (x, y)  | height mm: mean   rms    z"
    lines = [f"{'group':28s} {'n':>4s} {heads}"]
    for name, members in _groups(outcomes):
        found = [o for o in members if o.result == "found"]
        wrong = sum(o.result == "wrong" for o in members)
        line = f"{name:28s} {len(members):4d} {len(found):5d} {len(members) - len(found) - wrong:7d} {wrong:5d} |"
        if found:
            e, z = np.array([o.error_px for o in found]), np.array([o.z for o in found])
            h = np.array([[o.height_error_mm, o.height_z] for o in found])
            line += f"   {_pair(e.mean(axis=0))}   {_pair(_rms(e))}   {_pair(_rms(z))} |"
            rms = np.sqrt(np.nanmean(h**2, axis=0))
            line += f" {np.nanmean(h[:, 0]):9.2f} {rms[0]:6.2f} {rms[1]:5.2f}"
        lines.append(line)
    return "\n".join(lines)


def _rms(values: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(np.sqrt((values**2).mean(axis=0)))


def _pair(values: NDArray[np.float64]) -> str:
    return f"{values[0]:5.2f} {values[1]:5.2f}"


def _groups(outcomes: list[Outcome]) -> Iterator[tuple[str, list[Outcome]]]:
    keyed: dict[str, list[Outcome]] = defaultdict(list)
    for o in outcomes:
        keyed[f"state {o.state}"].append(o)
        if o.state != "bare":
            continue
        keyed[f"finish {o.finish}"].append(o)
        keyed[f"light {o.light}"].append(o)
        near, far = (lambda edge: (edge, edge + 500))(int(o.distance_mm // 500) * 500)
        keyed[f"distance {near}-{far} mm"].append(o)
        keyed["1600 px, JPEG 70" if o.chat else "12 MP"].append(o)
    yield from sorted(keyed.items())


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--n", type=int, default=100)
    parser.add_argument("--seed", type=int, default=200000)
    parser.add_argument("--yard", action="store_true")
    parser.add_argument("--json", type=Path)
    options = parser.parse_args()
    outcomes = []
    for seed in range(options.seed, options.seed + options.n):
        outcomes.append(judge(seed, draw_yard(seed) if options.yard else draw_case(seed)))
        if outcomes[-1].result == "wrong":
            print("WRONG", outcomes[-1], flush=True)
    print(summary(outcomes))
    if options.json:
        options.json.write_text(json.dumps([asdict(o) for o in outcomes]))


if __name__ == "__main__":
    main()
