"""Does the first order stand? JCGM 101:2008 clause 8: its interval against that of the Monte Carlo method."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

from calib.outcome.errors import InputError
from calib.words.said import said
from photomeasure.uncertainty.coverage import numerical_tolerance


class Statement(Protocol):
    """An estimate with its coverage interval, however it was found."""

    @property
    def value(self) -> float:
        """Estimate."""

    @property
    def u(self) -> float:
        """Standard uncertainty."""

    @property
    def low(self) -> float:
        """Lower end."""

    @property
    def high(self) -> float:
        """Upper end."""

    @property
    def coverage(self) -> float:
        """Coverage probability of low to high."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstOrderCheck:
    """Whether the first order stands; d_low, d_high: |differences| of the ends; delta: the tolerance."""

    validated: bool
    d_low: float
    d_high: float
    delta: float


def agree(first_order: Statement, mc: Statement, digits: int = 2) -> FirstOrderCheck:
    """JCGM 101:2008 clause 8: at either end the two intervals differ by no more than delta.

    delta: numerical tolerance of the first order's u at `digits` significant digits, half of its last
    reported digit. Raises InputError where the two intervals are of different coverage.
    """
    if not math.isclose(first_order.coverage, mc.coverage, abs_tol=1e-9):
        raise InputError(
            said(
                "Intervals of {coverage:g} and {coverage_2:g} coverage.",
                coverage=first_order.coverage,
                coverage_2=mc.coverage,
            ),
            expected=said("two intervals of the same coverage"),
            remedy=said("ask both for the same coverage"),
        )
    delta = numerical_tolerance(first_order.u, digits)
    d_low, d_high = abs(first_order.low - mc.low), abs(first_order.high - mc.high)
    return FirstOrderCheck(validated=max(d_low, d_high) <= delta, d_low=d_low, d_high=d_high, delta=delta)
