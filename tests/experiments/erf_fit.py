"""The numbers of `calib.finding.error_function`: python -m tests.experiments.erf_fit

Erf on 0..END as x P(x^2) / Q(x^2), by linear least squares made worth the denominator (Sanathanan and Koerner 1963) and weighed
towards the largest error (Lawson 1961), both from memory. Prints the degrees, the largest error in double precision, as it
is in single precision, and P and Q, highest power first.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import erf

END, POINTS, ROUNDS, SCALE = 3.95, 4000, 60, 16.0
DEGREES = ((4, 4), (5, 4), (5, 5), (6, 5))
Array = NDArray[np.float64]


def fitted(above: int, below: int) -> tuple[float, Array, Array]:
    """Largest error, P and Q of these degrees."""
    x = END * 0.5 * (1.0 - np.cos(np.pi * (np.arange(POINTS) + 0.5) / POINTS))
    square, wanted = x * x, erf(x)
    weight, divisor = np.ones(POINTS), np.ones(POINTS)
    up, down = np.arange(above, -1, -1), np.arange(below, -1, -1)
    best: tuple[float, Array, Array] | None = None
    for _ in range(ROUNDS):
        powers = (square / SCALE)[:, None]
        design = np.hstack([x[:, None] * powers**up, -wanted[:, None] * powers ** down[:-1]])
        worth = weight / divisor
        solved = np.linalg.lstsq(design * worth[:, None], wanted * worth, rcond=None)[0]
        p, q = solved[: above + 1] / SCALE**up, np.append(solved[above + 1 :], 1.0) / SCALE**down
        divisor = np.polyval(q, square)
        off = np.abs(x * np.polyval(p, square) / divisor - wanted)
        if best is None or off.max() < best[0]:
            best = float(off.max()), p, q
        weight = weight * (0.5 + off / off.max())
        weight /= weight.max()
    assert best is not None
    return best


def in_single(p: Array, q: Array) -> float:
    """The largest error in single precision."""
    x = np.linspace(-6.0, 6.0, 1_000_001)
    short = np.clip(x, -END, END).astype(np.float32)
    square = short * short
    value = short * np.polyval(p.astype(np.float32), square) / np.polyval(q.astype(np.float32), square)
    return float(np.abs(value - erf(x)).max())


if __name__ == "__main__":
    for degrees in DEGREES:
        error, p, q = fitted(*degrees)
        print(degrees, f"{error:.1e} {in_single(p, q):.1e}", *(np.array2string(one, precision=9) for one in (p, q)))
