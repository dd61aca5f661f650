"""Every input quantity of a solution as a row that can be defended: name, value, u, unit, distribution, how known, source."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from calib.camera.camera import INTRINSICS
from calib.words.said import said
from photomeasure.interval.budget import sensitivities
from photomeasure.record.schema import InputRow
from photomeasure.scene.bar_tag import MOVED, TURNED
from photomeasure.scene.scene import BEFORE, CameraPrior, Prior
from photomeasure.solution.estimate import Estimate
from photomeasure.solution.model import camera_parameters
from photomeasure.solution.rows import SURVEY

_NOISE = {
    "corner noise": said("how the sheet's corners scatter in the photographs"),
    "marker corner noise": said("how the markers' corners scatter in the photographs"),
    "tag corners": said("fit of the tag's pattern in the photographs"),
    "marks on the ground": said("a touch on the ground line (judgement)"),
    "marks on the rail": said("a touch on the rail's edge (judgement)"),
    "bar tag corners": said("fit of the tag's pattern in the photographs"),
    "pick": said("stated by the person who marked the centre"),
    "ball outline": said("how the ball's edge scatters in the photographs"),
}
_STATED_NOISE = {"pick", "marks on the ground", "marks on the rail"}
# which of several parameters a prior of one quantity speaks of
_PARTS = {
    "bar.turn": "turn",
    "bar.lean": "lean",
    "bar.roll": "roll",
    "centre.x": "along",
    "centre.y": "away",
    "tag.turn": "turn",
    "tag.lean": "lean",
    "tag.roll": "roll",
    "flat.x": "across",
    "flat.y": "away",
    "flat.yaw": "turn",
    "flat.tilt_x": "slope across",
    "flat.tilt_y": "slope away",
    "flat.lift": "lift",
    "stand.x": "across",
    "stand.y": "away",
    "stand.yaw": "turn",
}
_INTRINSIC_NAMES = {
    "fx": "focal length",
    "cx": "principal point, across",
    "cy": "principal point, down",
    "k1": "distortion k1",
    "k2": "distortion k2",
}
_CAMERA_SOURCES = {
    "principal point": said(
        "spread over phones' main cameras about the picture's middle (published lens profiles, computed)"
    ),
    "distortion": said("left by main cameras after their own correction (published lens profiles, computed)"),
}
_PROPORTIONS = said(
    "height over width of a pixel: shutters and stabilisers stretch by 0.05-0.2 % (published), who shrinks a picture by up to 0.5 % "
    "(computed)"
)


def input_rows(solved: Estimate) -> list[InputRow]:
    """Observations by kind, the cameras', surveyed points', then the priors, in the order of the solution's rows."""
    effects = sensitivities(solved)
    places = solved.rows.places
    rows = list(_observed(solved, effects))
    for one, row in zip(camera_parameters(solved.scene), places.cameras, strict=True):
        which = f" of camera {one.camera + 1}" if len(solved.scene.cameras) > 1 else ""
        if one.photo is not None and solved.scene.n_photos > 1:
            which = f" of photograph {one.photo + 1}"
        camera = solved.scene.cameras[one.camera]
        rows.append(_camera_row(camera, which, one.column, float(effects[row])))
    rows += _survey(solved, effects, list(places.survey))
    rows += [
        _prior_row(prior, float(effects[row])) for prior, row in zip(solved.scene.priors, places.priors, strict=True)
    ]
    return [*rows, *_second_pose(solved)]


def _observed(solved: Estimate, effects: NDArray[np.float64]) -> Iterator[InputRow]:
    quantities = np.array(solved.rows.quantities)
    for quantity in dict.fromkeys(quantities[solved.rows.observed].tolist()):
        own = (quantities == quantity) & solved.rows.observed
        yield InputRow(
            quantity=quantity,
            value=0.0,
            u=_noise_px(solved, quantity),
            unit="px",
            distribution="normal",
            evaluation="B" if quantity in _STATED_NOISE else "A",
            source=said("{count} coordinates; {how}", count=int(own.sum()), how=_NOISE.get(quantity, said("observed"))),
            height_u_mm=float(np.linalg.norm(effects[own] * np.sqrt(1.0 - solved.rows.survey_share[own]))),
        )


def _noise_px(solved: Estimate, quantity: str) -> float:
    """Median standard uncertainty of one kind of observation, pixels."""
    scene = solved.scene
    sigmas = [view.sigma_px for view in scene.planes if view.quantity == quantity]
    sigmas += [view.sigma_px for view in scene.markers if view.quantity == quantity]
    sigmas += [view.sigma_px for view in scene.outlines if view.quantity == quantity]
    sigmas += [view.sigma_px for view in scene.lines if view.quantity == quantity]
    sigmas += [np.array([view.sigma_px]) for view in scene.points if view.quantity == quantity]
    return float(np.median(np.concatenate(sigmas)))


def _camera_row(camera: CameraPrior, which: str, column: int, effect: float) -> InputRow:
    """One independent part of what was known of a camera: an intrinsic by itself, or a component of its covariance."""
    moved = np.flatnonzero(camera.basis[:, column])
    first = INTRINSICS[moved[0]] if len(moved) else ""
    if camera.quantities[column] == "proportions":
        return InputRow(
            quantity=f"proportions{which}",
            value=1.0,
            u=float(2.0 * abs(camera.basis[0, column]) / camera.mean[0]),
            unit="1",
            distribution="normal",
            evaluation="B",
            source=_PROPORTIONS,
            height_u_mm=effect,
        )
    # fx and fy together are one focal length; against each other, a pixel's proportions
    alone = len(moved) == 1 or (list(moved) == [0, 1] and camera.basis[0, column] * camera.basis[1, column] > 0.0)
    if not alone or first not in _INTRINSIC_NAMES or camera.kind == "profile":
        return InputRow(
            quantity=f"{camera.quantities[column]}{which}, component {column + 1}",
            value=0.0,
            u=1.0,
            unit="1",
            distribution="normal",
            evaluation="A",
            source=said(
                "{source}: principal component {number} of its covariance, in standard deviations",
                source=camera.source,
                number=column + 1,
            ),
            height_u_mm=effect,
        )
    return InputRow(
        quantity=f"{_INTRINSIC_NAMES[first]}{which}",
        value=float(camera.mean[moved[0]]),
        u=float(abs(camera.basis[moved[0], column])),
        unit="1" if first.startswith("k") else "px",
        distribution="normal",
        evaluation="B",
        source=_CAMERA_SOURCES.get(camera.quantities[column], camera.source),
        height_u_mm=effect,
    )


def _survey(solved: Estimate, effects: NDArray[np.float64], rows: list[int]) -> Iterator[InputRow]:
    """Surveyed coordinates: one row for all, as they are alike. rows: of those whose error several photographs share."""
    alone = [name for view in solved.scene.markers for name in view.names if f"{name}.x" not in solved.where.index]
    if not rows and not alone:
        return
    of_rows = float((effects[rows] ** 2).sum()) + float(effects**2 @ solved.rows.survey_share)
    yield InputRow(
        quantity=SURVEY,
        value=0.0,
        u=float(np.median([view.u_mm for view in solved.scene.markers])),
        unit="mm",
        distribution="normal",
        evaluation="B",
        source=said(
            "{count} coordinates of markers, as the bay file states their survey", count=len(rows) + 3 * len(alone)
        ),
        height_u_mm=float(np.sqrt(of_rows)),
    )


def _prior_row(prior: Prior, effect: float) -> InputRow:
    part = _part(prior)
    return InputRow(
        quantity=f"{prior.quantity}, {part}" if part else prior.quantity,
        value=prior.mean,
        u=prior.u,
        unit=prior.unit,
        distribution=prior.distribution,
        evaluation="B",
        source=prior.source,
        height_u_mm=effect,
    )


def _part(prior: Prior) -> str:
    """Which of several parameters it speaks of, and of a pair whether it is of before."""
    names = tuple(prior.coefficients)
    first = names[0].removeprefix(BEFORE)
    one = len(names) == 1 or prior.quantity in (TURNED, MOVED)
    if first.startswith("mount"):
        tag, which = first.removeprefix("mount").split(".")
        words = [f"tag {tag}", which]
    else:
        words = [_PARTS.get(first, "")] if one else []
    then = "before" if any(name.startswith(BEFORE) for name in names) and prior.quantity not in (TURNED, MOVED) else ""
    return ", ".join(word for word in (*words, then) if word)


def _second_pose(solved: Estimate) -> Iterator[InputRow]:
    """A second camera position that cannot be ruled out: the height is one or the other."""
    if solved.ambiguity_u_mm > 0.0 and solved.ambiguity is not None:
        yield InputRow(
            quantity="pose ambiguity",
            value=solved.ambiguity.other_height_mm,
            u=solved.ambiguity_u_mm,
            unit="mm",
            distribution="two values",
            evaluation="A",
            source=said("a second camera position explains the corners nearly as well; weighed by its likelihood"),
            height_u_mm=solved.ambiguity_u_mm,
        )
