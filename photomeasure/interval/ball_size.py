"""How large the ball is by the photographs alone: its outline and the solved scene, without what was said of its diameter.

At the optimum a linear statement with residual r over its u is taken out of the solution by one step of the normal
equations: with v and m of the diameter as solved, v0 and m0 as stated, 1 / v' = 1 / v - 1 / v0 and m' / v' = m / v - m0 / v0.
What stays is what the outline, its edge's shift, depth and the print's scale tell, each with its own uncertainty.
"""

from __future__ import annotations

from photomeasure.scene.ball_sizes import SizeSeen
from photomeasure.solution.estimate import Estimate, estimate
from photomeasure.solution.giving_way import giving_way
from photomeasure.solution.withdrawn import Reconciled, reconciled

DIAMETER = "ball diameter"
MAX_U_MM = 4.0  # less than this tells no ball from another


def ball_size(solution: Reconciled) -> SizeSeen | None:
    """The ball's diameter as the photographs have it; None where no outline was seen, or they say nothing of it.

    Where they contradict what was stated, that may rest on the diameter that was stated: then it is settled anew without.
    """
    solved = solution.estimate
    if "ball.radius" not in solved.where.index:
        return None
    if solution.withdrawn:
        free = giving_way(solution.stated.scene, (DIAMETER,))
        again = estimate(free)
        if not isinstance(again, Estimate):
            return None
        solved = reconciled(free, again).estimate
    return without_statement(solved)


def without_statement(solved: Estimate) -> SizeSeen | None:
    """The formula above."""
    stated = next((prior for prior in solved.scene.priors if prior.quantity == DIAMETER), None)
    if stated is None:
        return None
    variance = (2.0 * solved.u("ball.radius")) ** 2
    weight = 1.0 / variance - 1.0 / stated.u**2
    if weight * MAX_U_MM**2 < 1.0:
        return None
    diameter_mm = (2.0 * solved.value("ball.radius") / variance - stated.mean / stated.u**2) / weight
    return SizeSeen(diameter_mm=diameter_mm, u_mm=weight**-0.5)
