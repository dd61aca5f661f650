"""What two photographs of one rig share of what is known, by name: print and ruler, phone, the sheet's stance, the ground.

A row is a prior or an unknown of a camera: its parameters with coefficients, such that (sum - mean) is one standard
uncertainty. Rows of the same name in two scenes are one and the same error.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass

from photomeasure.scene.scene import CameraPrior, Prior

_OF_THE_PRINT = (
    "print.",
    "rule.",
    "paper.",
    "card.",
)  # what a print and a ruler do is the same in every photograph of them
_OF_THE_SHEET = ("sheet.", "ground.", "flat.")  # the same while nobody touches the sheet
_OF_THE_PLACE = (
    "centre.y",
    "rig.turn",
)  # where the coupling is against the sheet: the same while nobody drives the rig


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownRow:
    """One row: name, parameters with coefficients, and the mean of their sum, all over its standard uncertainty."""

    name: str
    coefficients: Mapping[str, float]
    mean: float


def prior_row(prior: Prior) -> KnownRow:
    """A prior by its full name."""
    parameters = " ".join(sorted(name for name, value in prior.coefficients.items() if value != 0.0))
    coefficients = {name: value / prior.u for name, value in prior.coefficients.items()}
    return KnownRow(name=f"{prior.quantity} [{parameters}]", coefficients=coefficients, mean=prior.mean / prior.u)


def camera_row(camera: CameraPrior, column: int, parameter: str) -> KnownRow:
    """An unknown of a phone: the same where the phone is known in the same way."""
    name = f"camera: {camera.quantities[column]} {column}, {camera.kind}, {camera.mean[0]:.2f} px"
    return KnownRow(name=name, coefficients={parameter: 1.0}, mean=0.0)


def shared_rows(rows: Sequence[KnownRow], names: Collection[str], *, sheet_untouched: bool) -> Iterator[KnownRow]:
    """Those of the rows that another scene has too (names), and that are one error in both."""
    starts = (*_OF_THE_PRINT, *_OF_THE_SHEET, *_OF_THE_PLACE) if sheet_untouched else _OF_THE_PRINT
    for row in rows:
        of_camera = row.name.startswith("camera: ")
        if row.name in names and (of_camera or all(name.startswith(starts) for name in row.coefficients)):
            yield row
