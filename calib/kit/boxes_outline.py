"""The printed outline of a box, as rectangles."""

from __future__ import annotations

from calib.kit.answers import Box

OUTLINE_MM = 0.25


def outlines_mm(box: Box) -> tuple[tuple[float, float, float, float], ...]:
    """The four printed sides of a box as rectangles, left, bottom, right, top; inside its width and height."""
    (left, bottom, right, top), line = box.sides_mm(), OUTLINE_MM
    return (
        (left, bottom, right, bottom + line),
        (left, top - line, right, top),
        (left, bottom + line, left + line, top - line),
        (right - line, bottom + line, right, top - line),
    )
