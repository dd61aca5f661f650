"""The uncertainty budget as bars and a table that adds up, and the input quantities with where they came from."""

from __future__ import annotations

import math
from collections.abc import Sequence

from reportlab.platypus import Flowable

from calib.drawing.colours import INK
from calib.drawing.pen import Pen
from calib.words.said import figures, number, said, said_many, say, shown
from photomeasure.record.schema import BudgetRow, InputRow, Record
from photomeasure.scene.quantities import named
from photomeasure.shown.budget_sum import combined_u_mm
from photomeasure.shown.report.blocks import Drawn, grid
from photomeasure.shown.report.style import BAR, NUMBER_BOLD, SHADE, SMALL_BOLD, colour_of, paragraph

_WIDTHS_MM = (56.0, 20.0, 24.0, 20.0, 60.0)
_BAR_MM = 57.5
_INPUT_WIDTHS_MM = (34.0, 14.0, 16.0, 17.0, 20.0, 19.0, 60.0)
_TOLD = 0.0005  # a smaller share prints as 0.0 %: such rows stand together (the record has each)
_DISTRIBUTIONS = {
    "normal": said("normal"),
    "rectangular": said("rectangular"),
    "curvilinear trapezoid": said("curvilinear trapezoid"),
    "exponential": said("exponential"),
}


def budget_table(record: Record) -> Flowable:
    """One row an input quantity, the largest first, a bar for its share; the last row adds them up."""
    full = _round_up(max(row.share for row in record.budget))
    head = (say("input quantity"), "u, mm", "u\N{SUPERSCRIPT TWO}, mm\N{SUPERSCRIPT TWO}", say("share of u²"),
            say("share; full width is {full:g} %", full=100 * full))  # fmt: skip
    rows: list[Sequence[str | Flowable]] = [
        (
            shown(named(row.quantity)),
            number(row.u_mm, ".3f"),
            number(row.u_mm**2, ".4f"),
            f"{number(100 * row.share, '.1f')} %",
            _bar(row, full),
        )
        for row in record.budget
        if row.share >= _TOLD
    ]
    small = [row for row in record.budget if row.share < _TOLD]
    if small:
        rest_mm = math.sqrt(math.fsum(row.u_mm**2 for row in small))
        rest = shown(said_many("{count} more, under 0.05 % each", "{count} more, each under 0.05 %", count=len(small)))
        share = f"{number(100 * math.fsum(row.share for row in small), '.1f')} %"
        rows.append((rest, number(rest_mm, ".3f"), number(rest_mm**2, ".4f"), share, ""))
    together_mm = combined_u_mm(record)
    shares = math.fsum(row.share for row in record.budget)
    sums = (number(together_mm, ".3f"), number(together_mm**2, ".4f"), f"{number(100 * shares, '.1f')} %")
    rows.append((paragraph(said("together"), SMALL_BOLD), *(paragraph(text, NUMBER_BOLD) for text in sums), ""))
    last = [("BACKGROUND", (0, -1), (-1, -1), colour_of(SHADE)), ("LINEABOVE", (0, -1), (-1, -1), 0.8, colour_of(INK))]
    return grid(head, rows, _WIDTHS_MM, numbers=(1, 2, 3), style=last)


def _bar(row: BudgetRow, full: float) -> Flowable:
    def draw(pen: Pen) -> None:
        pen.box(0.0, 0.0, _BAR_MM * min(max(row.share / full, 0.0), 1.0), 2.6, colour=None, fill=BAR)

    return Drawn(_BAR_MM, 2.6, draw)


def _round_up(share: float) -> float:
    """A round share that the largest one fits into: 5, 10, 20, 40, 60, 80 or 100 %."""
    return next((full for full in (0.05, 0.1, 0.2, 0.4, 0.6, 0.8) if share <= full), 1.0)


def inputs_table(inputs: Sequence[InputRow]) -> Flowable:
    """What went in: value and u in the quantity's own unit, distribution, effect on the height, source."""
    head = (
        say("input quantity"),
        say("value"),
        "u",
        say("unit"),
        say("distribution, type"),
        say("height, mm"),
        say("where it comes from"),
    )
    rows = [
        (
            shown(named(row.quantity)),
            number(row.value, ".6g"),
            _three(row.u),
            row.unit,
            _known_how(row),
            _signed(row.height_u_mm),
            shown(row.source),
        )
        for row in inputs
    ]
    return grid(head, rows, _INPUT_WIDTHS_MM, numbers=(1, 2, 5))  # fmt: skip


def _known_how(row: InputRow) -> str:
    kind = shown(_DISTRIBUTIONS.get(row.distribution, row.distribution))
    return kind if row.evaluation is None else f"{kind}, {row.evaluation}"


def _three(value: float) -> str:
    """Three digits that count, without an exponent for what people write without one."""
    return number(float(f"{value:.3g}"), ".6g")


def _signed(value_mm: float) -> str:
    text = f"{value_mm:+.3f}"
    return figures("0.000" if float(text) == 0.0 else text)
