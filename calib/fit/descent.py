"""Levenberg-Marquardt, the part that knows nothing of what is fitted: which steps are taken, how they are damped, when it ends.

Source: J. Nocedal, S. Wright, "Numerical Optimization", 2nd edition 2006, section 10.3 (from memory); the factors are judgement.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Generic, TypeVar

State = TypeVar("State")
_LEAST_COST = 1e-300  # an exact fit must not divide by zero


@dataclass(frozen=True, slots=True, kw_only=True)
class Damping:
    """factor: by which it grows after a step that did not help, and shrinks after one that did, but not below `least`; at
    `most` nothing more is tried."""

    factor: float
    most: float
    first: float = 1e-4
    least: float = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Descended(Generic[State]):
    """converged: whether the last step gained next to nothing, or none could be found from a cost that is finite."""

    state: State
    cost: float
    converged: bool


def descend(
    state: State,
    cost: Callable[[State], float],
    steps_from: Callable[[State], Callable[[float], State | None]],
    *,
    damping: Damping,
    steps: int,
    least_gain: float,
    enough: Callable[[State, float], bool] | None = None,
) -> Descended[State]:
    """Go down from a state as long as a step gains more than `least_gain` of the cost, `steps` times at most.

    enough: whether a state and its cost will do, and nobody wants to know where it would end.

    steps_from: from a state to its steps by their damping, each the state that it leads to, or None where it has no
    solution. What depends on the state alone is worked out once there.
    """
    value, damped = cost(state), damping.first
    for _ in range(steps):
        step = steps_from(state)
        while damped < damping.most:
            tried = step(damped)
            if tried is not None and (reached := cost(tried)) <= value:
                break
            damped *= damping.factor
        else:
            return Descended(state=state, cost=value, converged=math.isfinite(value))
        gain = (value - reached) / max(value, _LEAST_COST)
        state, value, damped = tried, reached, max(damped / damping.factor, damping.least)
        if enough is not None and enough(state, value):
            return Descended(state=state, cost=value, converged=False)
        if gain < least_gain:
            return Descended(state=state, cost=value, converged=True)
    return Descended(state=state, cost=value, converged=False)
