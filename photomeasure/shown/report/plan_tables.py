"""A plan's tables, from its document: options, what remains, the way's demands, inputs, assumptions, cautions."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from reportlab.platypus import Flowable

from photomeasure.rig.advice import chance
from photomeasure.rig.ranges import OffsetRange
from photomeasure.shown.report.blocks import facts, gap, grid, heading, listed
from photomeasure.shown.report.style import BODY, QUIET, SHADE, SMALL, SMALL_BOLD, colour_of, paragraph
from photomeasure.shown.rows import confidence_words

Document = Mapping[str, Any]
_VERDICTS = {
    "within": "within the band", "above": "above the band", "below": "below the band",
    "undecided": "too close to call", "no-band": "no band applies",
}  # fmt: skip
_BENDS = {"crest": "fold down (crest)", "dip": "fold up (dip)", "roll": "roll"}
_NAME_MM = 44.0
# head, width in mm against the others, cell; a column in which every cell is "-" is left out
_COLUMNS: tuple[tuple[str, float, Callable[[Document], str]], ...] = (
    ("ball moves", 20.0, lambda one: _move(one["offset_mm"])),
    ("coupled height, mm", 23.0, lambda one: _pm(one["height_mm"], 0)),
    ("band", 26.0, lambda one: _VERDICTS[one["verdict"]]),
    ("inside, probability", 20.0, lambda one: "-" if one["p_inside"] is None else chance(one["p_inside"])),
    ("trailer pitch, deg", 22.0, lambda one: _pm(one["trailer_pitch_deg"], 1, sign=True)),
    ("level, probability", 23.0, lambda one: f"{'yes' if one['level'] else 'no'}, {chance(one['p_level'])}"),
    ("ball load, kg", 20.0, lambda one: _pm(one["ball_load_kg"], 0)),
    ("vehicle pitch, deg", 22.0, lambda one: _pm(one["vehicle_pitch_deg"], 1, sign=True)),
    ("rear axle, kg", 22.0, lambda one: _pm(one["rear_axle_change_kg"], 0, sign=True)),
    ("ball load, % of the trailer", 22.0, lambda one: _share(one)),
    ("ratings", 18.0, lambda one: _ratings(one)),
    ("front axle, kg", 22.0, lambda one: _pm(one["front_axle_change_kg"], 0, sign=True)),
    ("last less first trailer axle, kg", 24.0, lambda one: _pm(one["axle_group_difference_kg"], 0, sign=True)),
)


def plan_tables(document: Document, width: float) -> list[Flowable]:
    """Everything after the first page, for pages of this width in mm."""
    return [
        *heading("The drops and rises"),
        _options(document, width),
        gap(1.5),
        paragraph(_HOW_TO_READ, QUIET),
        gap(2.0),
        *facts(_ranges(document), width, 30.0),
        *_section("What remains", document["remaining_choices"]),
        *_loads(document),
        *_empty(document, width),
        *_rule(document, width),
        *_articulation(document),
        *_parts(document),
        *_inputs(document),
        *_section("Assumed, or to look at", document["warnings"]),
        *_section("Before you do it", document["cautions"]),
    ]


_HOW_TO_READ = (
    "Pitch: nose-up is +. \N{PLUS-MINUS SIGN} is half the 95 % interval. Axle changes are against no trailer."
)


def _loads(document: Document) -> list[Flowable]:
    """Loads of what is shown, against plates and practice."""
    source = document["ratings_source"]
    said = [paragraph(f"Ratings: {source}.", QUIET)] if source else []
    return [*_section("Loads against ratings and what is usual", document["loads"]), *said]


def _empty(document: Document, width: float) -> list[Flowable]:
    """The same drops with the trailer empty."""
    empty = document["empty"]
    if empty is None:
        return []
    table = _grid_of(empty["options"], [""] * len(empty["options"]), width)
    return [*heading("The same with the trailer empty"), table, gap(1.5), paragraph(empty["sentence"], BODY)]


def _section(title: str, lines: Sequence[str]) -> list[Flowable]:
    return [*heading(title), *listed(lines, BODY)] if lines else []


def _options(document: Document, width: float) -> Flowable:
    proposal = document["proposal"]
    options = [*document["options"], *([proposal] if proposal else [])]
    return _grid_of(options, [_mark(document, one, one is proposal) for one in options], width)


def _grid_of(options: Sequence[Document], marks: Sequence[str], width: float) -> Flowable:
    columns = [(head, wide, [cell(one) for one in options]) for head, wide, cell in _COLUMNS]
    columns = [column for column in columns if any(cell != "-" for cell in column[2])]
    stretch = (width - _NAME_MM) / sum(wide for _, wide, _ in columns)
    rows: list[Sequence[str | Flowable]] = []
    marked = []
    for i, (one, mark) in enumerate(zip(options, marks, strict=True)):
        marked += [("BACKGROUND", (0, i + 1), (-1, i + 1), colour_of(SHADE))] if mark else []
        name = paragraph(f"{one['name']}{mark}", SMALL_BOLD if mark else SMALL)
        rows.append((name, *(cells[i] for _, _, cells in columns)))
    widths = (_NAME_MM, *(wide * stretch for _, wide, _ in columns))
    return grid(("", *(head for head, _, _ in columns)), rows, widths, style=marked)


def _mark(document: Document, one: Document, proposed: bool) -> str:
    if proposed:
        return " (not listed)"
    if one["name"] != document["recommended"]:
        return ""
    return " (compromise)" if document["conclusion"] == "compromise" else " (recommended)"


def _move(offset_mm: float) -> str:
    return "none" if offset_mm == 0.0 else f"{abs(offset_mm):g} mm {'down' if offset_mm < 0 else 'up'}"


def _pm(spread: Document | None, digits: int, *, sign: bool = False) -> str:
    if spread is None:
        return "-"
    value, (low, high) = round(spread["mean"], digits) + 0.0, spread["interval"]
    shown = f"{value:+.{digits}f}" if sign and value else f"{value:.{digits}f}"
    return f"{shown} \N{PLUS-MINUS SIGN} {0.5 * (high - low):.{digits}f}"


def _share(one: Document) -> str:
    return next((_pm(check["found"], 1) for check in one["loads"] if check["practice"]), "-")


def _ratings(one: Document) -> str:
    states = [check["state"] for check in one["loads"] if not check["practice"]]
    for state, word in (("over", "TOO MUCH"), ("unsure", "TOO CLOSE"), ("unknown", "not all known")):
        if state in states:
            return word
    return "kept" if states else "-"


def _ranges(document: Document) -> list[tuple[str, str]]:
    """Which moves of the ball would do at all, listed or not."""
    found, rule = document["offset_ranges_mm"], document["rule"]
    level = ("Level", _range(found["level"]))
    if rule["band_mm"] is None:
        return [level]
    inside = f"{_range(found['inside'])} (with {100.0 * rule['confidence_needed']:.1f} % confidence)"
    return [("Inside the band", inside), level, ("Both", _range(found["both"]))]


def _range(ends: Sequence[float | None] | None) -> str:
    if ends is None:
        return "no move of the ball, at this uncertainty"
    low, high = ends
    if low is None and high is None:
        return "every move of the ball"
    found = OffsetRange(low_mm=-math.inf if low is None else low, high_mm=math.inf if high is None else high)
    return found.text  # as the terminal says it


def _rule(document: Document, width: float) -> list[Flowable]:
    rule = document["rule"]
    band = "no band is known to apply"
    if rule["band_mm"] is not None:
        low, high = rule["band_mm"]
        band = f"from {low:g} mm" if high is None else f"up to {high:g} mm" if low is None else f"{low:g}-{high:g} mm"
    rows = [
        ("Rule", f"{rule['title']} ({rule['name']}): {band}"),
        ("Source", rule["source"]),
        ("Confidence", confidence_words(rule["source_confidence"])),
    ]
    return [*heading("Judged by"), *facts(rows, width, 30.0)]


def _articulation(document: Document) -> list[Flowable]:
    rows = [
        (place["name"], _BENDS[bend["direction"]], f"{bend['demand_deg']:.1f}", *_limit(bend))
        for place in document["articulation"]
        for bend in place["bends"]
        if bend["demand_deg"] >= 0.05 or len(place["bends"]) == 1
    ]
    if not rows:
        return []
    head = ("place", "bend", "demand, deg", "maker's limit, deg", "margin, deg")
    source = document["articulation_limits_source"]
    said = f"Limits: {source}." if source else "Ask the coupling's maker for its limits and type them in."
    table = grid(head, rows, (90.0, 60.0, 35.0, 40.0, 42.0), numbers=(2, 3, 4))
    return [*heading("What the way demands of the coupling"), table, gap(1.5), paragraph(said, QUIET)]


def _limit(bend: Document) -> tuple[str, str]:
    if bend["limit_deg"] is None:
        return "none given", "-"
    too_much = " TOO MUCH" if bend["margin_deg"] < 0.0 else ""
    return f"{bend['limit_deg']:.1f}", f"{bend['margin_deg']:+.1f}{too_much}"


def _parts(document: Document) -> list[Flowable]:
    rows = [
        (
            part["name"], part["source"], f"{part['height_u_mm']:.1f}", f"{100 * part['height_share']:.1f} %",
            f"{part['pitch_u_deg']:.2f}", f"{100 * part['pitch_share']:.1f} %",
        )
        for part in document["sensitivities"]
    ]  # fmt: skip
    if not rows:
        return []
    head = ("input quantity", "source", "u of the height, mm", "share", "u of the pitch, deg", "share")
    table = grid(head, rows, (70.0, 77.0, 35.0, 25.0, 35.0, 25.0), numbers=(2, 3, 4, 5))
    next_one = [paragraph(document["measure_next"], BODY), gap(1.5)] if document["measure_next"] else []
    return [*heading("Where the uncertainty comes from"), *next_one, table]


def _inputs(document: Document) -> list[Flowable]:
    head = ("input quantity", "value", "u", "unit", "shape", "source")
    rows = [
        (one["name"], f"{one['value']:.6g}", f"{one['u']:.3g}", one["unit"], one["shape"], one["source"])
        for one in document["inputs"]
    ]
    drawn = document["monte_carlo"]
    said = f"Propagated by Monte Carlo: {drawn['draws']} draws, seed {drawn['seed']}."
    table = grid(head, rows, (66.0, 26.0, 26.0, 56.0, 30.0, 63.0), numbers=(1, 2))
    return [*heading("What went in"), table, gap(1.5), paragraph(said, QUIET)]
