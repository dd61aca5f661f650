"""A solved scene with the means of some of its priors moved: a few steps of Gauss and Newton from where it was solved.

Only the residuals of priors move, by as much as their means over their u. What does not hang on the means is worked out once for
all solutions of a scene, and where the last step was small what it did to the residuals is taken from the Jacobian.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.scene.scene import Prior
from photomeasure.solution.elimination import dense
from photomeasure.solution.estimate import Estimate, finish, solved_from
from photomeasure.solution.rows import Whitening

_STEPS = 8  # at most: three are usual
_DAMPING = 1e-9


class OtherMeans:
    """Solutions of the scene of one solution, with other means of its priors."""

    def __init__(self, solved: Estimate) -> None:
        self._scene, self._where, self._x = solved.scene, solved.where, solved.x
        self._whitening = Whitening(solved.scene, solved.where)

    def solved(self, priors: Sequence[Prior], start: NDArray[np.float64], settled: float) -> Estimate:
        """The solution nearest to `start` (P,). priors: the scene's own in their order, other means in some of them; settled:
        standard uncertainties by which the last step moves all rows together at most.

        A start that no camera has (far along a slope that holds for little, its focal length is below zero) is none: then
        it is where the scene was solved.
        """
        scene = replace(self._scene, priors=tuple(priors))
        by = np.array([(other.mean - own.mean) / own.u for other, own in zip(priors, self._scene.priors, strict=True)])
        x, cost = start, np.inf
        for _ in range(_STEPS):
            rows = self._whitening.at(x)
            residual = rows.residual.copy()
            residual[rows.places.priors.start : rows.places.priors.stop] += by
            if not residual @ residual < cost:
                break
            cost = float(residual @ residual)
            try:
                step = dense(rows.jacobian).step(residual, _DAMPING)
            except np.linalg.LinAlgError:
                break
            x, moved = x + step, rows.jacobian @ step
            if moved @ moved < settled**2:
                return finish(scene, self._where, x, solved=replace(rows, residual=residual + moved))
        possible = bool(np.isfinite(self._whitening.at(start).residual).all())
        return solved_from(scene, self._where, start if possible else self._x, settled)
