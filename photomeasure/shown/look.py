"""How a headline looks, once for picture, report and page: signs, colours, and the hatching of what does not hold as it is.

A sure verdict is a filled badge. One that hangs on something is outlined with dashes and hatched, its sign an outline too,
so that a black-and-white print and every kind of colour vision tell the two apart; the words say the same.
"""

from __future__ import annotations

from calib.drawing.colours import INK, WHITE, Colour, Point
from photomeasure.shown.headline import Look

SignShape = tuple[Point, ...]
BAND: Colour = (0.02, 0.42, 0.66)
BAND_PALE: Colour = (0.76, 0.89, 0.96)
GUARD: Colour = (0.90, 0.955, 0.985)
AMBER: Colour = (0.62, 0.42, 0.0)

# signs in a unit square, y up
_UP: SignShape = ((0.5, 1.0), (0.98, 0.44), (0.66, 0.44), (0.66, 0.0), (0.34, 0.0), (0.34, 0.44), (0.02, 0.44))
_NARROW_UP: SignShape = tuple((0.46 * x, y) for x, y in _UP)
SIGNS: dict[Look, tuple[SignShape, ...]] = {
    "within": (((0.0, 0.44), (0.14, 0.58), (0.37, 0.35), (0.86, 0.9), (1.0, 0.76), (0.37, 0.06)),),
    "above": (_UP,),
    "below": (tuple((x, 1.0 - y) for x, y in _UP),),
    "no-band": (((0.02, 0.4), (0.98, 0.4), (0.98, 0.6), (0.02, 0.6)),),
    "refused": ((
        (0.08, 0.76), (0.24, 0.92), (0.5, 0.66), (0.76, 0.92), (0.92, 0.76), (0.66, 0.5),
        (0.92, 0.24), (0.76, 0.08), (0.5, 0.34), (0.24, 0.08), (0.08, 0.24), (0.34, 0.5),
    ),),
    "disagree": (_NARROW_UP, tuple((x + 0.54, 1.0 - y) for x, y in _NARROW_UP)),  # one up, one down
    "undecided": (),  # a question mark
}  # fmt: skip

# ground and letters of a badge; the words say the same
BADGES: dict[Look, tuple[Colour, Colour]] = {
    "within": ((0.09, 0.46, 0.27), WHITE),
    "above": ((0.76, 0.24, 0.07), WHITE),
    "below": ((0.76, 0.24, 0.07), WHITE),
    "undecided": ((1.0, 0.77, 0.0), INK),
    "no-band": ((0.38, 0.43, 0.48), WHITE),
    "refused": ((0.88, 0.89, 0.90), INK),
    "disagree": ((1.0, 0.77, 0.0), INK),
}


def mixed(colour: Colour, with_: Colour, share: float) -> Colour:
    """`share` of the colour in the other one."""
    red, green, blue = (share * a + (1.0 - share) * b for a, b in zip(colour, with_, strict=True))
    return red, green, blue


def strokes(left: float, low: float, wide: float, high: float, step: float) -> list[tuple[Point, Point]]:
    """Hatching of a box: slanting lines `step` apart, each from edge to edge."""
    lines = []
    start = left - high
    while start < left + wide:
        first, last = max(start, left), min(start + high, left + wide)
        if first < last:
            lines.append(((first, low + first - start), (last, low + last - start)))
        start += step
    return lines
