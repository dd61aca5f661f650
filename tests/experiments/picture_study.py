"""Height error and interval coverage on rendered photographs, by condition: the whole pipeline, from JPEG to interval.

Run by hand:  python -m tests.experiments.picture_study --n 20 --seed 1 [--conditions followed chat] [--tag]
Bare balls are measured twice, picked to half a pixel and found by the program; with --tag the rigs are coupled and carry one.
"Own" is the error that is left where the estimator is told what no photograph shows: the print's scale (bars are typed to
half a millimetre), the foot's gap, the ground's rise, the depth.
The scenes are those of `tests.scenes.draw_rig_scene`; nothing in the product was tuned on these seeds.
"""

from __future__ import annotations

import argparse
import json
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from calib.kit.kit import Paper
from calib.kit.sheets import write_target
from calib.outcome.refusal import Refusal
from photomeasure.asked.bars import Bars
from photomeasure.asked.request import Request
from photomeasure.asked.state import State
from photomeasure.interval.budget import budget
from photomeasure.pipeline import Result, measure
from photomeasure.rules.load import default_rule
from photomeasure.seen.look import Refused
from photomeasure.solution.estimate import estimate
from tests.scenes import CONDITIONS, PrintedKit, Scene, draw_rig_scene, printed_kit, render, save_jpeg


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """One rig: error and standard uncertainty in mm, or why it was refused; own_mm: error with the unseen told."""

    condition: str
    centre: str
    error_mm: float = float("nan")
    own_mm: float = float("nan")
    u_mm: float = float("nan")
    placement_u_mm: float = 0.0
    refused: str = ""
    verdict_wrong: bool = False


def kit_to_print(folder: Path, paper: Paper = "a4") -> PrintedKit:
    return printed_kit(*write_target(folder, paper))


def photographs(scene: Scene, folder: Path, rng: np.random.Generator, name: str) -> tuple[Path, ...]:
    paths = []
    for photo in range(len(scene.cameras)):
        path = folder / f"{name}-{photo}.jpg"
        picture = render(scene, replace(scene.look, grey=True), rng, photo=photo)
        save_jpeg(picture, path, scene.look.jpeg_quality, scene.exif)
        paths.append(path)
    return tuple(paths)


def told(result: Result, scene: Scene) -> float:
    """The height, mm, by the same photographs and estimator where what no photograph shows is known."""
    truth, ground = scene.truth, scene.ground
    if truth is None or ground is None:
        raise ValueError("a study needs scenes with truth")
    n, (x, y, _) = truth.nuisance, truth.centre_mm
    known = {
        "print.x": n["print_scale_x"],
        "print.y": n["print_scale_y"],
        "sheet.gap": n["gap_mm"],
        "ground.rise": float(ground.z_mm(x, y) - ground.z_mm(0.0, 0.0)),
        "centre.y": float(y),
    }
    drawn = result.estimate.scene
    priors = tuple(
        replace(prior, mean=sum(factor * known[name] for name, factor in prior.coefficients.items()))
        if set(prior.coefficients) <= set(known)
        else prior
        for prior in drawn.priors
    )
    solved = estimate(replace(drawn, priors=priors))
    return float("nan") if isinstance(solved, Refusal) else solved.height_mm


def run_one(scene: Scene, paths: tuple[Path, ...], condition: str, centre: str, rng: np.random.Generator) -> Outcome:
    truth = scene.truth
    if truth is None:
        raise ValueError("a study needs scenes with truth")
    picks = [scene.centre_px(photo=photo).ravel() + rng.normal(0.0, 0.5, 2) for photo in range(len(paths))]
    n = truth.nuisance
    outcome = measure(
        Request(
            photos=paths,
            rule=default_rule("ball-50"),
            centres_px=tuple((float(p[0]), float(p[1])) for p in picks) if centre == "pick" else (),
            bars=Bars(x_mm=n["bar_x_mm"], y_mm=n["bar_y_mm"]),
            state=State(coupled=truth.coupled, laden=True, level_ground=True),
        )
    )
    if isinstance(outcome, Refused):
        return Outcome(condition=condition, centre=centre, refused=outcome.refusal.code)
    inside = 350.0 <= truth.height_mm <= 460.0
    verdict = outcome.verdict.verdict
    wrong = (verdict == "within" and not inside) or (verdict in ("above", "below") and inside)
    parts = {row.quantity: row.u_mm for row in budget(outcome.estimate)}
    return Outcome(
        condition=condition,
        centre=centre,
        error_mm=outcome.estimate.height_mm - truth.height_mm,
        own_mm=told(outcome, scene) - truth.height_mm,
        u_mm=outcome.estimate.u_mm,
        placement_u_mm=parts.get("tag placement", 0.0),
        verdict_wrong=wrong,
    )


def study(condition: str, n: int, seed: int, *, tag: bool, keep: Path | None) -> Iterator[Outcome]:
    """Outcomes of n rigs of one condition: pick and ball of each, or the tag."""
    with tempfile.TemporaryDirectory() as temporary:
        folder = keep or Path(temporary)
        kit = kit_to_print(Path(temporary))
        for i in range(n):
            rng = np.random.default_rng([seed, list(CONDITIONS).index(condition), i])
            scene = draw_rig_scene(rng, condition=condition, kit=kit, coupled=tag)
            paths = photographs(scene, folder, rng, f"{condition}-{i}")
            for centre in ("tag",) if tag else ("pick", "ball"):
                yield run_one(scene, paths, condition, centre, rng)
            if keep is None:
                for path in paths:
                    path.unlink()
            elif scene.truth is not None:
                truth = {"height_mm": scene.truth.height_mm, **scene.truth.nuisance}
                (folder / f"{condition}-{i}.json").write_text(json.dumps(truth, indent=1))


def row(name: str, outcomes: list[Outcome]) -> str:
    """One line of the table; u without the tag's placement where the tag was put exactly."""
    measured = [o for o in outcomes if not o.refused]
    refusals = sorted({o.refused for o in outcomes if o.refused})
    if not measured:
        return f"| {name} | 0 of {len(outcomes)} | | | | | | | | {', '.join(refusals)} |"
    error = np.array([o.error_mm for o in measured])
    u = np.array([np.sqrt(o.u_mm**2 - o.placement_u_mm**2) for o in measured])
    told_mm = np.array([o.own_mm for o in measured if np.isfinite(o.own_mm)])
    own = f"{np.sqrt((told_mm**2).mean()):.2f}" if len(told_mm) else ""
    z = error / u
    return (
        f"| {name} | {len(measured)} of {len(outcomes)} | {error.mean():+.2f} | {np.sqrt((error**2).mean()):.2f} "
        f"| {np.quantile(np.abs(error), 0.95):.2f} | {np.abs(error).max():.2f} | {np.sqrt((z**2).mean()):.2f} "
        f"| {100 * (np.abs(z) <= 2).mean():.0f} | {own} | wrong sure {sum(o.verdict_wrong for o in measured)}"
        f"{'; ' if refusals else ''}{', '.join(f'{sum(o.refused == r for o in outcomes)} {r}' for r in refusals)} |"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--conditions", nargs="+", default=list(CONDITIONS), choices=list(CONDITIONS))
    parser.add_argument("--n", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--tag", action="store_true")
    parser.add_argument("--keep", type=Path)
    options = parser.parse_args()
    outcomes: list[Outcome] = []
    print(
        "| condition, centre | measured | mean mm | RMS mm | 95 % mm | worst mm | Birge | inside U % | own RMS mm | |"
    )
    print("|---|---|---|---|---|---|---|---|---|---|")
    for condition in options.conditions:
        group = list(study(condition, options.n, options.seed, tag=options.tag, keep=options.keep))
        outcomes += group
        for centre in dict.fromkeys(o.centre for o in group):
            print(row(f"{condition}, {centre}", [o for o in group if o.centre == centre]), flush=True)
    print(row("all", outcomes))


if __name__ == "__main__":
    main()
