"""A scene in which what the photographs contradict tells nothing any more: how far each statement may then be wrong."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from calib.camera.camera import INTRINSICS
from calib.words.said import said
from photomeasure.asked.bars import Bars
from photomeasure.scene.print_scale import print_priors
from photomeasure.scene.priors import DEG
from photomeasure.scene.scene import CameraPrior, Prior, Scene
from photomeasure.solution.contradicted import BAR_QUANTITIES, CAMERA_QUANTITIES
from photomeasure.solution.mistakes import ASPECT, BARS

# What is known of a camera before its picture is looked at; where a picture contradicts it, it counts this much less.
CAMERA_FACTOR = 10.0
ASPECT_U = 0.05  # height over width of a picture that somebody stretched: a twentieth is seen by anybody (judgement)
# Further terms of a lens that bends more than a phone's: of wide lenses the third radial one is some hundredths, those of a lens that is
# not quite centred a thousandth (computed from published lens profiles; judgement)
BENDING_U, N_RADIAL = {"k3": 0.02, "p1": 0.002, "p2": 0.002}, 2
# Standard deviation of a statement that turned out wrong, in its prior's own unit: no more than "anywhere where a person
# can put it" (judgement). What is not named here counts CAMERA_FACTOR times less.
WRONG_U = {
    "sheet lean": 15.0 * DEG,
    "sheet roll": 15.0 * DEG,
    "foot gap": 60.0,
    "depth": 200.0,
    "tag lie": 45.0 * DEG,
    "ball diameter": 8.0,
    "ball edge": 5.0,
}
NO_WAY = said("withdrawn, for the photographs contradict it")


def can_give_way(quantity: str) -> bool:
    """Whether the model has an unknown that takes the mistake up: a sheared picture has none."""
    return quantity != "skew"


def giving_way(scene: Scene, quantities: Sequence[str]) -> Scene:
    """The scene without what was stated of some quantities; of a camera, once for every time that it is named."""
    names, cameras = set(quantities), scene.cameras
    for one in quantities:
        if one in CAMERA_QUANTITIES:
            cameras = tuple(camera.loosened((one,), CAMERA_FACTOR) for camera in cameras)
    if "distortion" in names and scene.markers:
        cameras = tuple(_free_to_bend(camera) for camera in cameras)
    if names & {ASPECT, "proportions"}:
        cameras = tuple(_free_to_stretch(camera) for camera in cameras)
    priors = _without_bars(scene.priors) if names & BAR_QUANTITIES else scene.priors
    return replace(
        scene, cameras=cameras, priors=tuple(_wide(prior) if prior.quantity in names else prior for prior in priors)
    )


def _free_to_stretch(camera: CameraPrior) -> CameraPrior:
    if ASPECT in camera.quantities:
        return camera
    column = np.zeros(len(camera.mean))
    column[:2] = -0.5 * ASPECT_U * camera.mean[0], 0.5 * ASPECT_U * camera.mean[1]
    return replace(camera, basis=np.column_stack([camera.basis, column]), quantities=(*camera.quantities, ASPECT))


def _free_to_bend(camera: CameraPrior) -> CameraPrior:
    """Markers all over a picture tell more of a lens than its two first terms: where those do not do, none is left out."""
    if camera.kind == "profile" or camera.quantities.count("distortion") > N_RADIAL:
        return camera
    columns = np.zeros((len(camera.mean), len(BENDING_U)))
    for column, (name, u) in enumerate(BENDING_U.items()):
        columns[INTRINSICS.index(name), column] = u
    return replace(
        camera,
        basis=np.column_stack([camera.basis, columns]),
        quantities=(*camera.quantities, *["distortion"] * len(BENDING_U)),
    )


def _without_bars(priors: tuple[Prior, ...]) -> tuple[Prior, ...]:
    """As if no bar had been measured."""
    of_bars = {"check bar x", "check bar y", "rule", "card", "paper humidity", BARS}
    known = {"print scale", "print scale, x against y", *of_bars}
    return (*print_priors(Bars()), *(prior for prior in priors if prior.quantity not in known))


def _wide(prior: Prior) -> Prior:
    if prior.quantity in BAR_QUANTITIES:  # as if unmeasured: wide already
        return prior
    u = max(prior.u, WRONG_U.get(prior.quantity, CAMERA_FACTOR * prior.u))
    return replace(prior, u=u, distribution="normal", source=f"{prior.source}; {NO_WAY}")
