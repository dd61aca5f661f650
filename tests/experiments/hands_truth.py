"""What was drawn of a path-traced rig, in the model's own parameters, and what each input quantity did to its height.

To first order the height's error is the sum of c_i e_i over the whitened rows: c_i the budget's sensitivity, e_i how far the
prior's mean was from what was drawn, in its standard uncertainties. What is left of the error came from the pictures.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from photomeasure.interval.budget import sensitivities
from photomeasure.scene.priors import DEG
from photomeasure.scene.scene import CameraPrior
from photomeasure.solution.estimate import Estimate
from photomeasure.solution.model import camera_parameters


def drawn_parameters(truth: Mapping[str, Any]) -> dict[str, float]:
    """By a rig's truth file; the world turned so that the foot line runs along x."""
    sheet, centre = truth["sheet"], truth["centre"]
    turn = sheet["turn_deg"] * DEG
    growth = truth["growth"]
    found = {
        "print.x": truth["print_scale"][0] * (1 + growth),
        "print.y": truth["print_scale"][1] * (1 + growth),
        "paper.growth": growth,
        "rule.error": truth["ruler_mm"],
        "sheet.lean": sheet["lean_deg"] * DEG,
        "sheet.roll": sheet["roll_deg"] * DEG,
        "sheet.gap": sheet["gap_mm"] + truth["below_foot_mm"],
        "sheet.cut": truth["below_foot_mm"],
        "centre.x": centre["x_mm"] * np.cos(turn) + centre["y_mm"] * np.sin(turn),
        "centre.y": -centre["x_mm"] * np.sin(turn) + centre["y_mm"] * np.cos(turn),
        "centre.z": centre["z_mm"],
        "rig.turn": -turn,
        "ground.rise": truth["ground_rise_mm"],
        "ground.slope_rise": 0.0,  # what rises is drawn as one
        "ball.radius": 25.0,
        "tag.placement": -truth["tag_off_mm"],
    }
    if (flat := truth.get("ground_sheet")) is not None:
        found["flat.lift"] = flat["lift_mm"]
    return {name: float(value) for name, value in found.items()}


def effects(solved: Estimate, truth: Mapping[str, Any]) -> dict[str, tuple[float, float, float]]:
    """By input quantity: u of the height claimed for it, what it did to the height, and its squared whitened error's sum
    over the number of rows; what the pictures did is named "pixels"."""
    drawn, c = {**drawn_parameters(truth), **_of_cameras(solved, truth)}, sensitivities(solved)
    first = len(solved.rows.quantities) - len(solved.scene.priors)
    found: dict[str, list[float]] = {}
    for row, prior in enumerate(solved.scene.priors, start=first):
        if not set(prior.coefficients) <= set(drawn):
            continue
        off = (prior.mean - sum(value * drawn[name] for name, value in prior.coefficients.items())) / prior.u
        _add(found, prior.quantity, c[row], off)
    names = [parameter.name for parameter in camera_parameters(solved.scene)]
    camera_rows = range(first - len(names), first)
    for row, name in zip(camera_rows, names, strict=True):
        _add(found, solved.rows.quantities[row], c[row], -drawn.get(name, 0.0))
    told = sum(effect for _, effect, _, _ in found.values())
    error = solved.height_mm - float(truth["height_mm"])
    claimed = sum(variance for variance, _, _, _ in found.values())
    pixels = (float(np.sqrt(max(solved.u_mm**2 - claimed, 0.0))), error - told, 0.0)
    return {
        **{what: (float(np.sqrt(v)), float(e), float(z / n)) for what, (v, e, z, n) in found.items()},
        "pixels": pixels,
    }


def _add(found: dict[str, list[float]], quantity: str, c: float, off: float) -> None:
    one = found.setdefault(quantity, [0.0, 0.0, 0.0, 0.0])
    one[0] += float(c) ** 2
    one[1] += float(c) * off
    one[2] += off**2
    one[3] += 1.0


def _of_cameras(solved: Estimate, truth: Mapping[str, Any]) -> dict[str, float]:
    """The unknowns of the cameras, by the lens that was drawn: the nearest that the prior's basis reaches."""
    found = {}
    for parameter in camera_parameters(solved.scene):
        prior = solved.scene.cameras[parameter.camera]
        photo = solved.scene.camera_of.index(parameter.camera) if parameter.photo is None else parameter.photo
        found[parameter.name] = float(_weights(prior, truth["photo"][photo])[parameter.column])
    return found


def _weights(prior: CameraPrior, photo: Mapping[str, Any]) -> NDArray[np.float64]:
    lens = prior.mean.copy()
    lens[:2] = photo["focal_px"]
    lens[2:4] = photo["principal_px"]
    lens[4:6] = photo["k1"], photo["k2"]
    scale = np.maximum(np.abs(prior.basis).max(axis=1), 1e-12)
    reached = np.abs(prior.basis).max(axis=1) > 0.0
    solution = np.linalg.lstsq(
        (prior.basis / scale[:, None])[reached], ((lens - prior.mean) / scale)[reached], rcond=None
    )
    return np.asarray(solution[0])
