"""The tape's reading as a quantity with its own uncertainty, and the comparison with the photograph."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, get_args

from calib.outcome.errors import InputError
from photomeasure.uncertainty import FirstOrder, InputQuantity, Normal, Rectangular, propagate

if TYPE_CHECKING:
    from photomeasure.asked.state import State

TapeClass = Literal["I", "II", "III"]
USUAL_CLASS: TapeClass = "II"  # of a pocket tape, where nobody has read what stands on it (common practice, no source)

# Directive 2014/32/EU MI-008, material measures of length (read): a, b (mm, L in m), c from the hook or end
_CLASS_LIMITS: dict[str, tuple[float, float, float]] = {
    "I": (0.1, 0.1, 0.1),
    "II": (0.3, 0.2, 0.2),
    "III": (0.6, 0.4, 0.3),
}

COVERAGE_FACTOR = 2.0
DIVISION_MM = 1.0  # printed divisions of a pocket tape (common practice, no source)
OUT_OF_PLUMB_DEG = 3.0  # a tape held upright by eye (estimate; common practice, no source)
SIGHTING_MM = 1.0  # finding the level of the centre by eye or straight edge (estimate; common practice, no source)


@dataclass(frozen=True, slots=True, kw_only=True)
class TapeReading:
    """A tape's reading with standard uncertainty u_mm, expanded uncertainty U_mm (k = 2) and its budget."""

    height_mm: float
    u_mm: float
    U_mm: float
    tape_class: TapeClass
    budget: FirstOrder


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Photograph against tape: difference_mm is photograph less tape; En; agree: |En| <= 1."""

    difference_mm: float
    U_mm: float
    En: float
    agree: bool
    sentence: str


def tape_class_from(text: str | None, name: str) -> TapeClass:
    """A class as people type it, the usual one for None or nothing. name: of the option or field, for the InputError."""
    typed = (text or "").strip().upper().removeprefix("CLASS").strip()
    if not typed:
        return USUAL_CLASS
    for known in get_args(TapeClass):
        if typed in (known, str(len(known))):
            found: TapeClass = known
            return found
    raise InputError(
        f"{name} {text!r} is no class of a tape.",
        expected="I, II or III, as printed on the tape (directive 2014/32/EU, MI-008)",
        remedy=f"read it off the tape, or leave it out: class {USUAL_CLASS} is then taken",
    )


def class_limit_mm(length_mm: float, tape_class: TapeClass = USUAL_CLASS, *, from_end: bool = True) -> float:
    """Maximum permissible error a + b L (+ c from the hook or end), L in metres rounded up; MI-008.

    Raises InputError for another class, or a length that is not above 0.
    """
    if tape_class not in _CLASS_LIMITS:
        raise InputError(
            f"There is no tape class {tape_class!r}.",
            expected="I, II or III",
            remedy="read the class off the tape; without one take III",
        )
    if not (math.isfinite(length_mm) and length_mm > 0.0):
        raise InputError(f"The length is {length_mm!r} mm.", expected="a number above 0", remedy="check the reading")
    a, b, c = _CLASS_LIMITS[tape_class]
    return a + b * math.ceil(length_mm / 1000.0) + (c if from_end else 0.0)


def read_tape(
    reading_mm: float,
    *,
    tape_class: TapeClass = USUAL_CLASS,
    from_end: bool = True,
    division_mm: float = DIVISION_MM,
    out_of_plumb_deg: float = OUT_OF_PLUMB_DEG,
    sighting_mm: float = SIGHTING_MM,
) -> TapeReading:
    """A reading in mm, 100 to 2000, as a quantity.

    Rectangular inputs: class limit; reading, half a division; sighting the centre, +/-sighting_mm; plumb,
    half-width h (1 - cos lean): a bias between 0 and that is left uncorrected, so its root mean square counts
    (JCGM 100:2008 F.2.4.5). Raises InputError for a reading out of range or an allowance that is negative.
    """
    if not (math.isfinite(reading_mm) and 100.0 <= reading_mm <= 2000.0):
        raise InputError(
            f"The tape's reading is {reading_mm!r} mm.",
            expected="a height between 100 and 2000 mm",
            remedy="give millimetres, measured from the ground to the coupling's centre",
        )
    if not 0.0 <= out_of_plumb_deg <= 20.0:
        raise InputError(
            f"The tape is {out_of_plumb_deg!r} degrees out of plumb.",
            expected="0 to 20 degrees",
            remedy="hold the tape upright and read again",
        )
    plumb_mm = reading_mm * (1.0 - math.cos(math.radians(out_of_plumb_deg)))
    limit_mm = class_limit_mm(reading_mm, tape_class, from_end=from_end)
    inputs = (
        _row("reading", Normal(mean=reading_mm, u=0.0), "typed in"),
        _row("tape class limit", _within(limit_mm), f"2014/32/EU MI-008, class {tape_class}"),
        _row("reading the division", _within(0.5 * division_mm), "half a division"),
        _row("tape out of plumb", _within(plumb_mm), f"up to {out_of_plumb_deg:g} degrees, common practice"),
        _row("sighting the centre", _within(sighting_mm), f"+/-{sighting_mm:g} mm, common practice"),
    )
    budget = propagate(lambda x: float(x.sum()), inputs)
    return TapeReading(
        height_mm=reading_mm,
        u_mm=budget.u,
        U_mm=COVERAGE_FACTOR * budget.u,
        tape_class=tape_class,
        budget=budget,
    )


def compare(photo_mm: float, photo_U_mm: float, tape: TapeReading) -> Comparison:
    """En = (photograph - tape) / sqrt(U_photograph^2 + U_tape^2), ISO 13528 and ISO/IEC 17043 (from memory).

    Raises InputError for a height or U_mm that is not finite, or U_mm negative.
    """
    if not (math.isfinite(photo_mm) and math.isfinite(photo_U_mm) and photo_U_mm >= 0.0):
        raise InputError(
            f"The photograph's height is {photo_mm!r} mm with U {photo_U_mm!r} mm.",
            expected="finite numbers, U zero or more",
            remedy="take both from the same result",
        )
    difference = photo_mm - tape.height_mm
    together = math.hypot(photo_U_mm, tape.U_mm)
    en = difference / together
    agrees = abs(en) <= 1.0
    return Comparison(
        difference_mm=difference,
        U_mm=together,
        En=en,
        agree=agrees,
        sentence=_sentence(difference, together, agrees),
    )


def tape_instructions(coupling: str, state: State, *, tagged: bool = False) -> tuple[str, ...]:
    """Where from, where to and in which state to hold the tape, one step a line. tagged: a centre tag marks the centre."""
    return (
        "Leave the rig exactly as it was photographed" + _state_words(state) + ".",
        "Start on hard ground straight below the coupling; if it is uneven, lay a straight bar across it.",
        _centre_words(coupling, state, tagged),
        "Hold the tape upright against a square or a level, read to the millimetre, and read twice.",
        "Reach in from the side; nobody between vehicle and trailer, no hand in the coupling.",
    )


def _row(name: str, distribution: Normal | Rectangular, source: str) -> InputQuantity:
    return InputQuantity(name=name, distribution=distribution, source=source, unit="mm")


def _within(half_width_mm: float) -> Rectangular:
    return Rectangular(mean=0.0, half_width=half_width_mm)


def _sentence(difference_mm: float, together_mm: float, agrees: bool) -> str:
    way = "more" if difference_mm >= 0.0 else "less"
    size = f"The photograph says {abs(difference_mm):.1f} mm {way} than the tape"
    if agrees:
        return f"{size}; the two agree within what they claim ({together_mm:.1f} mm)."
    return f"{size}; together they claim {together_mm:.1f} mm, so they disagree. Measure again; go by the tape."


def _state_words(state: State) -> str:
    said = []
    if state.coupled is not None:
        said.append("trailer connected" if state.coupled else "trailer not connected")
    if state.laden is not None:
        said.append("laden" if state.laden else "unladen")
    return f" ({', '.join(said)})" if said else ""


def _centre_words(coupling: str, state: State, tagged: bool) -> str:
    if tagged and coupling != "pin":
        return (
            "Measure up to the middle of the centre tag, after checking that it is at the level of the ball's middle."
        )
    if coupling == "pin":
        return "Measure up to the middle of the pin's bush, half way between its upper and lower edge."
    if state.coupled:
        return "Measure up to the centre mark on the coupling's side, or else to the level of the ball's middle."
    return "Measure up to the top of the ball and take off half its diameter (25 mm for a 50 mm ball)."
