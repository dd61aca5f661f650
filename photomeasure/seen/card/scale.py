"""A print's scale by a card of the usual size that lies on it: both axes, each with its own uncertainty.

ISO/IEC 7810 ID-1 (secondary): 85.47-85.72 by 53.92-54.03 mm, 0.68-0.84 mm thick, corners of 2.88-3.48 mm. The card's upper edge
lies nearer to the lens than the print and looks larger by its thickness over the distance; where the lens is beyond an edge,
the lower edge is what ends on the print.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calib.finding.sheets import FoundSheet, find_sheets, only_one
from calib.outcome.refusal import Refusal
from calib.words.said import said
from photomeasure.seen.answers.number import read_number
from photomeasure.seen.card.edges import OUTWARD, CardEdges, card_edges, printed_edge_mm
from photomeasure.seen.card.place import card_place
from photomeasure.seen.card.plane import Array, PrintPlane, print_plane

LONG_MM, SHORT_MM = (85.47, 85.72), (53.92, 54.03)
# Height of the card's upper edge: 0.76 +/- 0.08 by the standard, and it lies hollow by 0 to 0.3 (judgement)
UPPER_MM, UPPER_U_MM = 0.91, 0.10
INK_RUNS_MM = 0.02  # by which printed black is larger than drawn, on each side: 0 to 0.04 (judgement)
# Of a side, and the same of all four: what is not alike between the card's edge and the sheet's own (rendered close-ups)
EDGE_U_MM = 0.025
# Both axes err alike by it, by the height of the lens and of the upper edge, and by the card's own size: a card that is warm,
# worn or was punched out large is so on both sides (judgement; the standard speaks of each side by itself).
LENS_HEIGHT_U = 0.06  # focal length by EXIF, and focusing near
NEAREST_MM, FARTHEST_MM = 200.0, 900.0
STEEPEST_DEG = 20.0
LEAST_PX_PER_MM = 4.0
MOST_RESIDUAL_MM = 0.25  # of saddles: more, and the paper does not lie flat
MOST_CLIPPED = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class CardScale:
    """Of the print against its drawing, 1 where it was printed at 100 %.

    scale along x and y with standard uncertainties u, None where the card's edges did not show; bars_mm: length of both check
    bars on this print, and u of them; correlation: of both, None where one alone was read;
    number: of the print, where it was read; distance_mm: of the lens.
    """

    scale: tuple[float | None, float | None]
    u: tuple[float | None, float | None]
    bars_mm: tuple[float | None, float | None]
    bars_u_mm: tuple[float | None, float | None]
    correlation: float | None
    number: int | None
    distance_mm: float


def card_scale(grey: NDArray[np.uint8], intrinsics: Array) -> CardScale | Refusal:
    """From a close picture of the upright sheet with a card on its board. intrinsics (9,): of the camera as far as known.

    Refused where sheet or card are not seen well enough.
    """
    finding = find_sheets(grey)
    if not isinstance(finding, Refusal):
        finding = only_one(finding)
    if isinstance(finding, Refusal):
        return finding
    found = finding.of_role("upright")
    if found is None or not found.sheet.boxes:
        return Refusal(
            code="no-sheet",
            reason=said("No upright sheet with boxes was found in the picture."),
            remedy=said(
                "Lay the card on the chequer of the upright sheet, leave at least one of its large codes free, and photograph again."
            ),
        )
    plane = print_plane(found, intrinsics)
    unfit = _unfit(found, plane)
    if unfit is not None:
        return unfit
    place = card_place(grey, plane, found.sheet)
    edges = None if place is None else card_edges(grey, plane, found.sheet, place)
    if place is None or edges is None:
        return Refusal(
            code="no-card",
            reason=said("No card was found of which two opposite edges show on black cells of the sheet."),
            remedy=said(
                "Lay a card whose back is bright on the middle of the chequer, its sides along the cells' sides, so that every edge "
                "runs over black cells, and photograph it from straight above."
            ),
        )
    if edges.clipped > MOST_CLIPPED:
        return Refusal(
            code="clipped",
            reason=said("The card is burnt out in the picture, and what is too bright looks too large."),
            remedy=said("Photograph it in the shade, or tap on the card so that the camera measures its light there."),
        )
    reach_mm = printed_edge_mm(grey, plane, found.sheet) + INK_RUNS_MM
    return _scale(found, plane, edges, place.long_is_x, reach_mm, read_number(grey, found).number)


def _unfit(found: FoundSheet, plane: PrintPlane) -> Refusal | None:
    px_per_mm = found.cell_px / found.sheet.cell_mm
    away = np.linalg.norm(plane.lens_mm[:2] - found.sheet.points_mm.mean(axis=0))
    steep = float(np.degrees(np.arctan2(away, plane.lens_mm[2])))
    if px_per_mm < LEAST_PX_PER_MM or plane.lens_mm[2] > FARTHEST_MM:
        return Refusal(
            code="too-small",
            reason=said(
                "The sheet has {px_per_mm:.1f} pixels per millimetre; {least:.0f} are needed.",
                px_per_mm=px_per_mm,
                least=LEAST_PX_PER_MM,
            ),
            remedy=said("Photograph from 300 to 500 mm above the card, with the original file."),
        )
    if plane.lens_mm[2] < NEAREST_MM or steep > STEEPEST_DEG:
        return Refusal(
            code="too-oblique",
            reason=said(
                "The lens was {height_mm:.0f} mm above the sheet and {steep_deg:.0f} degrees off its middle.",
                height_mm=plane.lens_mm[2],
                steep_deg=steep,
            ),
            remedy=said("Hold the phone 300 to 500 mm straight above the middle of the sheet, level with it."),
        )
    if plane.residual_mm > MOST_RESIDUAL_MM:
        return Refusal(
            code="not-flat",
            reason=said(
                "The sheet does not lie flat: its corners are off a plane by {off_mm:.2f} mm.", off_mm=plane.residual_mm
            ),
            remedy=said("Lay the sheet on a table, press it flat, and photograph again."),
        )
    return None


def _scale(
    found: FoundSheet, plane: PrintPlane, edges: CardEdges, long_is_x: bool, reach_mm: float, number: int | None
) -> CardScale:
    true = [LONG_MM, SHORT_MM] if long_is_x else [SHORT_MM, LONG_MM]
    card = np.array([np.mean(limits) for limits in true])
    card_u = np.array([np.ptp(limits) / 2 / np.sqrt(3) for limits in true])
    sizes, own, by_height = np.array([_size_mm(edges, plane, axis, reach_mm) for axis in (0, 1)]).T
    alike = np.stack(
        [card_u / card, 2 * EDGE_U_MM / sizes, by_height], axis=1
    )  # (2, 3) of each axis, in both of one sign
    seen = np.isfinite(sizes)
    squared = (card / sizes) ** 2  # of the scale along each of the card's own axes
    squared[~seen] = squared[seen][0]
    c2, s2 = np.cos(edges.turn_rad) ** 2, np.sin(edges.turn_rad) ** 2
    # a size on the print is the true one over the scale: its square is shared out by the turn
    scales = 1.0 / np.sqrt(np.linalg.solve(np.array([[c2, s2], [s2, c2]]), 1.0 / squared))
    each = np.sqrt((card_u / card) ** 2 + (own / sizes) ** 2 + by_height**2)
    scales[~seen], each[~seen] = np.nan, np.nan
    drawn = np.array(found.sheet.bars_mm)
    together = float(alike[0] @ alike[1] / (each[0] * each[1]))
    return CardScale(
        scale=(_known(scales[0]), _known(scales[1])),
        u=(_known(each[0] * scales[0]), _known(each[1] * scales[1])),
        bars_mm=(_known(drawn[0] * scales[0]), _known(drawn[1] * scales[1])),
        bars_u_mm=(_known(drawn[0] * scales[0] * each[0]), _known(drawn[1] * scales[1] * each[1])),
        correlation=together if seen.all() else None,
        number=number,
        distance_mm=float(plane.lens_mm[2]),
    )


def _known(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def _size_mm(edges: CardEdges, plane: PrintPlane, axis: int, reach_mm: float) -> tuple[float, float, float]:
    """The card's size on the print along one axis with its u, and the relative u of the height of its upper edge; NaN: not seen."""
    if not np.isfinite(edges.u_mm[2 * axis : 2 * axis + 2]).all():
        return np.nan, np.nan, np.nan
    height = plane.lens_mm[2]
    turn = np.array([np.cos(edges.turn_rad), np.sin(edges.turn_rad)])
    along = turn if axis == 0 else np.array([-turn[1], turn[0]])
    lens = float((plane.lens_mm[:2] - edges.centre_mm) @ along)
    size, of_upper = 0.0, 0
    for side in (2 * axis, 2 * axis + 1):
        outward = OUTWARD[side][axis]
        edge = outward * (edges.offsets_mm[side] - reach_mm)
        if outward * (edge - lens) > 0:  # the lens is on the card's side: the upper edge is what ends on the print
            edge = lens + (edge - lens) * (height - UPPER_MM) / height
            of_upper += 1
        size += outward * edge
    u = np.sqrt((edges.u_mm[2 * axis : 2 * axis + 2] ** 2).sum() + (2 * EDGE_U_MM) ** 2 + plane.residual_mm**2 / 2)
    by_height = of_upper / 2 * np.hypot(UPPER_U_MM, LENS_HEIGHT_U * UPPER_MM) / height
    return size, float(u), float(by_height)
