"""Models and inputs of the published examples, each with its source."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.uncertainty.distribution import CurvilinearTrapezoid, Distribution, Normal, Rectangular
from photomeasure.uncertainty.quantity import InputQuantity

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Arcsine:
    """U-shaped, of a quantity that swings by half_width, u = half_width/sqrt(2); JCGM 101:2008 6.4.6."""

    mean: float
    half_width: float
    dof: float = math.inf
    name: str = "arcsine"

    @property
    def u(self) -> float:
        return self.half_width / math.sqrt(2.0)

    def draw(self, rng: np.random.Generator, n: int) -> Array:
        return self.mean + self.half_width * np.sin(2.0 * math.pi * rng.random(n))


@dataclass(frozen=True, slots=True, kw_only=True)
class StudentT:
    """Scaled and shifted t, of a mean of few readings: u = s/sqrt(n), dof = n - 1; JCGM 101:2008 6.4.9."""

    mean: float
    u: float
    dof: float
    name: str = "t"

    def draw(self, rng: np.random.Generator, n: int) -> Array:
        return self.mean + self.u * rng.standard_t(self.dof, n)


def rectangular_between(low: float, high: float) -> Rectangular:
    return Rectangular(mean=0.5 * (low + high), half_width=0.5 * (high - low))


def row(name: str, distribution: Distribution, unit: str = "1") -> InputQuantity:
    return InputQuantity(name=name, distribution=distribution, source="published example", unit=unit)


# JCGM 100:2008 H.1, end gauge, nm. The last three half-widths give the published u 0.58e-6, 0.029 and 1.2e-6.
END_GAUGE = (
    row("lS", Normal(mean=50_000_623, u=25, dof=18), "nm"),
    row("d", Normal(mean=215, u=9.7, dof=25.6), "nm"),
    row("da", Rectangular(mean=0, half_width=1e-6, dof=50), "1/K"),
    row("theta", Normal(mean=-0.1, u=0.41), "K"),
    row("aS", Rectangular(mean=11.5e-6, half_width=2e-6), "1/K"),
    row("dt", Rectangular(mean=0, half_width=0.05, dof=2), "K"),
)


def end_gauge(x: Array) -> Array:
    """l = lS + d - lS (da theta + aS dt), for (k,) or (n, k)."""
    l_s, d, d_alpha, theta, alpha_s, d_theta = np.moveaxis(np.asarray(x), -1, 0)
    return np.asarray(l_s + d - l_s * (d_alpha * theta + alpha_s * d_theta))


# JCGM 101:2008 9.5: the same gauge, inputs split up. Distributions from memory; components agree with H.1.
GAUGE_BLOCK = (
    row("lS", StudentT(mean=50_000_623, u=25, dof=18), "nm"),
    row("D", StudentT(mean=215, u=6, dof=24), "nm"),
    row("d1", StudentT(mean=0, u=4, dof=5), "nm"),
    row("d2", StudentT(mean=0, u=7, dof=8), "nm"),
    row("aS", rectangular_between(9.5e-6, 13.5e-6), "1/K"),
    row("theta0", Normal(mean=-0.1, u=0.2), "K"),
    row("Delta", Arcsine(mean=0, half_width=0.5), "K"),
    row("da", CurvilinearTrapezoid(mean=0, half_width=1e-6, limit_half_width=0.1e-6), "1/K"),
    row("dt", CurvilinearTrapezoid(mean=0, half_width=0.05, limit_half_width=0.025), "K"),
)


def gauge_block(x: Array) -> Array:
    """l = lS + D + d1 + d2 - lS (da (theta0 + Delta) + aS dt), for (k,) or (n, k)."""
    l_s, d, d1, d2, alpha_s, theta0, delta, d_alpha, d_theta = np.moveaxis(np.asarray(x), -1, 0)
    return np.asarray(l_s + d + d1 + d2 - l_s * (d_alpha * (theta0 + delta) + alpha_s * d_theta))


# JCGM 101:2008 9.3, mass calibration: inputs read
MASS = (
    row("mRc", Normal(mean=100_000.000, u=0.050), "mg"),
    row("dmRc", Normal(mean=1.234, u=0.020), "mg"),
    row("ra", rectangular_between(1.10, 1.30), "kg/m3"),
    row("rW", rectangular_between(7000, 9000), "kg/m3"),
    row("rR", rectangular_between(7950, 8050), "kg/m3"),
)


def mass(x: Array) -> Array:
    """dm = (mRc + dmRc) [1 + (ra - 1.2)(1/rW - 1/rR)] - 100 000, for (k,) or (n, k)."""
    m_rc, dm_rc, r_a, r_w, r_r = np.moveaxis(np.asarray(x), -1, 0)
    return np.asarray((m_rc + dm_rc) * (1.0 + (r_a - 1.2) * (1.0 / r_w - 1.0 / r_r)) - 100_000.0)


# NIST TN 1900 E3, viscosity by a falling ball: inputs read
VISCOSITY = (
    row("muC", Normal(mean=4.63, u=0.0463), "mPa s"),
    row("tM", Normal(mean=61, u=6.1), "s"),
    row("tC", Normal(mean=36.6, u=5.49), "s"),
    row("rB", Normal(mean=2217, u=0.5), "kg/m3"),
    row("rM", Normal(mean=1180, u=0.5), "kg/m3"),
    row("rC", Normal(mean=810, u=0.5), "kg/m3"),
)


def viscosity(x: Array) -> Array:
    """mu = muC tM (rB - rM) / (tC (rB - rC)), for (k,) or (n, k)."""
    mu_c, t_m, t_c, r_b, r_m, r_c = np.moveaxis(np.asarray(x), -1, 0)
    return np.asarray(mu_c * t_m * (r_b - r_m) / (t_c * (r_b - r_c)))


# JCGM 100:2008 H.2: five simultaneous readings of V (volts), I (amperes), phi (radians)
IMPEDANCE_READINGS = np.array(
    [
        (5.007, 19.663e-3, 1.0456),
        (4.994, 19.639e-3, 1.0438),
        (5.005, 19.640e-3, 1.0468),
        (4.990, 19.685e-3, 1.0428),
        (4.999, 19.678e-3, 1.0433),
    ]
)  # (5, 3)


def impedance(x: Array) -> Array:
    """R = V/I cos phi, X = V/I sin phi, Z = V/I."""
    v, i, phi = x
    return np.array([v / i * math.cos(phi), v / i * math.sin(phi), v / i])


def total(x: Array) -> Array:
    """Sum of the inputs, for (k,) or (n, k); JCGM 101:2008 9.2."""
    return np.asarray(np.asarray(x).sum(axis=-1))
