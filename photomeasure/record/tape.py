"""The tape's reading as a quantity with its own uncertainty, and the comparison with the photograph."""

from __future__ import annotations

import math
from dataclasses import dataclass

from calib.outcome.errors import InputError
from calib.words.said import said
from photomeasure.asked.request import BALL_DIAMETER_MM
from photomeasure.asked.tape_said import TO_WORDS, USUAL_CLASS, TapeClass, TapeTo
from photomeasure.uncertainty.distribution import Normal, Rectangular
from photomeasure.uncertainty.first_order import FirstOrder, propagate
from photomeasure.uncertainty.quantity import InputQuantity

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
WIDEST_FLAT_MM = 24.0  # flats turned on balls' tops, where nobody measured it: none to this, all alike (judgement)
FLAT_READ_MM = 1.0  # how well a ruler laid on a small flat is read (judgement)


@dataclass(frozen=True, slots=True, kw_only=True)
class TapeReading:
    """What a tape says of the centre's height: standard uncertainty u_mm, expanded U_mm (k = 2), budget.

    placement_u_mm: the part of u_mm that a tag brings in, which a photograph of the same tag shares.
    """

    height_mm: float
    u_mm: float
    U_mm: float
    tape_class: TapeClass
    budget: FirstOrder
    to: TapeTo = "middle"
    placement_u_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Photograph against tape: difference_mm is photograph less tape; En; agree: |En| <= 1."""

    difference_mm: float
    U_mm: float
    En: float
    agree: bool
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Together:
    """The best value of photograph and tape, each weighed by 1/u^2, and its standard uncertainty."""

    height_mm: float
    u_mm: float


def class_limit_mm(length_mm: float, tape_class: TapeClass = USUAL_CLASS, *, from_end: bool = True) -> float:
    """Maximum permissible error a + b L (+ c from the hook or end), L in metres rounded up; MI-008.

    Raises InputError for another class, or a length that is not above 0.
    """
    if tape_class not in _CLASS_LIMITS:
        raise InputError(
            said("There is no tape class {tape_class}.", tape_class=repr(tape_class)),
            expected=said("I, II or III"),
            remedy=said("read the class off the tape; without one take III"),
        )
    if not (math.isfinite(length_mm) and length_mm > 0.0):
        raise InputError(
            said("The length is {length_mm} mm.", length_mm=repr(length_mm)),
            expected=said("a number above 0"),
            remedy=said("check the reading"),
        )
    a, b, c = _CLASS_LIMITS[tape_class]
    return a + b * math.ceil(length_mm / 1000.0) + (c if from_end else 0.0)


def read_tape(
    reading_mm: float,
    *,
    tape_class: TapeClass = USUAL_CLASS,
    to: TapeTo = "middle",
    ball_diameter_mm: float = BALL_DIAMETER_MM,
    flat_mm: float | None = None,
    placement_u_mm: float = 0.0,
    from_end: bool = True,
    division_mm: float = DIVISION_MM,
    out_of_plumb_deg: float = OUT_OF_PLUMB_DEG,
    sighting_mm: float = SIGHTING_MM,
) -> TapeReading:
    """A reading in mm, 100 to 2000, as a quantity: the height of the coupling's centre.

    to "top": less the ball's half diameter, plus what a flat of width w takes off its top, r - sqrt(r^2 - w^2/4).
    to "tag": the tag's middle, placed at the centre's height with placement_u_mm.
    Rectangular inputs: class limit; reading, half a division; sighting the mark, +/-sighting_mm; plumb,
    half-width h (1 - cos lean): a bias between 0 and that is left uncorrected, so its root mean square counts
    (JCGM 100:2008 F.2.4.5). Raises InputError for a reading out of range or an allowance that is negative.
    """
    if not (math.isfinite(reading_mm) and 100.0 <= reading_mm <= 2000.0):
        raise InputError(
            said("The tape's reading is {reading_mm} mm.", reading_mm=repr(reading_mm)),
            expected=said("a height between 100 and 2000 mm"),
            remedy=said("give millimetres, measured from the ground up to {to_words}", to_words=TO_WORDS[to]),
        )
    if not 0.0 <= out_of_plumb_deg <= 20.0:
        raise InputError(
            said("The tape is {out_of_plumb_deg} degrees out of plumb.", out_of_plumb_deg=repr(out_of_plumb_deg)),
            expected=said("0 to 20 degrees"),
            remedy=said("hold the tape upright and read again"),
        )
    plumb_mm = reading_mm * (1.0 - math.cos(math.radians(out_of_plumb_deg)))
    limit_mm = class_limit_mm(reading_mm, tape_class, from_end=from_end)
    inputs = [
        _row("reading", Normal(mean=reading_mm, u=0.0), said("typed in")),
        _row(
            said("tape class limit"),
            _within(limit_mm),
            said("2014/32/EU MI-008, class {tape_class}", tape_class=tape_class),
        ),
        _row(said("reading the division"), _within(0.5 * division_mm), said("half a division")),
        _row(
            said("tape out of plumb"),
            _within(plumb_mm),
            said("up to {out_of_plumb_deg:g} degrees, common practice", out_of_plumb_deg=out_of_plumb_deg),
        ),
        _row(
            said("sighting the mark"),
            _within(sighting_mm),
            said("± {sighting_mm:g} mm, common practice", sighting_mm=sighting_mm),
        ),
    ]
    if to == "top":
        inputs += _from_top(ball_diameter_mm, flat_mm)
    if to == "tag":
        placed = Normal(mean=0.0, u=placement_u_mm)
        inputs.append(_row(said("tag placement"), placed, said("as in the photograph's budget")))
    budget = propagate(lambda x: float(x.sum()), tuple(inputs))
    return TapeReading(
        height_mm=math.fsum(row.value for row in inputs),
        u_mm=budget.u,
        U_mm=COVERAGE_FACTOR * budget.u,
        tape_class=tape_class,
        budget=budget,
        to=to,
        placement_u_mm=placement_u_mm if to == "tag" else 0.0,
    )


def _from_top(ball_diameter_mm: float, flat_mm: float | None) -> list[InputQuantity]:
    """What leads from the top of the ball down to its middle."""
    radius = ball_diameter_mm / 2.0
    if flat_mm is not None and not 0.0 <= flat_mm < ball_diameter_mm:
        raise InputError(
            said("The flat on the ball's top is {flat_mm:g} mm wide.", flat_mm=flat_mm),
            expected=said("0 to less than the ball's {ball_diameter_mm:g} mm", ball_diameter_mm=ball_diameter_mm),
            remedy=said("lay a ruler across the flat, or leave it out"),
        )
    worn = Rectangular(mean=-radius + 0.125, half_width=0.125)
    rows = [_row(said("half the ball's diameter"), worn, said("new to half worn, as the photograph has it"))]
    if flat_mm is None:
        mean, u = _any_flat(radius)
        known = said(
            "not said: none to {widest_flat_mm:g} mm wide, all alike (judgement)", widest_flat_mm=WIDEST_FLAT_MM
        )
    else:
        wider, narrower = (_cut_off(radius, w) for w in (flat_mm + FLAT_READ_MM, max(flat_mm - FLAT_READ_MM, 0.0)))
        mean, u = _cut_off(radius, flat_mm), (wider - narrower) / (2.0 * math.sqrt(3.0))
        known = said("{flat_mm:g} mm wide, read to ± {flat_read_mm:g} mm", flat_mm=flat_mm, flat_read_mm=FLAT_READ_MM)
    return [*rows, _row(said("flat on the ball's top"), Normal(mean=mean, u=u), known)]


def _cut_off(radius_mm: float, flat_mm: float) -> float:
    """What a flat of this width takes off a sphere's top."""
    half = min(flat_mm / 2.0, radius_mm)
    return radius_mm - math.sqrt(radius_mm**2 - half**2)


def _any_flat(radius_mm: float) -> tuple[float, float]:
    """Mean and standard deviation of what is cut off, every width up to the widest alike."""
    steps = 200
    cut = [_cut_off(radius_mm, WIDEST_FLAT_MM * (i + 0.5) / steps) for i in range(steps)]
    mean = math.fsum(cut) / steps
    return mean, math.sqrt(math.fsum((value - mean) ** 2 for value in cut) / steps)


def compare(photo_mm: float, photo_U_mm: float, tape: TapeReading) -> Comparison:
    """En = (photograph - tape) / sqrt(U_photograph^2 + U_tape^2), ISO 13528 and ISO/IEC 17043 (from memory).

    How a tag was placed is in both and so in neither of the two U: photo_U_mm is without it where the tape went to the tag.
    Raises InputError for a height or U_mm that is not finite, or U_mm negative.
    """
    if not (math.isfinite(photo_mm) and math.isfinite(photo_U_mm) and photo_U_mm >= 0.0):
        raise InputError(
            said(
                "The photograph's height is {photo_mm} mm with U {photo_U_mm} mm.",
                photo_mm=repr(photo_mm),
                photo_U_mm=repr(photo_U_mm),
            ),
            expected=said("finite numbers, U zero or more"),
            remedy=said("take both from the same result"),
        )
    difference = photo_mm - tape.height_mm
    together = math.hypot(photo_U_mm, _less(tape.U_mm, COVERAGE_FACTOR * tape.placement_u_mm))
    en = difference / together
    agrees = abs(en) <= 1.0
    return Comparison(
        difference_mm=difference,
        U_mm=together,
        En=en,
        agree=agrees,
        sentence=_sentence(difference, together, agrees),
    )


def combine(photo_mm: float, photo_u_mm: float, tape: TapeReading) -> Together:
    """Weighted mean of two figures that share nothing but the tag's placement (photo_u_mm without it), which stays.

    Assumed: the ruler that read the check bars, and the ground under both, err independently of the tape.
    """
    own_u = _less(tape.u_mm, tape.placement_u_mm)
    if photo_u_mm == 0.0:
        return Together(height_mm=photo_mm, u_mm=tape.placement_u_mm)
    weights = 1.0 / photo_u_mm**2, 1.0 / own_u**2
    mean = (weights[0] * photo_mm + weights[1] * tape.height_mm) / sum(weights)
    return Together(height_mm=mean, u_mm=math.hypot(sum(weights) ** -0.5, tape.placement_u_mm))


def _less(whole: float, part: float) -> float:
    """The root of the difference of squares."""
    return math.sqrt(max(whole**2 - part**2, 0.0))


def _row(name: str, distribution: Normal | Rectangular, source: str) -> InputQuantity:
    return InputQuantity(name=name, distribution=distribution, source=source, unit="mm")


def _within(half_width_mm: float) -> Rectangular:
    return Rectangular(mean=0.0, half_width=half_width_mm)


def _sentence(difference_mm: float, together_mm: float, agrees: bool) -> str:
    values = {"mm": abs(difference_mm), "together_mm": together_mm}
    if agrees and difference_mm >= 0.0:
        return said(
            "The photograph gives {mm:.1f} mm more than the tape; their uncertainties together allow {together_mm:.1f} mm, so "
            "the two agree.",
            **values,
        )
    if agrees:
        return said(
            "The photograph gives {mm:.1f} mm less than the tape; their uncertainties together allow {together_mm:.1f} mm, so "
            "the two agree.",
            **values,
        )
    if difference_mm >= 0.0:
        return said(
            "The photograph gives {mm:.1f} mm more than the tape; their uncertainties together allow {together_mm:.1f} mm, so "
            "they disagree: at least one of them is wrong.",
            **values,
        )
    return said(
        "The photograph gives {mm:.1f} mm less than the tape; their uncertainties together allow {together_mm:.1f} mm, so "
        "they disagree: at least one of them is wrong.",
        **values,
    )
