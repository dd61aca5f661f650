"""A centre that a bar tag carries over: what a photograph tells of it in the tag's frame, and how far it sank meanwhile.

Two heights of one rig are not independent: they share the print and its bars, the phone, and the sheet's stance and the
ground where nobody touched the sheet; and the second height rests on the first through the tag. To the first order each
height is a sum of effects of independent rows (JCGM 100:2008 5.1), so that the covariance of the two is the sum over the
rows that they share: u(sink)^2 = u_before^2 + u_after^2 - 2 cov (JCGM 100:2008 5.2.2).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from photomeasure.asked.carried import Bar, Carried
from photomeasure.interval.budget import sensitivities
from photomeasure.scene.bar_tag import CARRIED, carried_names
from photomeasure.scene.scene import Prior
from photomeasure.scene.shared import shared_rows
from photomeasure.solution.estimate import Estimate
from photomeasure.solution.shared import rows_of


def bar_of(solved: Estimate, tag: int, more: tuple[int, ...] = ()) -> Bar:
    """The centre in the bar tags' frame, and the covariances that a later photograph needs. more: further tags' ids."""
    at = solved.where.at(*carried_names(more))
    covariance = solved.covariance[np.ix_(at, at)]
    symmetric = (covariance + covariance.T) / 2
    wanted = np.vstack([np.eye(len(solved.x))[at], solved.gradient])
    by_row = -wanted @ solved.covariance @ solved.rows.jacobian.T  # (n + 1, R): what one u of each row does
    return Bar(
        tag=tag,
        more=more,
        mean=tuple(solved.x[at].tolist()),
        covariance=tuple(tuple(row) for row in symmetric.tolist()),
        with_height=tuple((solved.covariance[at] @ solved.gradient).tolist()),
        height_mm=solved.height_mm,
        u_mm=solved.u_mm,
        placement_mm=_placement_mm(solved),
        effects={
            row.name: tuple(by_row[:, number].tolist()) for number, row in rows_of(solved.scene, solved.rows.places)
        },
    )


def _placement_mm(solved: Estimate) -> float:
    """Of what the height itself stands on; a placement of photographs from before is no part of it."""
    of_height = [name for name in solved.scene.measurand if name.endswith(".placement")]
    placed = [prior.u for prior in solved.scene.priors if next(iter(prior.coefficients)) in of_height]
    return float(np.linalg.norm(placed))


def carried_u_mm(solved: Estimate) -> float:
    """The part of the height's standard uncertainty that comes with what was carried over and nothing else tells."""
    return float(np.linalg.norm([effect for _, effect in _carried_effects(solved)]))


def sink_mm(solved: Estimate, carried: Carried) -> tuple[float, float]:
    """How far the centre sank since the bar tag's record (before less after), and its standard uncertainty, mm."""
    every = sensitivities(solved)
    numbered = list(rows_of(solved.scene, solved.rows.places))
    numbers = {row.name: number for number, row in numbered}
    untouched = carried.sheet_untouched is True
    with_height = np.array(carried.with_height)
    together = 0.0
    for row in shared_rows([row for _, row in numbered], carried.effects, sheet_untouched=untouched):
        *on_carried, on_height = carried.effects[row.name]
        together += float(every[numbers[row.name]]) * on_height
        with_height = with_height - np.array(on_carried) * on_height
    together += float(_slopes(_carried_effects(solved), carried_names(carried.more)) @ with_height)
    together += carried.placement_mm**2
    square = carried.u_mm**2 + solved.u_mm**2 - 2.0 * together
    return carried.height_mm - solved.height_mm, float(np.sqrt(max(square, carried_u_mm(solved) ** 2)))


def _carried_effects(solved: Estimate) -> list[tuple[Prior, float]]:
    """Each independent combination that was carried over, with what one u of it does to the height, mm."""
    every, priors = sensitivities(solved), zip(solved.scene.priors, solved.rows.places.priors, strict=True)
    return [(prior, float(every[row])) for prior, row in priors if prior.quantity == CARRIED]


def _slopes(effects: list[tuple[Prior, float]], names: Sequence[str]) -> NDArray[np.float64]:
    """(n,) the height's slope by each of those that were carried over."""
    slopes = np.zeros(len(names))
    for prior, effect in effects:
        slopes += np.array([prior.coefficients[name] for name in names]) * (effect / prior.u)
    return slopes
