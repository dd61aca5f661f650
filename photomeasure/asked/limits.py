"""What a number typed by a person may be, wherever it is typed: on the command line, in a list of rigs, on the page."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from calib.outcome.errors import InputError
from calib.words.said import said

if TYPE_CHECKING:
    from calib.kit.sheet import Sheet


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """low and high are both allowed; remedy: what to do with a number that is outside."""

    low: float
    high: float
    unit: str
    remedy: str

    def check(self, name: str, value: float | None) -> None:
        """Raises InputError for a number outside, or none at all; None passes. name: as the person knows the field."""
        if value is not None and not self.low <= value <= self.high:
            raise InputError(
                said("{name} is {value:g} {unit}.", name=name, value=value, unit=self.unit),
                expected=said("{low:g} to {high:g} {unit}", low=self.low, high=self.high, unit=self.unit),
                remedy=self.remedy,
            )


BAR_MM = Limit(low=135.0, high=310.0, unit="mm", remedy=said("measure the printed check bar again, in millimetres"))
BALL_LOAD_KG = Limit(
    low=5.0, high=600.0, unit="kg", remedy=said("weigh the ball load with the trailer level, in kilograms")
)
STAND_MASS_KG = Limit(low=30.0, high=400.0, unit="kg", remedy=said("give the mass that stood on the bar, in kilograms"))
STAND_DROP_MM = Limit(low=0.5, high=200.0, unit="mm", remedy=said("measure how far the ball went down, in millimetres"))
LOAD_DROP_MM = Limit(
    low=0.0, high=250.0, unit="mm", remedy=said("measure how far the load lowers the ball, in millimetres")
)
BAR_RANGE = (0.9, 1.1)  # of a bar as drawn: what a reading of it can be
BALL_DIAMETER_MM = Limit(low=30.0, high=80.0, unit="mm", remedy=said("give the ball's diameter in millimetres"))
NOSE_DEG = Limit(
    low=0.0, high=10.0, unit=said("degrees"), remedy=said("give how far out of level the trailer may stand, in degrees")
)
PICK_U_PX = Limit(low=0.05, high=50.0, unit=said("pixels"), remedy=said("0.5 is a careful pick at full zoom"))
TAPE_MM = Limit(low=100.0, high=1500.0, unit="mm", remedy=said("give the tape's reading in millimetres"))
FLAT_MM = Limit(
    low=0.0, high=40.0, unit="mm", remedy=said("lay a ruler across the flat on the ball's top, in millimetres")
)
# nearly 6 degrees: nobody measures a coupling there
SLOPE_MM_PER_M = Limit(
    low=0.0, high=100.0, unit=said("mm per metre"),
    remedy=said("0.5 is a good spirit level with its bubble in the middle, 5 a phone laid flat, 17.5 one degree"),
)  # fmt: skip


def check_level(
    name: str, within_mm_per_m: float | None, unknown: str, level_ground: bool | None, *, in_a_bay: bool = False
) -> None:
    """A level's reading speaks of ground that is known, and of the ground between sheet and coupling.

    name: of the reading, unknown: of "the ground is not known to be level", as the person knows them. Raises InputError.
    """
    SLOPE_MM_PER_M.check(name, within_mm_per_m)
    if within_mm_per_m is None:
        return
    if level_ground is False:
        raise InputError(
            said("{unknown} and {name} contradict each other.", unknown=unknown, name=name),
            expected=said("one of the two"),
            remedy=said("leave out {unknown} where a level was read", unknown=unknown),
        )
    if in_a_bay:
        raise InputError(
            said("{name} says nothing in a bay.", name=name),
            expected=said("the ground of a bay as its survey has it"),
            remedy=said("leave it out, or state the survey's uncertainty in the bay file"),
        )


def check_length(name: str, reading_mm: float, drawn_mm: float) -> None:
    """A reading that cannot be of a bar drawn so long is of another one, or of another edition's print: InputError."""
    low, high = BAR_RANGE
    if not low * drawn_mm <= reading_mm <= high * drawn_mm:
        raise InputError(
            said(
                "{name} is said to read {reading_mm:g} mm, but on the sheet in the photograph it is drawn "
                "{drawn_mm:g} mm long.",
                name=name,
                reading_mm=reading_mm,
                drawn_mm=drawn_mm,
            ),
            expected=said("about {drawn_mm:g} mm", drawn_mm=drawn_mm),
            remedy=said(
                "read {name} of this very sheet again; prints of different editions have bars of different lengths",
                name=name,
            ),
        )


def bars_meant(sheet: Sheet, read_mm: tuple[float | None, float | None]) -> tuple[float, float]:
    """Length, as drawn, of the check bars that were read.

    Only upright sheets have bars. Beside a ground sheet, which is the same in both editions, they are of the edition whose
    bars can read so.
    """
    if sheet.role == "upright":
        return sheet.bars_mm
    from calib.kit.kit import kit

    low, high = BAR_RANGE
    of_editions = [kit(sheet.paper, edition).upright.bars_mm for edition in (2, 1)]
    for drawn in of_editions:
        if all(mm is None or low * length <= mm <= high * length for mm, length in zip(read_mm, drawn, strict=True)):
            return drawn
    return of_editions[0]
