"""A height with its interval as it is printed, everywhere: the interval follows the printed figure, so that they add up."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal

from calib.words.said import Digits, said

_COARSE_U_MM = 10.0  # from here on a tenth of a millimetre says nothing
PLUS_MINUS = "\N{PLUS-MINUS SIGN}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Printed:
    """Texts without unit. spread: "± 3.0", or "+3.4 -2.8" where the interval's two sides differ in the printed digit."""

    height: str
    spread: str
    low: str
    high: str

    @property
    def text(self) -> str:
        """ "412.6 ± 3.0 mm"."""
        return said("{height} {spread} mm", height=Digits(self.height), spread=Digits(self.spread))

    @property
    def interval(self) -> str:
        """ "409.6 to 415.6 mm"."""
        return said("{low} to {high} mm", low=Digits(self.low), high=Digits(self.high))


def decimals(U_mm: float) -> int:
    """Decimals of a height with this expanded uncertainty: its second digit is the last one worth printing (JCGM 100:2008, 7.2.6)."""
    return 1 if U_mm < _COARSE_U_MM else 0


def rounded(U_mm: float) -> str:
    """An uncertainty, or a length that goes with it, to the last digit worth printing."""
    return Digits(f"{U_mm:.{decimals(U_mm)}f}")


def printed(height_mm: float, interval_mm: tuple[float, float]) -> Printed:
    """Figure, uncertainty and interval to one and the same digit; the interval is the printed figure and the printed spread."""
    less, more = height_mm - interval_mm[0], interval_mm[1] - height_mm
    half = (less + more) / 2.0
    step = Decimal(1).scaleb(-decimals(half))
    figure, down, up, even = (_to(value, step) for value in (height_mm, less, more, half))
    if abs(up - down) <= step:
        return Printed(
            height=f"{figure}", spread=f"{PLUS_MINUS} {even}", low=f"{figure - even}", high=f"{figure + even}"
        )
    return Printed(height=f"{figure}", spread=f"+{up} -{down}", low=f"{figure - down}", high=f"{figure + up}")


def _to(value: float, step: Decimal) -> Decimal:
    """Rounded as Python's own formatting rounds: by the exact value of the double."""
    return Decimal(value).quantize(step, rounding=ROUND_HALF_EVEN)
