"""A centre that a bar tag carries over: what a photograph tells of it in the tag's frame, and how far it sank meanwhile.

Two heights of one rig are not independent: they share the print and its bars, the phone, and the sheet's stance and the
ground where nobody touched the sheet; and the second height rests on the first through the tag. To the first order each
height is a sum of effects of independent rows (JCGM 100:2008 5.1), so that the covariance of the two is the sum over the
rows that they share: u(sink)^2 = u_before^2 + u_after^2 - 2 cov (JCGM 100:2008 5.2.2).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from photomeasure.asked.carried import Bar, Carried
from photomeasure.interval.budget import sensitivities
from photomeasure.scene.priors import CARRIED
from photomeasure.scene.scene import BAR_TURNS, OFFSET
from photomeasure.solution.estimate import Estimate
from photomeasure.solution.model import camera_parameters

_NAMES = (*OFFSET, *BAR_TURNS)
_OF_THE_PRINT = ("print.", "rule.", "paper.")  # what a print and a rule do is the same in every photograph of them
_OF_THE_SHEET = ("sheet.", "ground.", "flat.")  # the same while nobody touches the sheet
_CAMERA = "camera: "


def bar_of(solved: Estimate, tag: int) -> Bar:
    """The centre in the bar tag's frame, and the covariances that a later photograph needs."""
    at = solved.where.at(*_NAMES)
    covariance = solved.covariance[np.ix_(at, at)]
    symmetric = (covariance + covariance.T) / 2
    return Bar(
        tag=tag,
        mean=tuple(solved.x[at].tolist()),
        covariance=tuple(tuple(row) for row in symmetric.tolist()),
        with_height=tuple((solved.covariance[at] @ solved.gradient).tolist()),
        height_mm=solved.height_mm,
        u_mm=solved.u_mm,
        effects=effects(solved),
    )


def effects(solved: Estimate) -> dict[str, float]:
    """What one standard uncertainty of each stated quantity and of the phone does to the height, mm, by its full name.

    What a photograph has for itself is not in it.
    """
    every = sensitivities(solved)
    observed, priors = int(solved.rows.observed.sum()), solved.scene.priors
    found: dict[str, float] = {}
    for row, one in enumerate(camera_parameters(solved.scene), start=observed):
        camera = solved.scene.cameras[one.camera]
        if one.photo is None:
            name = f"{_CAMERA}{camera.quantities[one.column]} {one.column}, {camera.kind}, {camera.mean[0]:.2f} px"
            found[name] = float(every[row])
    for prior, effect in zip(priors, every[len(every) - len(priors) :], strict=True):
        if prior.quantity != CARRIED:
            found[f"{prior.quantity} [{' '.join(sorted(prior.coefficients))}]"] = float(effect)
    return found


def carried_u_mm(solved: Estimate) -> float:
    """The part of the height's standard uncertainty that comes with what was carried over."""
    return float(np.linalg.norm(_carried_effects(solved)[0]))


def sink_mm(solved: Estimate, carried: Carried) -> tuple[float, float]:
    """How far the centre sank since the bar tag's record (before less after), and its standard uncertainty, mm."""
    own = effects(solved)
    shared = [name for name in own.keys() & carried.effects.keys() if _is_shared(name, carried.sheet_untouched is True)]
    together = sum(own[name] * carried.effects[name] for name in shared)
    each, slopes = _carried_effects(solved)
    together += float(slopes @ np.array(carried.with_height))
    square = carried.u_mm**2 + solved.u_mm**2 - 2.0 * together
    least = float(np.linalg.norm(each)) * 1e-3
    return carried.height_mm - solved.height_mm, float(np.sqrt(max(square, least**2)))


def _carried_effects(solved: Estimate) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Effect of each independent combination that was carried over (6,), mm; the height's slope by each of the six (6,)."""
    every, priors = sensitivities(solved), solved.scene.priors
    of_priors = every[len(every) - len(priors) :]
    rows = [
        (prior, float(effect)) for prior, effect in zip(priors, of_priors, strict=True) if prior.quantity == CARRIED
    ]
    slopes = np.zeros(len(_NAMES))
    for prior, effect in rows:
        slopes += np.array([prior.coefficients[name] for name in _NAMES]) * (effect / prior.u)
    return np.array([effect for _, effect in rows]), slopes


def _is_shared(name: str, sheet_untouched: bool) -> bool:
    if name.startswith(_CAMERA):
        return True
    starts = (*_OF_THE_PRINT, *_OF_THE_SHEET) if sheet_untouched else _OF_THE_PRINT
    parameters = name[name.index("[") + 1 : -1].split()
    return all(parameter.startswith(starts) for parameter in parameters)
