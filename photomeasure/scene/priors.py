"""What is assumed where nothing was measured: every prior of the scene, with its value and where it comes from.

Nothing here depends on a picture. Confidence labels: "read", "secondary", "memory", "computed" as in the reference
tables; "judgement" is our own estimate and is printed as such in the budget.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from calib.kit.sheet import FIRST_BARS_MM
from calib.words.said import said
from photomeasure.asked.bars import Bars
from photomeasure.asked.bay_file import CouplingPlane
from photomeasure.asked.carried import N_CARRIED, Carried
from photomeasure.scene.scene import BAR_TURNS, BEFORE, CENTRE, OFFSET, Prior, edge_of, mount_of, offset_of
from photomeasure.scene.shared import Statement, shared_rows
from photomeasure.uncertainty.convolution import trapezoid_half_width

SQRT3 = float(np.sqrt(3.0))
DEG = float(np.pi / 180.0)
# Standard uncertainty over half-width where the limits are themselves guesses: a curvilinear trapezoid, JCGM 101:2008 6.4.3
GUESSED_U = 1.0 / trapezoid_half_width(1.0)

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

SQUARE_STAND_RAD = 0.5 * DEG  # lean: stood against something square
FOOT_ROLL_RAD = 0.3 * DEG  # roll: the foot line on the ground, one end 1 mm higher than the other
FOOT_CUT_MM = 0.5 * GUESSED_U  # cut along the printed line to half a millimetre
FOOT_GAP_MM = 0.2  # grit, texture, a bowed edge: a foot line stands on the highest of them, never below
IN_PLANE_DEPTH_MM = 20.0 * GUESSED_U  # "in the sheet's plane, \N{PLUS-MINUS SIGN} 20 mm"
# The sheet's plane is not the rig's: turned by eye until it looks square, one side 15 mm nearer than the other
SHEET_TURN_RAD = 4.0 * DEG
TAG_DEPTH_MEAN_MM, TAG_DEPTH_U_MM = (
    -20.0,
    25.0,
)  # a tag sits on the coupling's near side, which is nearer than its centre
TAG_PLACEMENT_MM = 2.0
# With the kit's gauge, rectangles of half a millimetre: the ball's top read, the gauge stood twice, the tag put to the line; and half of a
# ball's diameter on a print at 97 to 100 % (0.22). Judgement; not yet tried by hands.
TAG_BY_GAUGE_MM = 0.65
HEAD_MARK_MM, PIN_MARK_MM = (
    4.5,
    2.0,
)  # the centre's height judged by eye on a head that hides it; on a bush's round face
TAG_TURN_RAD, TAG_TILT_RAD = 20.0 * DEG, 6.0 * DEG
# Ground: its texture (a tape's end and a foot line rest on other grains than the height is meant from), and how far it is
# from plane between the foot line and the coupling. Even slope does nothing: nothing here is measured against gravity.
# Said to be hard and flat: smooth concrete to fine asphalt, 3 mm under a 2 m straight edge; else coarse asphalt, packed
# gravel, 10 mm under 2 m (usual classes of floors and yards, from memory).
FLAT_TEXTURE_MM, FLAT_UNEVENNESS = 0.5, 0.003 / 2
UNKNOWN_TEXTURE_MM, UNKNOWN_UNEVENNESS = 1.0, 0.010 / 2
BAY_TEXTURE_MM = 0.2  # a floor (judgement)
LEAST_UNEVEN = 1e-6  # mm per mm: a level that read nothing at all
LEAST_RISE_MM = 1e-3  # a prior needs a width: nothing that anybody would see
GROUND_SHEET_TILT_RAD, GROUND_SHEET_LIFT_MM = 0.15 * DEG, 0.2

BALL_WORN_MM = 1.0  # worn-ball test diameter 49.00-49.13 (EU 44/2014 Annex V 6.5, read); new 49.87-50.00 (memory)
# Common shift of a ball's edge by tone curve and blur: renders with a true print gave scales that scatter by 0.5 % where
# 0.4 px claimed 1.1 % (radius 37 px); at 1600 px one was 0.4 px out, which two of these hold.
BALL_EDGE_PX = 0.25


UNTOUCHED_MM = (
    5.0  # of the ball along and away, beside its sinking, while nobody touched the sheet or drove the rig (judgement)
)
UNTOUCHED_TURN_RAD = 0.5 * DEG
BAR_TAG_SOURCE = said("stuck on the tow bar by eye (judgement)")
BAR_TAG_TURN_RAD, BAR_TAG_LEAN_RAD, BAR_TAG_ROLL_RAD = 45.0 * DEG, 15.0 * DEG, 20.0 * DEG
# Between two photographs: the sheet is stood up again (turned by 4 degrees each time), the bar pitches under the load.
BAR_MOVED_RAD = (6.0 * DEG, 1.5 * DEG, 2.5 * DEG)
CARRIED, MOVED, TURNED = "carried over", "sheet untouched", "bar turned"
PLACEMENT = "carried.placement"
LEAST_CARRIED = 1e-5  # mm or rad: a prior needs a width


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


def sheet_priors() -> list[Prior]:
    """How the upright sheet stands."""
    square = said("stood against something square, 0.5 degrees (judgement)")
    return [
        Prior(
            quantity="sheet lean",
            coefficients={"sheet.lean": 1.0},
            mean=0.0,
            u=SQUARE_STAND_RAD,
            unit="rad",
            source=square,
        ),
        Prior(
            quantity="sheet roll",
            coefficients={"sheet.roll": 1.0},
            mean=0.0,
            u=FOOT_ROLL_RAD,
            unit="rad",
            source=said("foot line on hard ground, one end within 1 mm of the other (judgement)"),
        ),
        Prior(
            quantity="foot cut",
            coefficients={"sheet.cut": 1.0},
            mean=0.0,
            u=FOOT_CUT_MM,
            unit="mm",
            source=said("cut along the foot line to half a millimetre (judgement)"),
            distribution="curvilinear trapezoid",
        ),
        Prior(
            quantity="foot gap",
            coefficients={"sheet.gap": 1.0, "sheet.cut": -1.0},
            mean=FOOT_GAP_MM,
            u=FOOT_GAP_MM,
            unit="mm",
            source=said("the foot stands on grit and texture, never below the ground (judgement)"),
            distribution="exponential",
        ),
    ]


def ground_sheet_priors() -> list[Prior]:
    """How the ground sheet lies: where is free, how flat is not."""
    flat = said("paper flat on hard ground (judgement)")
    wide = said("free")
    return [
        Prior(quantity="ground sheet place", coefficients={"flat.x": 1.0}, mean=0.0, u=2000.0, unit="mm", source=wide),
        Prior(quantity="ground sheet place", coefficients={"flat.y": 1.0}, mean=0.0, u=2000.0, unit="mm", source=wide),
        Prior(quantity="ground sheet place", coefficients={"flat.yaw": 1.0}, mean=0.0, u=3.0, unit="rad", source=wide),
        Prior(quantity="ground sheet flatness", coefficients={"flat.tilt_x": 1.0}, mean=0.0, u=GROUND_SHEET_TILT_RAD, unit="rad", source=flat),
        Prior(quantity="ground sheet flatness", coefficients={"flat.tilt_y": 1.0}, mean=0.0, u=GROUND_SHEET_TILT_RAD, unit="rad", source=flat),
        Prior(quantity="ground sheet flatness", coefficients={"flat.lift": 1.0}, mean=0.1, u=GROUND_SHEET_LIFT_MM, unit="mm", source=flat),
    ]  # fmt: skip


def stand_priors() -> list[Prior]:
    """Where the upright sheet stands in a bay: free on its ground."""
    return [
        Prior(
            quantity="sheet place", coefficients={f"stand.{name}": 1.0}, mean=0.0, u=u, unit=unit, source=said("free")
        )
        for name, u, unit in (("x", 10000.0, "mm"), ("y", 10000.0, "mm"), ("yaw", 6.0, "rad"))
    ]


def depth_priors(aside_mm: float) -> list[Prior]:
    """How far behind the sheet's plane the centre is, `aside_mm` to the right of the foot line's middle."""
    depth = Prior(
        quantity="depth",
        coefficients={"centre.y": 1.0, "rig.turn": -aside_mm},
        mean=0.0,
        u=IN_PLANE_DEPTH_MM,
        unit="mm",
        source=said("coupling centre in the sheet's plane, ± 20 mm (instructions)"),
        distribution="curvilinear trapezoid",
    )
    return [depth, _turn(aside_mm)]


def _turn(aside_mm: float) -> Prior:
    """What the depth grows by with the distance aside: the sheet is not turned as the rig is."""
    return Prior(
        quantity="sheet turn",
        coefficients={"rig.turn": 1.0},
        mean=0.0,
        u=SHEET_TURN_RAD,
        unit="rad",
        source=said(
            "sheet set square to the rig by eye, 4 degrees, {aside_mm:.0f} mm aside (judgement)", aside_mm=abs(aside_mm)
        ),
    )


def tag_priors(*, by_gauge: bool = False) -> list[Prior]:
    """How a centre tag lies on the coupling's side, and how well a person placed it: by eye, or with the kit's gauge."""
    stuck = said("stuck on the coupling's side (judgement)")
    placed = (
        said("its height carried over from the bare ball with the gauge, {mm:g} mm (judgement)", mm=TAG_BY_GAUGE_MM)
        if by_gauge
        else said("a person puts the tag's middle at the centre's height to 2 mm (judgement)")
    )
    return [
        Prior(quantity="tag lie", coefficients={"tag.turn": 1.0}, mean=0.0, u=TAG_TURN_RAD, unit="rad", source=stuck),
        Prior(quantity="tag lie", coefficients={"tag.lean": 1.0}, mean=0.0, u=TAG_TILT_RAD, unit="rad", source=stuck),
        Prior(quantity="tag lie", coefficients={"tag.roll": 1.0}, mean=0.0, u=TAG_TILT_RAD, unit="rad", source=stuck),
        Prior(
            quantity="tag placement",
            coefficients={"tag.placement": 1.0},
            mean=0.0,
            u=TAG_BY_GAUGE_MM if by_gauge else TAG_PLACEMENT_MM,
            unit="mm",
            source=placed,
        ),
    ]


def mark_prior(coupling: str) -> Prior:
    """A mark where the centre itself is hidden: on the head of a coupled ball, or on the face of a pin's bush."""
    where, u_mm = (
        said(
            "the centre's height judged by eye on a head that hides the ball, {u_mm:g} mm (judgement)",
            u_mm=HEAD_MARK_MM,
        ),
        HEAD_MARK_MM,
    )
    if coupling == "pin":
        where, u_mm = (
            said("the centre's height judged by eye on a pin's bush, {u_mm:g} mm (judgement)", u_mm=PIN_MARK_MM),
            PIN_MARK_MM,
        )
    return Prior(
        quantity="mark placement",
        coefficients={"mark.placement": 1.0},
        mean=0.0,
        u=u_mm,
        unit="mm",
        source=where,
    )


def tag_depth_priors(aside_mm: float) -> list[Prior]:
    """A tag, or a mark, on the coupling's near side is nearer to the camera than the sheet's plane."""
    depth, turn = depth_priors(aside_mm)
    nearer = replace(
        depth,
        mean=TAG_DEPTH_MEAN_MM,
        u=TAG_DEPTH_U_MM,
        source=said("on the near side of a coupling that is in the sheet's plane (judgement)"),
        distribution="normal",
    )
    return [nearer, turn]


def bar_tag_priors() -> list[Prior]:
    """How a bar tag lies: stuck upright by eye on something steep; where the centre is from it, the photograph tells."""
    return [
        Prior(quantity="bar tag lie", coefficients={name: 1.0}, mean=0.0, u=u, unit="rad", source=BAR_TAG_SOURCE)
        for name, u in zip(BAR_TURNS, (BAR_TAG_TURN_RAD, BAR_TAG_LEAN_RAD, BAR_TAG_ROLL_RAD), strict=True)
    ]


def further_tag_priors(tags: Collection[int]) -> list[Prior]:
    """How further bar tags lie against the first one: stuck on by eye as well, perhaps on another side of the bar."""
    u_rad = [np.sqrt(2.0) * u for u in (BAR_TAG_TURN_RAD, BAR_TAG_LEAN_RAD, BAR_TAG_ROLL_RAD)]
    return [
        Prior(quantity="bar tag lie", coefficients={name: 1.0}, mean=0.0, u=u, unit="rad", source=BAR_TAG_SOURCE)
        for tag in tags
        for name, u in zip(mount_of(tag), u_rad, strict=True)
    ]


def moved_rad(*, sheet_untouched: bool) -> tuple[float, float, float]:
    """Standard uncertainties of what a bar's turn, lean and roll may have changed by between two photographs."""
    turn, lean, roll = BAR_MOVED_RAD
    return (UNTOUCHED_TURN_RAD if sheet_untouched else turn), lean, roll


def since_before_priors(*, bar: bool, sheet_untouched: bool) -> list[Prior]:
    """What ties photographs of now to those from before beside what they share.

    bar: a bar tag is seen on both sides; it turns with the load and with a sheet that was stood up anew.
    """
    priors = []
    if bar:
        source = said("what a load and a sheet stood up anew turn the bar by between two photographs (judgement)")
        for name, u in zip(BAR_TURNS, moved_rad(sheet_untouched=sheet_untouched), strict=True):
            told = {name: 1.0, f"{BEFORE}{name}": -1.0}
            priors.append(Prior(quantity=TURNED, coefficients=told, mean=0.0, u=u, unit="rad", source=source))
    if sheet_untouched:
        source = said("nobody touched the sheet or drove the rig in between, as was said; the bar's pitch (judgement)")
        for name in CENTRE[:2]:
            told = {name: 1.0, f"{BEFORE}{name}": -1.0}
            priors.append(Prior(quantity=MOVED, coefficients=told, mean=0.0, u=UNTOUCHED_MM, unit="mm", source=source))
    return priors


def carried_priors(carried: Carried, rows: Sequence[Statement]) -> list[Prior]:
    """Where the centre was in the bar tag's frame and how that lay, as the photograph from before tells.

    rows: the statements of the scene of now. An error that both photographs have (`scene.shared`) moved what is carried,
    and moves this scene: the priors are of what is left when it is taken out. The rest's covariance is taken apart into
    independent combinations. What may have turned since (the sheet against the rig, the tow bar under the load) is added
    to the tag's angles.
    """
    left, count = carried.matrix, len(carried.mean)
    left[range(3, N_CARRIED), range(3, N_CARRIED)] += np.square(
        moved_rad(sheet_untouched=carried.sheet_untouched is True)
    )
    shared = []
    for row in shared_rows(rows, carried.effects, sheet_untouched=carried.sheet_untouched is True):
        effect = np.array(carried.effects[row.name][:count])
        left = left - np.outer(effect, effect)
        shared.append((row, effect))
    variances, axes = np.linalg.eigh(left)
    names = carried_names(carried.more)
    priors = []
    for variance, axis in zip(variances, axes.T, strict=True):
        coefficients, mean = dict(zip(names, axis.tolist(), strict=True)), float(axis @ np.array(carried.mean))
        for row, effect in shared:
            by = float(axis @ effect)
            mean -= by * row.mean
            for name, value in row.coefficients.items():
                coefficients[name] = coefficients.get(name, 0.0) - by * value
        priors.append(
            Prior(
                quantity=CARRIED,
                coefficients=coefficients,
                mean=mean,
                u=float(np.sqrt(max(variance, LEAST_CARRIED**2))),
                unit="mm, rad",
                source=said("carried over by bar tag {tag} from {record}", tag=carried.tag, record=carried.record),
            )
        )
    return priors


def placement_prior(carried: Carried) -> Prior:
    """How exactly the mark or the tag that was carried over stood for the centre's height, when it was measured."""
    return Prior(
        quantity="placement before",
        coefficients={PLACEMENT: 1.0},
        mean=0.0,
        u=carried.placement_mm,
        unit="mm",
        source=said(
            "a mark or tag was carried over from {record}, put at the centre's height by eye (judgement)",
            record=carried.record,
        ),
    )


def carried_names(more: Sequence[int]) -> tuple[str, ...]:
    """The parameters that a record carries over, in its order: of the first bar tag, then six of each further one."""
    return (*OFFSET, *BAR_TURNS, *(name for tag in more for name in (*offset_of(tag), *mount_of(tag))))


def ball_priors(diameter_mm: float, photos: Collection[int] = (0,), looks_mm: float | None = None) -> list[Prior]:
    """A ball's radius: new to worn; and the shift of its edge, which each photograph has for itself.

    looks_mm: another size that it looks like: then it may be either, and tells nothing of the print.
    """
    if looks_mm is not None:
        return [_of_either(diameter_mm, looks_mm), *(ball_edge_prior(photo) for photo in photos)]
    return [
        Prior(
            quantity="ball diameter",
            coefficients={"ball.radius": 2.0},
            mean=diameter_mm - BALL_WORN_MM / 4,
            u=BALL_WORN_MM / (2 * SQRT3),
            unit="mm",
            source=said(
                "new (49.87-50.00 for 50 mm, ISO 1103 from memory) to half worn; worn out is 49.0 (EU 44/2014, read)"
            ),
            distribution="curvilinear trapezoid",
        ),
        *(ball_edge_prior(photo) for photo in photos),
    ]


def _of_either(stated_mm: float, looks_mm: float) -> Prior:
    """The mean and the spread of two sizes that are as likely, each new to half worn."""
    worn_u = BALL_WORN_MM / (2 * SQRT3)
    return Prior(
        quantity="ball diameter",
        coefficients={"ball.radius": 2.0},
        mean=(stated_mm + looks_mm) / 2 - BALL_WORN_MM / 4,
        u=float(np.hypot((stated_mm - looks_mm) / 2, worn_u)),
        unit="mm",
        source=said(
            "{stated_mm:g} mm was stated, but it looks like one of {looks_mm:g} mm: either, new to half worn",
            stated_mm=stated_mm,
            looks_mm=looks_mm,
        ),
    )


def ball_edge_prior(photo: int) -> Prior:
    """How far a photograph's tone curve and blur shift the edge of a ball, px."""
    return Prior(
        quantity="ball edge",
        coefficients={edge_of(photo): 1.0},
        mean=0.0,
        u=BALL_EDGE_PX,
        unit="px",
        source=said("tone curve and blur (judgement)"),
    )


_BETWEEN = said("at every place between")


@dataclass(frozen=True, slots=True, kw_only=True)
class Evenness:
    """How even the ground is. uneven: mm per mm; level_within_mm_per_m: what a level read, where that is better than what is usual."""

    words: str
    texture_mm: float
    uneven: float
    level_within_mm_per_m: float | None = None

    def source(self, over_mm: float | None = None, where: str = _BETWEEN) -> str:
        """over_mm: of what distance; where: a level was laid."""
        if self.level_within_mm_per_m is not None:
            values = {"where": where, "slope": self.level_within_mm_per_m}
            if over_mm is None:
                return said("a level read {where}: within {slope:g} mm per metre", **values)
            return said(
                "a level read {where}: within {slope:g} mm per metre over {over:.0f} mm", **values, over=over_mm
            )
        values = {"ground": self.words, "mm": 2000 * self.uneven}
        if over_mm is None:
            return said("{ground}: {mm:g} mm under a straight edge of 2 m (from memory)", **values)
        return said(
            "{ground}: {mm:g} mm under a straight edge of 2 m, over {over:.0f} mm (from memory)", **values, over=over_mm
        )


def evenness(*, flat: bool, level_within_mm_per_m: float | None) -> Evenness:
    """flat, level_within_mm_per_m: as of `ground_priors`."""
    usual = (
        Evenness(words=said("hard, flat ground"), texture_mm=FLAT_TEXTURE_MM, uneven=FLAT_UNEVENNESS)
        if flat
        else Evenness(
            words=said("ground not said to be hard and flat"), texture_mm=UNKNOWN_TEXTURE_MM, uneven=UNKNOWN_UNEVENNESS
        )
    )
    read = np.inf if level_within_mm_per_m is None else level_within_mm_per_m / 1000.0 * np.sqrt(2.0 / 3.0)
    if read >= usual.uneven:
        return usual
    return replace(usual, uneven=max(float(read), LEAST_UNEVEN), level_within_mm_per_m=level_within_mm_per_m)


def ground_priors(distance_mm: float, *, flat: bool, level_within_mm_per_m: float | None = None) -> list[Prior]:
    """Ground under the coupling against the plane of the ground under the foot line, `distance_mm` away.

    flat: said to be hard and flat. level_within_mm_per_m: what a level showed at every place between: slopes that are all
    within so much of level differ by no more than twice that (a triangle), which may be better than what is usual.
    """
    ground = evenness(flat=flat, level_within_mm_per_m=level_within_mm_per_m)
    return [
        _rise(
            "ground",
            "ground.rise",
            ground.texture_mm,
            said("{ground}: texture {texture_mm:g} mm (judgement)", ground=ground.words, texture_mm=ground.texture_mm),
        ),
        _rise(
            "ground evenness",
            "ground.slope_rise",
            max(ground.uneven * distance_mm, LEAST_RISE_MM),
            ground.source(distance_mm),
        ),
    ]


def bay_ground_prior(survey_u_mm: float) -> Prior:
    """In a bay the ground was surveyed with the markers: its texture, and the survey."""
    return _rise(
        "ground", "ground.rise", float(np.hypot(BAY_TEXTURE_MM, survey_u_mm)), said("surveyed ground of the bay")
    )


SIDE_TURN_RAD = 5.0 * DEG  # a sheet set up along a trailer by eye (judgement)
SIDE_DEPTH_MM = 600.0  # tyres stand nearer to the viewer than a sheet under the coupling, or in its plane (judgement)
RAIL_BACK_MM, RAIL_BACK_U_MM = 100.0, 150.0  # the rail is further back than the tyres' outer sides (judgement)


def side_priors(*, flat: bool, level_within_mm_per_m: float | None = None) -> list[Prior]:
    """What is known of a trailer's side before the picture is looked at: how it stands to the sheet, and its ground.

    flat, level_within_mm_per_m: as of `ground_priors`; the ground line along the trailer against the sheet's own ground.
    """
    ground = evenness(flat=flat, level_within_mm_per_m=level_within_mm_per_m)
    source = ground.source(where=said("along the trailer"))
    rise_mm = float(np.hypot(ground.texture_mm, 1000.0 * ground.uneven))
    turn = said("sheet set up along the trailer by eye, 5 degrees (judgement)")
    side = said("in the sheet's plane or a parallel one up to a trailer's half width nearer (judgement)")
    back = said("rail behind the tyres' outer sides (judgement)")
    return [
        Prior(quantity="trailer's turn", coefficients={"side.turn": 1.0}, mean=0.0, u=SIDE_TURN_RAD, unit="rad", source=turn),
        Prior(quantity="trailer's distance", coefficients={"side.depth": 1.0}, mean=0.0, u=SIDE_DEPTH_MM, unit="mm", source=side),
        Prior(quantity="rail's distance", coefficients={"side.step": 1.0}, mean=RAIL_BACK_MM, u=RAIL_BACK_U_MM, unit="mm", source=back),
        Prior(quantity="ground", coefficients={"side.rise": 1.0}, mean=0.0, u=rise_mm, unit="mm", source=source),
        Prior(quantity="ground evenness", coefficients={"side.slope": 1.0}, mean=0.0, u=ground.uneven, unit="rad", source=source),
    ]  # fmt: skip


def _rise(quantity: str, parameter: str, u_mm: float, source: str) -> Prior:
    return Prior(quantity=quantity, coefficients={parameter: 1.0}, mean=0.0, u=u_mm, unit="mm", source=source)


def plane_prior(plane: CouplingPlane) -> Prior:
    """The coupling's centre lies in the bay's coupling plane."""
    normal = np.array(plane.normal) / np.linalg.norm(plane.normal)
    return Prior(
        quantity="depth",
        coefficients=dict(zip(CENTRE, normal.tolist(), strict=True)),
        mean=float(normal @ np.array(plane.point_mm)),
        u=plane.u_mm,
        unit="mm",
        source=said("coupling plane of the bay file"),
    )
