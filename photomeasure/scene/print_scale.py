"""How large a print came out: what bars that were read, a card, paper or nothing tell of it, as priors.

Confidence labels as in `scene.priors`.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping

import numpy as np

from calib.kit.sheet import FIRST_BARS_MM
from calib.words.said import said
from photomeasure.asked.bars import Bars
from photomeasure.scene.priors import GUESSED_U
from photomeasure.scene.scene import Prior

# What printers and viewers do to the size of a print: share of prints, from, to. Ratios: exact print; "fit to page" 0.96-0.98
# (published 96-97 %); A4 on Letter 0.941 and Letter on A4 0.973 (exact ratios, computed); wider margins, down to 0.93. The
# shares are judgement.
PRINTED_AT = ((0.40, 1.0, 1.0), (0.35, 0.96, 0.98), (0.10, 0.941, 0.941), (0.15, 0.93, 1.0))
PRINT_SCALE_MEAN = sum(share * (low + high) / 2 for share, low, high in PRINTED_AT)
PRINT_SCALE_U = float(
    np.sqrt(
        sum(share * (low * low + low * high + high * high) / 3 for share, low, high in PRINTED_AT) - PRINT_SCALE_MEAN**2
    )
)
# Printer feed error on one axis, 0.4 % seen (published): difference between the axes.
PRINT_ANISOTROPY_U = 0.004 * GUESSED_U
# A bar is read to half a division, by what the typed values show of it: whole millimetres, halves, or finer (judgement).
BAR_READING_MM, BAR_HALF_READING_MM, BAR_FINE_READING_MM = 0.5, 0.25, 0.1
RULE_ERROR_MM = (
    0.2 * GUESSED_U
)  # a class I rule errs by 0.2 mm at most (2014/32/EU MI-008, read); which ruler is not known
# A card that tells both bars errs alike in both (`seen.card.scale`); close-ups as asked for come to about this (computed)
CARD_ERROR, USUAL_CARD_CORRELATION = "card.error", 0.7
PAPER_GROWTH_U = 0.001 * GUESSED_U  # between reading the bars and photographing: 0.1-0.2 % along the grain (published)


def bar_u_mm(reading_mm: float) -> float:
    """Standard uncertainty of the length of one bar that was read by itself: the reading, and the rule's error."""
    return float(np.hypot(reading_half_width_mm(reading_mm) * GUESSED_U, RULE_ERROR_MM))


def reading_half_width_mm(*readings_mm: float) -> float:
    """To what a person reads: who types one of the bars to half a millimetre reads the other so too."""
    if all(_on_grid(reading, 1.0) for reading in readings_mm):
        return BAR_READING_MM
    return BAR_HALF_READING_MM if all(_on_grid(reading, 0.5) for reading in readings_mm) else BAR_FINE_READING_MM


_READ_BY = {"typed": said("digits that were typed"), "ticked": said("boxes that were ticked, one each half millimetre")}


def _on_grid(reading_mm: float, step_mm: float) -> bool:
    return abs(reading_mm / step_mm - round(reading_mm / step_mm)) < 1e-9


def print_priors(bars: Bars, printed_mm: tuple[float, float] = FIRST_BARS_MM) -> list[Prior]:
    """Scale of the print on both axes: what printers do, always; the check bars where they were measured.

    printed_mm: length of the check bars along x and y as drawn.

    What is known of printers' feed speaks of the difference of the axes. Beside two readings it tells nothing (their own
    limits lie inside it): it goes in only where a bar was not measured. Both readings share the rule's error and what the
    paper grew since.
    """
    read = {name: bar for name, bar in (("x", bars.x_mm), ("y", bars.y_mm)) if bar is not None}
    priors = [_usual_scale()]
    if len(read) < 2:
        priors.append(
            Prior(
                quantity="print scale, x against y",
                coefficients={"print.x": 1.0, "print.y": -1.0},
                mean=0.0,
                u=PRINT_ANISOTROPY_U,
                unit="1",
                source=said("printer feed error of one axis, 0.4 % seen (published)"),
                distribution="curvilinear trapezoid",
            )
        )
    if read:
        drawn_mm = dict(zip("xy", printed_mm, strict=True))
        by_card = {name: u for name, u in (("x", bars.x_u_mm), ("y", bars.y_u_mm)) if u is not None and name in read}
        ruled = {name: reading for name, reading in read.items() if name not in by_card}
        priors += [
            _bar(name, reading, drawn_mm[name], *_read_to(bars, ruled.values())) for name, reading in ruled.items()
        ]
        priors += _bars_by_card(read, drawn_mm, by_card, bars.correlation)
        priors += _of_reading() if ruled else _of_reading()[1:]
    return priors


def _bars_by_card(
    length_mm: Mapping[str, float], drawn_mm: Mapping[str, float], u_mm: Mapping[str, float], correlation: float | None
) -> list[Prior]:
    """Bars by a card that lay on the print: each one's own error and, where it told both, the one that they share as a row.

    correlation: of both errors; None: of a print that was remembered before it was kept.
    """
    if not u_mm:
        return []
    r = 0.0 if len(u_mm) < 2 else USUAL_CARD_CORRELATION if correlation is None else correlation
    card_u = float(np.sqrt(r) * np.mean([u / drawn_mm[name] for name, u in u_mm.items()]))
    priors = []
    for name, u in u_mm.items():
        shared = {CARD_ERROR: float(np.sqrt(r)) * u / card_u} if card_u > 0.0 else {}
        priors.append(
            Prior(
                quantity=f"check bar {name}",
                coefficients={f"print.{name}": drawn_mm[name], "paper.growth": -drawn_mm[name], **shared},
                mean=length_mm[name],
                u=float(np.sqrt(1.0 - r)) * u,
                unit="mm",
                source=said(
                    "printed bar by a card of the usual size that lay on the print (ISO/IEC 7810 ID-1, secondary)"
                ),
            )
        )
    if card_u > 0.0:
        priors.append(
            Prior(
                quantity="card",
                coefficients={CARD_ERROR: 1.0},
                mean=0.0,
                u=card_u,
                unit="1",
                source=said(
                    "the card's own size, its edges and the picture of it, common to both bars (ISO/IEC 7810 ID-1, "
                    "secondary)"
                ),
            )
        )
    return priors


def _usual_scale() -> Prior:
    return Prior(
        quantity="print scale",
        coefficients={"print.x": 0.5, "print.y": 0.5},
        mean=PRINT_SCALE_MEAN,
        u=PRINT_SCALE_U,
        unit="1",
        source=said(
            "what printers do: 100 %, 'fit to page' 96-98 % (published), A4 on Letter 94.1 % (computed), down to "
            "93 %; their shares are judgement"
        ),
    )


def _read_to(bars: Bars, readings_mm: Collection[float]) -> tuple[float, str]:
    """Half of the division that the bars were read to, and how that is known."""
    if bars.division_mm is not None:
        return bars.division_mm / 2.0, "ticked"
    return reading_half_width_mm(*readings_mm), "typed"


def _bar(name: str, reading_mm: float, drawn_mm: float, half_width_mm: float, how: str) -> Prior:
    return Prior(
        quantity=f"check bar {name}",
        coefficients={f"print.{name}": drawn_mm, "paper.growth": -drawn_mm, "rule.error": 1.0},
        mean=reading_mm,
        u=half_width_mm * GUESSED_U,
        unit="mm",
        source=said(
            "printed bar read on a ruler to ± {half_width_mm:g} mm, by the {digits} (judgement)",
            half_width_mm=half_width_mm,
            digits=_READ_BY[how],
        ),
        distribution="curvilinear trapezoid",
    )


def _of_reading() -> list[Prior]:
    """What both readings share."""
    return [
        Prior(
            quantity="rule",
            coefficients={"rule.error": 1.0},
            mean=0.0,
            u=RULE_ERROR_MM,
            unit="mm",
            source=said(
                "the ruler's own error, common to both bars: ± 0.2 mm, class I (MI-008, read); which ruler is not known"
            ),
            distribution="curvilinear trapezoid",
        ),
        Prior(
            quantity="paper humidity",
            coefficients={"paper.growth": 1.0},
            mean=0.0,
            u=PAPER_GROWTH_U,
            unit="1",
            source=said("paper between the reading of the bars and the photograph: ± 0.1 %, both axes (published)"),
            distribution="curvilinear trapezoid",
        ),
    ]
