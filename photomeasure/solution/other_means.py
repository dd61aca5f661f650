"""A solved scene with the means of some of its priors moved: a few steps of Gauss and Newton from where it was solved.

Only the residuals of priors move, by as much as their means over their u. What does not hang on the means is worked out once for
all solutions of a scene, and where the last step was small what it did to the residuals is taken from the Jacobian.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from photomeasure.scene.scene import Prior
from photomeasure.solution.elimination import dense
from photomeasure.solution.estimate import Estimate, finish, solved_from
from photomeasure.solution.rows import Rows, Whitening

_STEPS = 8  # at most: three are usual
_DAMPING = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """priors: the scene's own in their order, other means in some of them; start: parameters (P,)."""

    priors: Sequence[Prior]
    start: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """x: parameters (P,); whole: the solution with its covariance, worked out for who asks for it."""

    x: NDArray[np.float64]
    height_mm: float
    whole: Callable[[], Estimate]


class OtherMeans:
    """Solutions of the scene of one solution, with other means of its priors."""

    def __init__(self, solved: Estimate) -> None:
        self._scene, self._where, self._x, self._gradient = solved.scene, solved.where, solved.x, solved.gradient
        self._whitening = Whitening(solved.scene, solved.where)

    def solved(self, asked: Sequence[Asked], settled: float) -> list[Found]:
        """The solution of each that is asked, nearest to its start. settled: standard uncertainties by which the last step moves
        all rows together at most.

        A start that no camera has (far along a slope that holds for little, its focal length is below zero) is none: then
        it is where the scene was solved.
        """
        found: dict[int, Found] = {}
        going = {number: (self._by(one.priors), one.start, np.inf) for number, one in enumerate(asked)}
        for _ in range(_STEPS):
            if not going:
                break
            at = self._whitening.at_each([x for _, x, _ in going.values()])
            for (number, (by, x, cost)), rows in zip(list(going.items()), at, strict=True):
                residual = rows.residual.copy()
                residual[rows.places.priors.start : rows.places.priors.stop] += by
                reached = float(residual @ residual)
                step = _step(rows.jacobian, residual) if reached < cost else None
                if step is None:
                    del going[number]
                    continue
                going[number] = by, x + step, reached
                moved = rows.jacobian @ step
                if moved @ moved < settled**2:
                    del going[number]
                    last = replace(rows, residual=residual + moved)
                    found[number] = self._found(asked[number], x + step, last)
        return [found.get(number) or self._by_the_estimator(one, settled) for number, one in enumerate(asked)]

    def _by(self, priors: Sequence[Prior]) -> NDArray[np.float64]:
        """By how much the rows of the priors are other than the scene's own."""
        return np.array(
            [(other.mean - own.mean) / own.u for other, own in zip(priors, self._scene.priors, strict=True)]
        )

    def _found(self, asked: Asked, x: NDArray[np.float64], rows: Rows) -> Found:
        scene = replace(self._scene, priors=tuple(asked.priors))
        return Found(
            x=x, height_mm=float(self._gradient @ x), whole=partial(finish, scene, self._where, x, solved=rows)
        )

    def _by_the_estimator(self, asked: Asked, settled: float) -> Found:
        possible = bool(np.isfinite(self._whitening.at(asked.start).residual).all())
        scene = replace(self._scene, priors=tuple(asked.priors))
        solved = solved_from(scene, self._where, asked.start if possible else self._x, settled)
        return Found(x=solved.x, height_mm=solved.height_mm, whole=lambda: solved)


def _step(jacobian: NDArray[np.float64], residual: NDArray[np.float64]) -> NDArray[np.float64] | None:
    try:
        return dense(jacobian).step(residual, _DAMPING)
    except np.linalg.LinAlgError:
        return None
