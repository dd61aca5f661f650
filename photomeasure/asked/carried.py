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
Six = Annotated[tuple[float, ...], Field(min_length=N_CARRIED, max_length=N_CARRIED)]
Seven = Annotated[tuple[float, ...], Field(min_length=N_CARRIED + 1, max_length=N_CARRIED + 1)]
_MOST_ASYMMETRIC = 1e-6


class Bar(BaseModel):
    """What a photograph tells of the centre in a bar tag's frame. Frame: x right along the print, y into it, z up it.

    mean: offset of the centre (mm) and how the tag turned, leaned, rolled (rad). covariance: of those (6, 6).
    with_height: covariance (mm x unit) of the height that was measured with each of them.
    effects: what one standard uncertainty of each stated quantity did to those six and to that height, by its full name.
    """

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)

    tag: int
    mean: Six
    covariance: tuple[Six, ...] = Field(min_length=N_CARRIED, max_length=N_CARRIED)
    with_height: Six
    height_mm: float
    u_mm: float = Field(gt=0)
    effects: dict[str, Seven]

    @model_validator(mode="after")
    def _is_a_covariance(self) -> Bar:
        matrix = self.matrix
        size = float(np.abs(matrix).max())
        if float(np.abs(matrix - matrix.T).max()) > _MOST_ASYMMETRIC * size:
            raise ValueError("covariance is not symmetric")
        if float(np.linalg.eigvalsh(matrix)[0]) < -_MOST_ASYMMETRIC * size:
            raise ValueError("covariance has a negative variance")
        return self

    @property
    def matrix(self) -> NDArray[np.float64]:
        """(6, 6) covariance."""
        return np.array(self.covariance)


class Carried(Bar):
    """The same as it is asked for. record: the name of the record's file; sheet_untouched: whether nobody moved the sheet
    between the photographs; None: not said."""

    record: str
    sheet_untouched: bool | None = None
