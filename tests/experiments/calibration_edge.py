"""What a camera profile is worth: the height's error in the middle and the corner of the frame.

    python -m tests.experiments.calibration_edge [SCENES]

Lenses are drawn from the published spread of phone main cameras (focal length, principal point, radial distortion). The
profile is that lens as a calibration of ten photographs finds it (the covariance of one such, simulated here), then
off by what `Profile.prior` allows for: 3 % of focal length between sessions; focus by the thin lens (f = 5.4 mm, board
at its simulated distance, or at 1.5 m) in one go; a stabilised principal point always. The last row is what the
calibration itself leaves: what a lens that cannot focus or shift would give.
"""

from __future__ import annotations

import sys
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from calib.calibration.calibrate import Calibration, calibrate
from calib.profile.profile import Lens, Profile
from calib.survey.solve import lens_basis
from photomeasure.scene.scene import CameraPrior, Scene
from photomeasure.solution.estimate import Estimate, estimate, measurand_gradient
from photomeasure.solution.geometry import pose_looking
from photomeasure.solution.model import intrinsics_of, layout
from tests.calib.finding.board_views import SIZE_PX, views
from tests.points.simulate import Shot, _truth, blank, observed

PLACES = {"middle of the frame": (0.0, 0.0, 250.0), "bottom edge": (0.0, 0.0, 1050.0), "corner": (1050.0, 0.0, 1050.0)}
FOCAL_MM = 5.4
LENSES = {"lens at the coupling's height": (0.0, -2000.0, 450.0), "standing": (0.0, -2000.0, 1500.0)}


def calibrated(intrinsics: NDArray[np.float64], rng: np.random.Generator) -> Profile:
    """A profile of that lens from ten simulated photographs with 0.1 px of noise."""
    found = calibrate(views(rng, intrinsics=intrinsics, count=10), SIZE_PX)
    if not isinstance(found, Calibration):
        raise TypeError(found.reason)
    return Profile.of(found, digests={}, camera=Lens(focal_mm=FOCAL_MM), board="simulated")


def profile_prior(covariance: NDArray[np.float64], truth: NDArray[np.float64], rng: np.random.Generator) -> CameraPrior:
    """The estimator's prior: calibrated numbers of this lens, off the truth by a draw of their covariance (9, 9)."""
    basis = lens_basis(covariance)
    return CameraPrior(
        mean=truth + basis @ rng.normal(size=basis.shape[1]),
        basis=basis,
        quantities=("camera profile",) * basis.shape[1],
        size_px=SIZE_PX,
        kind="profile",
        source="simulated",
    )


def scene_of(
    place: tuple[float, float, float], lens: tuple[float, float, float], rng: np.random.Generator
) -> tuple[Scene, float, NDArray[np.float64]]:
    """One picture aimed so that the coupling falls where it should: scene, true height, true intrinsics."""
    shot = Shot(lenses_mm=(lens,), pick_px=0.3)
    empty = blank(shot)
    where = layout(empty)
    x = _truth(empty, where, shot, 0.0, rng)
    x[where.pose(0)] = pose_looking(np.array(lens) + rng.normal(0, 40, 3), np.array(place) + rng.normal(0, 30, 3))
    scene = observed(empty, where, x, rng)
    return scene, float(measurand_gradient(empty, where) @ x), intrinsics_of(empty, where, x, 0)


def row(name: str, errors: list[float], stated: list[float]) -> str:
    rms = float(np.sqrt(np.mean(np.square(errors))))
    birge = float(np.sqrt(np.mean((np.array(errors) / np.array(stated)) ** 2)))
    return f"  {name:<26} RMS error {rms:5.2f} mm   stated u {np.mean(stated):5.2f} mm   Birge {birge:4.2f}"


def main(count: int) -> None:
    known = calibrated(np.array([2950.0, 2950.0, 2010.0, 1490.0, 0.006, -0.006, 0, 0, 0]), np.random.default_rng(1))
    farther = known.model_copy(update={"distance_mm": 1500.0})
    print(f"board at {known.distance_mm:.0f} mm: focus {100 * known.focus_share():.2f} %; at 1500 mm: ", end="")
    print(f"{100 * farther.focus_share():.2f} %")
    for lens_name, lens in LENSES.items():
        for place_name, place in PLACES.items():
            print(f"{place_name}, {lens_name}")
            found: dict[str, tuple[list[float], list[float]]] = {}
            for seed in range(count):
                scene, height, truth = scene_of(place, lens, np.random.default_rng(seed))
                rng = np.random.default_rng(10_000 + seed)
                cameras = {
                    "EXIF alone": scene.cameras[0],
                    "profile, another session": profile_prior(known.prior()[1], truth, rng),
                    "profile, one go": profile_prior(known.prior(same_session=True)[1], truth, rng),
                    "profile, one go, 1.5 m": profile_prior(farther.prior(same_session=True)[1], truth, rng),
                    "calibration alone": profile_prior(np.array(known.covariance), truth, rng),
                }
                for name, camera in cameras.items():
                    solved = estimate(replace(scene, cameras=(camera,)))
                    if isinstance(solved, Estimate):
                        errors, stated = found.setdefault(name, ([], []))
                        errors.append(solved.height_mm - height)
                        stated.append(solved.u_mm)
            for name, (errors, stated) in found.items():
                print(row(name, errors, stated))


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100)
