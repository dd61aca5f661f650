"""What the photographs contradict of what was assumed.

Every prior is a statement that the photographs may speak against, and so is that nobody edited the picture. With whitened
residuals r = (I - H) e, H the hat matrix of the Jacobian J, cov(r) = I - H, a mistake whose column is c has the score c'r with
variance c'(I - H)c where nothing is wrong (and more by the square of that times what is honest of it). The mistake with the
largest score over its standard deviation is taken as the cause, residuals and covariance are conditioned on it, and the next
is looked for. What no photograph can check (nothing but the prior tells it) can never be noticed: that is a limit of
photographs, written in the study of coverage.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from photomeasure.scene.bar_tag import MOVED, TURNED
from photomeasure.solution.estimate import Estimate
from photomeasure.solution.mistakes import BARS, columns_of, mistakes

if TYPE_CHECKING:
    from scipy.sparse import csr_array

Contradictions = tuple[
    tuple[str, float], ...
]  # input quantity and its test value in standard deviations, the worst first

MIN_REDUNDANCY = 0.02  # less than this is a prior that nothing else in the scene checks;
MIN_REDUNDANCY_OF_SEVERAL = (
    1e-4  # two bars vouch for each other, what checks both together is far less sure than they are
)
MAX_CAUSES = 3
# Where two causes explain the same as well, the one that people make more often is meant: nothing in the picture tells.
ALIKE = 0.97
USUAL_FIRST = ("foot gap", "sheet roll", "sheet lean", BARS, "check bar x", "check bar y", "depth", "ball diameter")
CAMERA_QUANTITIES = frozenset({"focal length", "principal point", "distortion", "camera profile"})
BAR_QUANTITIES = frozenset({"print scale", "print scale, x against y", "check bar x", "check bar y", BARS})
# Photographs of different rigs bend what was stated of camera and sheet by 11 sigmas and more, those of one rig by less
# than 3.5 (path-traced sets and samples). What honest photographs of one rig do show together may go further.
APART_SIGMAS, APART_SIGMAS_OF = (
    6.0,
    {
        "depth": 8.0,
        "sheet lean": 8.0,
        "foot gap": 12.0,
        "sheet roll": 12.0,
        BARS: float("inf"),
        MOVED: float("inf"),
        TURNED: float("inf"),
    },
)


def contradicted(solved: Estimate) -> Contradictions:
    """What the photographs contradict, the worst first, each with its test value in standard deviations."""
    asked = mistakes(solved)
    columns = columns_of(asked, len(solved.rows.residual))
    through, squares = _by_parameters(columns, solved.rows.jacobian)
    own = np.diag(squares)
    covariance = squares - through @ (through @ solved.covariance).T  # (A, A)
    score = columns @ solved.rows.residual
    honest = np.array([mistake.honest_u for mistake in asked])
    several = np.array([len(mistake.rows) > 1 for mistake in asked])
    least = np.where(several, MIN_REDUNDANCY_OF_SEVERAL, MIN_REDUNDANCY) * np.maximum(own, 1e-30)
    below, above = np.array([mistake.limits for mistake in asked]).T
    found: list[tuple[str, float]] = []
    for _ in range(MAX_CAUSES):
        left = covariance.diagonal()
        checked = left > least
        variance = np.where(checked, left, 1.0)
        w = np.where(checked, np.abs(score) / np.sqrt(variance + (variance * honest) ** 2), 0.0)
        believed = np.where(w > np.where(score > 0.0, above, below), w, 0.0)
        if not believed.any():
            break
        worst = _cause([mistake.quantity for mistake in asked], believed)
        found.append((asked[worst].quantity, float(w[worst])))
        column = covariance[:, worst].copy()
        score -= column * (score[worst] / column[worst])
        covariance -= np.outer(column, column) / column[worst]
    return tuple(found)


def _by_parameters(
    columns: NDArray[np.float64] | csr_array, jacobian: NDArray[np.float64]
) -> tuple[NDArray[np.float64] | csr_array, NDArray[np.float64]]:
    """What each of A columns (A, R) does to the parameters (A, parameters), and their products (A, A)."""
    if isinstance(columns, np.ndarray):
        return columns @ jacobian, columns @ columns.T
    from scipy.sparse import csr_array  # loaded where the columns are made

    return columns @ csr_array(jacobian), (columns @ columns.T).toarray()


def _cause(quantities: Sequence[str], w: NDArray[np.float64]) -> int:
    """The number of the worst; of several that explain as much, of the one that is more usual."""
    alike = [int(i) for i in np.flatnonzero(w >= ALIKE * w.max())]

    def rank(i: int) -> tuple[int, float]:
        usual = USUAL_FIRST.index(quantities[i]) if quantities[i] in USUAL_FIRST else len(USUAL_FIRST)
        return usual, -float(w[i])

    return min(alike, key=rank)


def only_together(left: Contradictions, alone: Sequence[Estimate]) -> tuple[str, ...]:
    """Input quantities that the photographs contradict plainly together (left) and none of them by itself: they do not belong
    together."""
    by_one = {quantity for one in alone for quantity, _ in contradicted(one)}
    return tuple(
        dict.fromkeys(
            quantity
            for quantity, sigmas in left
            if sigmas > APART_SIGMAS_OF.get(quantity, APART_SIGMAS) and quantity not in by_one
        )
    )
