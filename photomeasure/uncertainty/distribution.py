"""Distributions of input quantities (JCGM 101:2008 6.4): standard uncertainty, degrees of freedom and draws.

Each has `mean`, `u`, `dof`, `name` and `draw(rng, n)`; the tests add more of them, for the published examples.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields
from typing import ClassVar, Protocol

import numpy as np
from numpy.typing import NDArray

from calib.outcome.errors import InputError
from calib.words.said import said

Draws = NDArray[np.float64]


class Distribution(Protocol):
    """What the law of propagation and the Monte Carlo method ask of an input quantity."""

    @property
    def name(self) -> str:
        """Short name for a budget's row."""

    @property
    def mean(self) -> float:
        """Expectation: the quantity's estimate."""

    @property
    def u(self) -> float:
        """Standard uncertainty for the law of propagation."""

    @property
    def dof(self) -> float:
        """Degrees of freedom of u; inf where u is taken as exactly known."""

    def draw(self, rng: np.random.Generator, n: int) -> Draws:
        """n independent draws, shape (n,)."""


def _checked(record: object, *, positive: tuple[str, ...] = (), not_negative: tuple[str, ...] = ()) -> None:
    for field in fields(record):  # type: ignore[arg-type]  # every caller is a dataclass
        value = getattr(record, field.name)
        finite = math.isfinite(value) or (field.name == "dof" and value == math.inf)
        low = value <= 0.0 if field.name in (*positive, "dof") else field.name in not_negative and value < 0.0
        if not finite or low:
            raise InputError(
                said("{name}: {name_2} is {value}.", name=type(record).__name__, name_2=field.name, value=repr(value)),
                expected=said("a finite number, spreads zero or more, degrees of freedom above zero"),
                remedy=said("check where the value comes from"),
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Normal:
    """N(mean, u^2); JCGM 101:2008 6.4.7."""

    mean: float
    u: float
    dof: float = math.inf
    name: ClassVar[str] = "normal"

    def __post_init__(self) -> None:
        _checked(self, not_negative=("u",))

    def draw(self, rng: np.random.Generator, n: int) -> Draws:
        """n draws, shape (n,)."""
        return rng.normal(self.mean, self.u, n)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rectangular:
    """R(mean - half_width, mean + half_width), u = half_width/sqrt(3); JCGM 101:2008 6.4.2."""

    mean: float
    half_width: float
    dof: float = math.inf
    name: ClassVar[str] = "rectangular"

    def __post_init__(self) -> None:
        _checked(self, not_negative=("half_width",))

    @property
    def u(self) -> float:
        """Standard uncertainty."""
        return self.half_width / math.sqrt(3.0)

    def draw(self, rng: np.random.Generator, n: int) -> Draws:
        """n draws, shape (n,)."""
        return rng.uniform(self.mean - self.half_width, self.mean + self.half_width, n)


@dataclass(frozen=True, slots=True, kw_only=True)
class CurvilinearTrapezoid:
    """Rectangle whose half_width is itself known to +/-limit_half_width only; JCGM 101:2008 6.4.3.

    u^2 = half_width^2/3 + limit_half_width^2/9.
    """

    mean: float
    half_width: float
    limit_half_width: float
    dof: float = math.inf
    name: ClassVar[str] = "curvilinear trapezoid"

    def __post_init__(self) -> None:
        _checked(self, not_negative=("half_width", "limit_half_width"))
        if self.limit_half_width > self.half_width:
            raise InputError(
                said(
                    "CurvilinearTrapezoid: limit_half_width {limit_half_width:g} is more than half_width {half_width:g}.",
                    limit_half_width=self.limit_half_width,
                    half_width=self.half_width,
                ),
                expected=said("limits known to better than their own size"),
                remedy=said("state wider limits, or know them better"),
            )

    @property
    def u(self) -> float:
        """Standard uncertainty."""
        return math.sqrt(self.half_width**2 / 3.0 + self.limit_half_width**2 / 9.0)

    def draw(self, rng: np.random.Generator, n: int) -> Draws:
        """n draws, shape (n,)."""
        half_width = self.half_width + self.limit_half_width * (2.0 * rng.random(n) - 1.0)
        return self.mean + half_width * (2.0 * rng.random(n) - 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Exponential:
    """A quantity that is never below `least` and of which only the mean, least + u, is known; JCGM 101:2008 6.4.10."""

    least: float
    u: float
    dof: float = math.inf
    name: ClassVar[str] = "exponential"

    def __post_init__(self) -> None:
        _checked(self, not_negative=("u",))

    @property
    def mean(self) -> float:
        """Expectation."""
        return self.least + self.u

    def draw(self, rng: np.random.Generator, n: int) -> Draws:
        """n draws, shape (n,)."""
        return self.least + rng.exponential(self.u, n)
