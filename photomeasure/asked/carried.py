"""A centre carried over: where it was in a bar tag's frame before the trailer hid it, as the record of then tells.

A bar tag is stuck on the part that carries the ball and stays there. A photograph from before shows ball and tag, one from
after shows the tag: together they say where the ball is, without anybody guessing its place under the coupling head.
"""

from __future__ import annotations

from typing import Annotated

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, ConfigDict, Field, model_validator

N_CARRIED = 6  # offset x, y, z (mm); turn, lean, roll of the tag in the world (rad)
Several = Annotated[tuple[float, ...], Field(min_length=N_CARRIED)]
_MOST_ASYMMETRIC = 1e-6


class Bar(BaseModel):
    """What a photograph tells of the centre in a bar tag's frame. Frame: x right along the print, y into it, z up it.

    tag: the first bar tag; more: further ones. mean (n,): offset of the centre (mm) and how the first tag turned, leaned,
    rolled (rad); then of each further tag the centre's offset from it in the first one's frame, and how it is turned against
    that. covariance: of those (n, n). with_height: covariance (mm x unit) of the height that was measured with each of them.
    placement_mm: u of how exactly a mark or tag that was measured stood for the centre's height.
    effects: what one standard uncertainty of each stated quantity did to those n and to that height, by its full name.
    """

    model_config = ConfigDict(extra="forbid", defer_build=True, frozen=True, allow_inf_nan=False)

    tag: int
    more: tuple[int, ...] = ()
    mean: Several
    covariance: tuple[Several, ...] = Field(min_length=N_CARRIED)
    with_height: Several
    height_mm: float
    u_mm: float = Field(gt=0)
    placement_mm: float = Field(default=0.0, ge=0)
    effects: dict[str, Several]

    @model_validator(mode="after")
    def _is_a_covariance(self) -> Bar:
        count = N_CARRIED * (1 + len(self.more))
        rows = (self.mean, self.with_height, *self.covariance)
        if any(len(row) != count for row in rows) or len(self.covariance) != count:
            raise ValueError(f"mean, covariance and with_height need {count} values a row, six for each bar tag")
        if any(len(effect) != count + 1 for effect in self.effects.values()):
            raise ValueError(f"effects need {count + 1} values each, six for each bar tag and one of the height")
        matrix = self.matrix
        size = float(np.abs(matrix).max())
        if float(np.abs(matrix - matrix.T).max()) > _MOST_ASYMMETRIC * size:
            raise ValueError("covariance is not symmetric")
        if float(np.linalg.eigvalsh(matrix)[0]) < -_MOST_ASYMMETRIC * size:
            raise ValueError("covariance has a negative variance")
        return self

    @property
    def tags(self) -> tuple[int, ...]:
        """Every bar tag, the first one first."""
        return (self.tag, *self.more)

    @property
    def matrix(self) -> NDArray[np.float64]:
        """(n, n) covariance."""
        return np.array(self.covariance)


class Carried(Bar):
    """The same as it is asked for. record: the name of the record's file; sheet_untouched: whether nobody moved the sheet
    between the photographs; None: not said."""

    record: str
    sheet_untouched: bool | None = None
