"""One input quantity: a row of the budget before anything is computed."""

from __future__ import annotations

from dataclasses import dataclass

from photomeasure.uncertainty.distribution import Distribution


@dataclass(frozen=True, slots=True, kw_only=True)
class InputQuantity:
    """A quantity that the model depends on, its distribution and where that comes from."""

    name: str
    distribution: Distribution
    source: str
    unit: str

    @property
    def value(self) -> float:
        """The estimate, in `unit`: the distribution's mean."""
        return self.distribution.mean
