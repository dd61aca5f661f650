"""The height and its interval drawn against the band, to scale, from left (low) to right (high)."""

from __future__ import annotations

from calib.drawing.colours import INK, MID
from calib.drawing.pen import Pen
from calib.words.said import number, say
from photomeasure.record.schema import Record
from photomeasure.shown import words
from photomeasure.shown.look import BAND, BAND_PALE, GUARD
from photomeasure.shown.span import Span, limits_mm

HEIGHT_MM = 26.0
_STRIP, _THICK, _AXIS = 8.0, 8.0, 5.2  # bottom of the band, its height, the axis, in mm from below


def draw_scale(pen: Pen, record: Record, span: Span) -> None:
    """Draw the band, its guard zones, the interval, the height and the axis."""
    _band(pen, record, span)
    _axis(pen, span)
    _measured(pen, record, span)
    _end_labels(pen, record, span)
    _taped(pen, record, span)


def _band(pen: Pen, record: Record, span: Span) -> None:
    rule = record.rule
    if rule is None or not limits_mm(record):
        return
    left = 0.0 if rule.low_mm is None else span.at(rule.low_mm)
    right = span.width if rule.high_mm is None else span.at(rule.high_mm)
    pen.box(left, _STRIP, right - left, _THICK, colour=None, fill=BAND_PALE)
    guard = rule.guard_band_mm or 0.0
    if guard > 0.0:
        for end, inward in ((rule.low_mm, guard), (rule.high_mm, -guard)):
            if end is not None:
                near, far = sorted((span.at(end), min(max(span.at(end + inward), left), right)))
                pen.box(near, _STRIP, far - near, _THICK, colour=None, fill=GUARD)
    for end in (rule.low_mm, rule.high_mm):
        if end is not None:
            x = span.at(end)
            pen.line((x, _STRIP - 1.2), (x, _STRIP + _THICK + 4.2), weight=0.5, colour=BAND)


def _end_labels(pen: Pen, record: Record, span: Span) -> None:
    """The band's ends in figures, on paper of their own where the figure's line would run through them."""
    rule = record.rule
    if rule is None:
        return
    ends: tuple[tuple[float | None, float], ...] = ((rule.low_mm, -1.0), (rule.high_mm, 1.0))
    for end, way in ends:
        if end is None:
            continue
        label, base, x = number(end, "g") + " mm", _STRIP + _THICK + 1.4, span.at(end) + 1.2 * way
        wide = pen.width_of(label, size=8.5, bold=True)
        left = x if way > 0 else x - wide
        pen.box(left - 0.4, base - 0.5, wide + 0.8, 3.0, colour=None, fill=(1.0, 1.0, 1.0))
        pen.text((left, base), label, size=8.5, bold=True, colour=BAND)


def _axis(pen: Pen, span: Span) -> None:
    pen.line((0.0, _AXIS), (span.width, _AXIS), weight=0.25, colour=MID)
    for tick in span.ticks():
        x = span.at(tick)
        pen.line((x, _AXIS), (x, _AXIS - 1.2), weight=0.25, colour=MID)
        half = pen.width_of(number(tick, "g"), size=7) / 2
        if half <= x <= span.width - half:
            pen.text((x, _AXIS - 4.0), number(tick, "g"), size=7, anchor="middle", colour=MID)


def _measured(pen: Pen, record: Record, span: Span) -> None:
    if record.interval_mm is None or record.height_mm is None:
        return
    low, high = (span.at(end) for end in record.interval_mm)
    x, middle = span.at(record.height_mm), _STRIP + _THICK / 2
    pen.box(low, middle - 1.1, max(high - low, 0.2), 2.2, colour=None, fill=INK)
    for end in (low, high):
        pen.line((end, middle - 2.2), (end, middle + 2.2), weight=0.4)
    top = _STRIP + _THICK + 5.6
    pen.line((x, middle - 3.0), (x, top), weight=0.35)
    label = words.height(record) or ""
    half = pen.width_of(label, size=9.5, bold=True) / 2
    pen.text((min(max(x, half), span.width - half), top + 0.7), label, size=9.5, bold=True, anchor="middle")


def _taped(pen: Pen, record: Record, span: Span) -> None:
    """The tape's height as an open diamond under the strip, so that nobody takes it for the photograph's."""
    if record.tape is None:
        return
    x, y, half = span.at(record.tape.centre_mm), _STRIP + _THICK / 2, 1.6
    pen.line((x, y + half), (x + half, y), (x, y - half), (x - half, y), closed=True, weight=0.5, fill=(1.0, 1.0, 1.0))
    label = say("tape")
    wide = pen.width_of(label, size=7.5, bold=True)
    left = x + half + 0.6 if x + half + 0.6 + wide <= span.width else x - half - 0.6 - wide
    pen.text((left, y + 1.7), label, size=7.5, bold=True)  # over the interval, which would hide it
