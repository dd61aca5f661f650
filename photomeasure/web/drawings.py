"""Drawings of the page as SVG: a verdict's sign, and the interval against the band as a scale. Colours are the style sheet's."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

from calib.words.said import number, said, say
from photomeasure.record.schema import Record, RulePart
from photomeasure.shown import words
from photomeasure.shown.headline import Look
from photomeasure.shown.look import SIGNS
from photomeasure.shown.rows import tape_figure
from photomeasure.shown.span import Span, span_of

_WIDE, _HIGH = 360.0, 112.0
_TOP, _BOTTOM = 46.0, 82.0  # of the band's strip
_LETTER = 10.2  # width of a bold one at 16 px, in the wider of the usual fonts


def sign(look: Look) -> Markup:
    """The headline's sign in the colour of the letters around it; words beside it say the same."""
    shapes = SIGNS[look]
    if not shapes:
        return Markup('<svg class="sign" viewBox="0 0 1 1" aria-hidden="true"><text x="0.5" y="0.86" font-size="1" '
                      'font-weight="700" text-anchor="middle">?</text></svg>')  # fmt: skip
    drawn = Markup("").join(
        Markup('<polygon points="{}"/>').format(" ".join(f"{x:g},{1.0 - y:g}" for x, y in shape)) for shape in shapes
    )
    return Markup('<svg class="sign" viewBox="0 0 1 1" aria-hidden="true">{}</svg>').format(drawn)


_FILL = {"guard": Markup(' fill="url(#kept-free)"')}  # in the drawing itself: a style sheet's url is another file's
_HATCHED = Markup(
    '<defs><pattern id="kept-free" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
    '<rect class="kept-ground" width="6" height="6"/><rect class="kept-stroke" width="2" height="6"/></pattern></defs>'
)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pen:
    """Pieces of SVG in a row, coordinates in pixels of the drawing."""

    pieces: list[Markup]

    def box(self, kind: str, left: float, right: float, top: float = _TOP, bottom: float = _BOTTOM) -> None:
        self.pieces.append(
            Markup('<rect class="{}" x="{:.1f}" y="{:.1f}" width="{:.1f}" height="{:.1f}"{}/>').format(
                kind, left, top, max(right - left, 1.0), bottom - top, _FILL.get(kind, "")
            )
        )

    def upright(self, kind: str, x: float, top: float, bottom: float) -> None:
        self.pieces.append(
            Markup('<line class="{0}" x1="{1:.1f}" y1="{2:.1f}" x2="{1:.1f}" y2="{3:.1f}"/>').format(
                kind, x, top, bottom
            )
        )

    def diamond(self, kind: str, x: float, y: float, half: float) -> None:
        corners = ((x, y - half), (x + half, y), (x, y + half), (x - half, y))
        points = " ".join(f"{left:.1f},{top:.1f}" for left, top in corners)
        self.pieces.append(Markup('<polygon class="{}" points="{}"/>').format(kind, points))

    def text(self, kind: str, x: float, y: float, said: str) -> None:
        half = _LETTER * len(said) / 2
        inside = min(max(x, half), _WIDE - half)
        self.pieces.append(
            Markup('<text class="{}" x="{:.1f}" y="{:.1f}" text-anchor="middle">{}</text>').format(
                kind, inside, y, said
            )
        )


def scale(record: Record) -> Markup | None:
    """Heights from left (low) to right (high): the band, paler where its guard band is, the interval and the figure.

    None where nothing was measured.
    """
    span = span_of(record, _WIDE)
    if span is None or record.interval_mm is None or record.height_mm is None:
        return None
    pen = _Pen(pieces=[])
    if record.rule is not None and words.band(record.rule) is not None:
        _band(pen, record.rule, span)
    low, high = (span.at(end) for end in record.interval_mm)
    middle, x = (_TOP + _BOTTOM) / 2, span.at(record.height_mm)
    pen.box("interval", low, high, middle - 5.0, middle + 5.0)
    for end in (low, high):
        pen.upright("interval-end", end, middle - 11.0, middle + 11.0)
    if record.tape is not None:
        pen.diamond("tape", span.at(record.tape.centre_mm), middle, 8.0)
    pen.upright("pointer", x, 24.0, middle - 11.0)
    pen.text("pointer-text", x, 18.0, words.height(record) or "")
    label = say(
        "{height}, interval {interval}; band {band}",
        height=words.height(record),
        interval=words.interval(record),
        band=words.band(record.rule) or said("none"),
    )
    if record.tape is not None:
        label = say("{label}; tape {figure}", label=label, figure=tape_figure(record.tape))
    return Markup('<svg class="scale" viewBox="0 0 {:g} {:g}" role="img" aria-label="{}">{}</svg>').format(
        _WIDE, _HIGH, label, Markup("").join(pen.pieces)
    )


def _band(pen: _Pen, rule: RulePart, span: Span) -> None:
    left = 0.0 if rule.low_mm is None else span.at(rule.low_mm)
    right = _WIDE if rule.high_mm is None else span.at(rule.high_mm)
    pen.box("band", left, right)
    guard = rule.guard_band_mm or 0.0
    if guard > 0.0:
        pen.pieces.append(_HATCHED)
    apart = max(0.0, 8 * _LETTER - (right - left)) / 2  # the ends' labels side by side
    for end, inward, way in ((rule.low_mm, guard, -1.0), (rule.high_mm, -guard, 1.0)):
        if end is None:
            continue
        if guard > 0.0:
            near, far = sorted((span.at(end), min(max(span.at(end + inward), left), right)))
            pen.box("guard", near, far)
        pen.upright("band-end", span.at(end), _TOP - 4.0, _BOTTOM + 6.0)
        pen.text("band-text", span.at(end) + way * apart, _HIGH - 8.0, f"{number(end, 'g')} mm")
