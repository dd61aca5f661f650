"""A plan's tables, from its document: options, what remains, the way's demands, inputs, assumptions, cautions."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from reportlab.platypus import Flowable

from calib.words.said import Digits, joined, said, say, shown
from photomeasure.rig.advice import BENDS, VERDICTS, chance
from photomeasure.rig.quantities_said import called, named, sourced
from photomeasure.rig.ranges import OffsetRange
from photomeasure.shown.report.blocks import facts, gap, grid, heading, listed
from photomeasure.shown.report.style import BODY, QUIET, SHADE, SMALL, SMALL_BOLD, colour_of, paragraph
from photomeasure.shown.rows import confidence_words

Document = Mapping[str, Any]
_SHAPES = {"normal": said("normal"), "rectangular": said("rectangular")}
_NAME_MM = 44.0
# head, width in mm against the others, cell; a column in which every cell is "-" is left out
_COLUMNS: tuple[tuple[str, float, Callable[[Document], str]], ...] = (
    (said("ball moves"), 20.0, lambda one: _move(one["offset_mm"])),
    (said("coupled height, mm"), 23.0, lambda one: _pm(one["height_mm"], 0)),
    (said("band"), 26.0, lambda one: VERDICTS[one["verdict"]]),
    (said("inside, probability"), 20.0, lambda one: "-" if one["p_inside"] is None else chance(one["p_inside"])),
    (said("trailer pitch, deg"), 22.0, lambda one: _pm(one["trailer_pitch_deg"], 1, sign=True)),
    (
        said("level, probability"),
        23.0,
        lambda one: joined((said("yes") if one["level"] else said("no"), chance(one["p_level"]))),
    ),
    (said("ball load, kg"), 20.0, lambda one: _pm(one["ball_load_kg"], 0)),
    (said("vehicle pitch, deg"), 22.0, lambda one: _pm(one["vehicle_pitch_deg"], 1, sign=True)),
    (said("rear axle, kg"), 22.0, lambda one: _pm(one["rear_axle_change_kg"], 0, sign=True)),
    (said("ball load, % of the trailer"), 22.0, lambda one: _share(one)),
    (said("ratings"), 18.0, lambda one: _ratings(one)),
    (said("front axle, kg"), 22.0, lambda one: _pm(one["front_axle_change_kg"], 0, sign=True)),
    (said("last less first trailer axle, kg"), 24.0, lambda one: _pm(one["axle_group_difference_kg"], 0, sign=True)),
)


def plan_tables(document: Document, width: float) -> list[Flowable]:
    """Everything after the first page, for pages of this width in mm."""
    return [
        *heading(said("The drops and rises")),
        _options(document, width),
        gap(1.5),
        paragraph(_HOW_TO_READ, QUIET),
        gap(2.0),
        *facts(_ranges(document), width, 30.0),
        *_section(said("What remains"), document["remaining_choices"]),
        *_loads(document),
        *_empty(document, width),
        *_rule(document, width),
        *_articulation(document),
        *_parts(document),
        *_inputs(document),
        *_section(said("Assumed, or to look at"), document["warnings"]),
        *_section(said("Before you do it"), document["cautions"]),
    ]


_HOW_TO_READ = said("Pitch: nose-up is +. ± is half the 95 % interval. Axle changes are against no trailer.")


def _loads(document: Document) -> list[Flowable]:
    """Loads of what is shown, against plates and practice."""
    source = document["ratings_source"]
    whence = [paragraph(said("Ratings: {source}.", source=source), QUIET)] if source else []
    return [*_section(said("Loads against ratings and what is usual"), document["loads"]), *whence]


def _empty(document: Document, width: float) -> list[Flowable]:
    """The same drops with the trailer empty."""
    empty = document["empty"]
    if empty is None:
        return []
    table = _grid_of(empty["options"], [""] * len(empty["options"]), width)
    return [*heading(said("The same with the trailer empty")), table, gap(1.5), paragraph(empty["sentence"], BODY)]


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
        name = paragraph(f"{shown(called(one['name'], one['offset_mm']))}{shown(mark)}", SMALL_BOLD if mark else SMALL)
        rows.append((name, *(cells[i] for _, _, cells in columns)))
    widths = (_NAME_MM, *(wide * stretch for _, wide, _ in columns))
    return grid(("", *(head for head, _, _ in columns)), rows, widths, style=marked)


def _mark(document: Document, one: Document, proposed: bool) -> str:
    if proposed:
        return f" ({say('not listed')})"
    if one["name"] != document["recommended"]:
        return ""
    return f" ({say('compromise') if document['conclusion'] == 'compromise' else say('recommended')})"


def _move(offset_mm: float) -> str:
    if offset_mm == 0.0:
        return "0 mm"
    return said("{mm:g} mm down", mm=-offset_mm) if offset_mm < 0 else said("{mm:g} mm up", mm=offset_mm)


def _pm(spread: Document | None, digits: int, *, sign: bool = False) -> str:
    if spread is None:
        return "-"
    value, (low, high) = round(spread["mean"], digits) + 0.0, spread["interval"]
    figure = f"{value:+.{digits}f}" if sign and value else f"{value:.{digits}f}"
    return Digits(f"{figure} \N{PLUS-MINUS SIGN} {0.5 * (high - low):.{digits}f}")


def _share(one: Document) -> str:
    return next((_pm(check["found"], 1) for check in one["loads"] if check["practice"]), "-")


def _ratings(one: Document) -> str:
    states = [check["state"] for check in one["loads"] if not check["practice"]]
    for state, word in (
        ("over", said("TOO MUCH")),
        ("unsure", said("TOO CLOSE")),
        ("unknown", said("not all known")),
    ):
        if state in states:
            return word
    return said("kept") if states else "-"


def _ranges(document: Document) -> list[tuple[str, str]]:
    """Which moves of the ball would do at all, listed or not."""
    found, rule = document["offset_ranges_mm"], document["rule"]
    level = (said("Level"), _range(found["level"]))
    if rule["band_mm"] is None:
        return [level]
    percent = 100.0 * rule["confidence_needed"]
    inside = said("{range} (with {percent:.1f} % confidence)", range=_range(found["inside"]), percent=percent)
    return [(said("Inside the band"), inside), level, (said("Both"), _range(found["both"]))]


def _range(ends: Sequence[float | None] | None) -> str:
    if ends is None:
        return said("no move of the ball, at this uncertainty")
    low, high = ends
    if low is None and high is None:
        return said("every move of the ball")
    found = OffsetRange(low_mm=-math.inf if low is None else low, high_mm=math.inf if high is None else high)
    return found.text  # as the terminal says it


def _rule(document: Document, width: float) -> list[Flowable]:
    rule = document["rule"]
    band = said("no band is known to apply")
    if rule["band_mm"] is not None:
        low, high = rule["band_mm"]
        if high is None:
            band = said("from {mm:g} mm", mm=low)
        else:
            band = said("up to {high_mm:g} mm", high_mm=high) if low is None else Digits(f"{low:g}-{high:g} mm")
    rows = [
        (said("Rule"), said("{title} ({name}): {band}", title=rule["title"], name=rule["name"], band=band)),
        (said("Source"), rule["source"]),
        (said("Confidence"), confidence_words(rule["source_confidence"])),
    ]
    return [*heading(said("Judged by")), *facts(rows, width, 30.0)]


def _articulation(document: Document) -> list[Flowable]:
    rows = [
        (place["name"], BENDS[bend["direction"]], Digits(f"{bend['demand_deg']:.1f}"), *_limit(bend))
        for place in document["articulation"]
        for bend in place["bends"]
        if bend["demand_deg"] >= 0.05 or len(place["bends"]) == 1
    ]
    if not rows:
        return []
    head = (said("place"), said("bend"), said("demand, deg"), said("maker's limit, deg"), said("margin, deg"))
    source = document["articulation_limits_source"]
    limits = (
        said("Limits: {source}.", source=source)
        if source
        else said("Ask the coupling's maker for its limits and type them in.")
    )
    table = grid(head, rows, (90.0, 60.0, 35.0, 40.0, 42.0), numbers=(2, 3, 4))
    return [*heading(said("What the way demands of the coupling")), table, gap(1.5), paragraph(limits, QUIET)]


def _limit(bend: Document) -> tuple[str, str]:
    if bend["limit_deg"] is None:
        return said("none given"), "-"
    limit, margin = Digits(f"{bend['limit_deg']:.1f}"), Digits(f"{bend['margin_deg']:+.1f}")
    return limit, joined((margin, said("TOO MUCH")), " ") if bend["margin_deg"] < 0.0 else margin


def _parts(document: Document) -> list[Flowable]:
    rows = [
        (
            named(part["name"]), sourced(part["source"]), Digits(f"{part['height_u_mm']:.1f}"),
            Digits(f"{100 * part['height_share']:.1f} %"), Digits(f"{part['pitch_u_deg']:.2f}"),
            Digits(f"{100 * part['pitch_share']:.1f} %"),
        )
        for part in document["sensitivities"]
    ]  # fmt: skip
    if not rows:
        return []
    share = said("share")
    head = (
        said("input quantity"),
        said("source"),
        said("u of the height, mm"),
        share,
        said("u of the pitch, deg"),
        share,
    )
    table = grid(head, rows, (70.0, 77.0, 35.0, 25.0, 35.0, 25.0), numbers=(2, 3, 4, 5))
    next_one = [paragraph(document["measure_next"], BODY), gap(1.5)] if document["measure_next"] else []
    return [*heading(said("Where the uncertainty comes from")), *next_one, table]


def _inputs(document: Document) -> list[Flowable]:
    head = (said("input quantity"), said("value"), "u", said("unit"), said("shape"), said("source"))
    rows = [
        (
            named(one["name"]),
            Digits(f"{one['value']:.6g}"),
            Digits(f"{one['u']:.3g}"),
            one["unit"],
            _SHAPES.get(one["shape"], one["shape"]),
            sourced(one["source"]),
        )
        for one in document["inputs"]
    ]
    drawn = document["monte_carlo"]
    how = said("Propagated by Monte Carlo: {draws} draws, seed {seed}.", draws=drawn["draws"], seed=drawn["seed"])
    table = grid(head, rows, (66.0, 26.0, 26.0, 56.0, 30.0, 63.0), numbers=(1, 2))
    return [*heading(said("What went in")), table, gap(1.5), paragraph(how, QUIET)]
