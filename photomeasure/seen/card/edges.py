"""The card's four edges on the print: where bright plastic ends on black cells, to a few hundredths of a millimetre.

Only black is looked at beside the card: a shadow of the card's edge does not show there, and the step is the same all round.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calib.finding.box_looks import sampled
from calib.kit.sheet import Sheet
from photomeasure.seen.card.place import CARD_IN_PRINT_MM, CardPlace, dark_raster
from photomeasure.seen.card.plane import Array, PrintPlane

RASTER_PX_PER_MM = 4.0
STEP_MM = 0.5  # between two profiles along an edge
CORNER_MM = 7.0  # rounded corners (2.88-3.48 mm, ISO/IEC 7810) and the rough place's own error
REACHES_MM = (3.0, 1.5, 1.0)  # how far from where an edge is believed it is looked for, pass by pass
BESIDE_MM = 1.4  # black beyond the edge
FINE_MM = 0.04
LEAST_STEP = 0.12  # of light, 1 is white as the file has it
LEAST_PROFILES, LEAST_SPREAD_MM = 10, 20.0  # of each side; of at least one, which tells the turn
CLIPPED_GREY = 254.0
TONE = 2.2  # of a file's grey over light, about
Side = tuple[float, float]  # outward direction in the card's own axes


@dataclass(frozen=True, slots=True, kw_only=True)
class CardEdges:
    """centre_mm (2,), turn_rad of the long side against the page's x, or of the short one where the long one lies along y.

    offsets_mm: (4,) from the centre to right, left, top, bottom edge in the turned axes; u_mm: (4,) by their own scatter,
    NaN where an edge is not seen;
    clipped: share of the card's profiles whose bright side is burnt out.
    """

    centre_mm: Array
    turn_rad: float
    offsets_mm: Array
    u_mm: Array
    clipped: float


OUTWARD: tuple[Side, ...] = ((1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0))


def card_edges(grey: NDArray[np.uint8], plane: PrintPlane, sheet: Sheet, place: CardPlace) -> CardEdges | None:
    """None where no two opposite edges show on enough black."""
    wide, high = CARD_IN_PRINT_MM if place.long_is_x else CARD_IN_PRINT_MM[::-1]
    dark = dark_raster(sheet, RASTER_PX_PER_MM)
    centre, turn = np.array(place.centre_mm), place.turn_rad
    offsets = np.array([wide / 2, wide / 2, high / 2, high / 2])
    found: CardEdges | None = None
    for reach in REACHES_MM:
        points = [_side(grey, plane, sheet, dark, centre, turn, offsets, side, reach) for side in range(len(OUTWARD))]
        points = [side if len(side[0]) >= LEAST_PROFILES else _NOTHING for side in points]
        enough = np.array([len(along) > 0 for along, _, _ in points])
        if not (enough[:2].all() or enough[2:].all()):
            return None
        if max(float(np.ptp(along)) for along, _, _ in points if len(along)) < LEAST_SPREAD_MM:
            return None
        turn_by, moved, u_mm = _fitted(points)
        offsets = offsets + moved
        found = CardEdges(
            centre_mm=centre,
            turn_rad=turn + turn_by,
            offsets_mm=offsets.copy(),
            u_mm=u_mm,
            clipped=float(np.mean(np.concatenate([burnt for _, _, burnt in points]))),
        )
        turn = turn + turn_by
        shift = np.array([offsets[0] - offsets[1], offsets[2] - offsets[3]]) / 2
        axes = _axes(turn)
        centre = centre + shift[0] * axes[0] + shift[1] * axes[1]
        offsets = np.array([offsets[:2].mean()] * 2 + [offsets[2:].mean()] * 2)
    return found


_NOTHING = (np.empty(0), np.empty(0), np.empty(0, dtype=bool))


def _axes(turn: float) -> Array:
    return np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])


def _side(
    grey: NDArray[np.uint8],
    plane: PrintPlane,
    sheet: Sheet,
    dark: NDArray[np.float32],
    centre: Array,
    turn: float,
    offsets: Array,
    side: int,
    reach_mm: float,
) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Along the side from its middle, the edge's distance beyond its offset, and whether the card is burnt out there."""
    axes = _axes(turn)
    ahead = OUTWARD[side][0] * axes[0] + OUTWARD[side][1] * axes[1]
    aside = np.array([-ahead[1], ahead[0]])
    half = offsets[2:].mean() if side < 2 else offsets[:2].mean()
    along = np.arange(-half + CORNER_MM, half - CORNER_MM, STEP_MM)
    across = np.arange(-reach_mm, reach_mm + BESIDE_MM, FINE_MM)
    start = centre + offsets[side] * ahead
    page = start + along[:, None, None] * aside + across[None, :, None] * ahead  # (P, S, 2)
    v = np.clip(((sheet.height_mm - page[..., 1]) * RASTER_PX_PER_MM).astype(int), 0, dark.shape[0] - 1)
    u = np.clip((page[..., 0] * RASTER_PX_PER_MM).astype(int), 0, dark.shape[1] - 1)
    black = dark[v, u] > 0.5
    on_black = black[:, across > -0.75 * reach_mm].all(axis=1)
    crossing, burnt = steps_down(grey, plane, page, across, 0.5 * reach_mm)
    good = on_black & np.isfinite(crossing)
    return along[good], crossing[good], burnt[good]


def steps_down(
    grey: NDArray[np.uint8], plane: PrintPlane, page: Array, across: Array, away_mm: float
) -> tuple[Array, NDArray[np.bool_]]:
    """Where light falls to half between bright and black along profiles (P, S, 2) of page mm, at `across` (S,); NaN where not.

    Half of the light, not of the grey: a file's tone curve moves the middle of a grey edge into the black. away_mm: beyond
    that from 0 lies bright on one side and black on the other. The second array: burnt out on the bright side.
    """
    px = plane.px(page.reshape(-1, 2)).astype(np.float32).reshape(*page.shape)
    shown = sampled(grey, px).astype(np.float64)
    light = (shown / 255.0) ** TONE
    bright, black = np.median(light[:, across < -away_mm], axis=1), np.median(light[:, across > away_mm], axis=1)
    height, width = grey.shape
    low, high = px.min(axis=(1, 2)), px.max(axis=1)
    usable = (low > 1) & (high[:, 0] < width - 2) & (high[:, 1] < height - 2) & (bright - black > LEAST_STEP)
    level = (bright + black) / 2
    over = light >= level[:, None]
    last = np.minimum(over.shape[1] - 1 - np.argmax(over[:, ::-1], axis=1), over.shape[1] - 2)  # from the black inwards
    row = np.arange(len(last))
    high_light, low_light = light[row, last], light[row, last + 1]
    usable &= over.any(axis=1) & (high_light >= level) & (low_light < level)
    share = (high_light - level) / np.maximum(high_light - low_light, 1e-9)
    crossing = np.where(usable, across[last] + share * FINE_MM, np.nan)
    return crossing, np.median(shown[:, across < -away_mm], axis=1) >= CLIPPED_GREY


def printed_edge_mm(grey: NDArray[np.uint8], plane: PrintPlane, sheet: Sheet) -> float:
    """How far the sheet's own white seems to reach into its black cells, mm, the middle of all that are seen."""
    half = sheet.cell_mm / 2
    along, across = np.arange(-half + 4.0, half - 4.0, STEP_MM), np.arange(-1.5, 1.5, FINE_MM)
    seen = []
    for left, bottom, right, top in sheet.dark_mm:
        middle = np.array([left + right, bottom + top]) / 2
        for ahead in np.array(OUTWARD):
            aside = np.array([-ahead[1], ahead[0]])
            page = middle - half * ahead + along[:, None, None] * aside + across[None, :, None] * ahead
            crossing, _ = steps_down(grey, plane, page, across, 0.75)
            if np.isfinite(crossing).mean() > 0.9:
                seen.append(float(np.nanmedian(crossing)))
    return float(np.median(seen)) if seen else 0.0


def _fitted(points: list[tuple[Array, Array, NDArray[np.bool_]]]) -> tuple[float, Array, Array]:
    """One small turn (counter-clockwise) and four shifts by weighted least squares; u of the shifts from the scatter of neighbouring profiles."""
    rows, values, of = [], [], []
    for side, (along, away, _) in enumerate(points):
        column = np.zeros((len(along), 5))
        column[:, side], column[:, 4] = 1.0, along
        rows.append(column)
        values.append(away)
        of.append(np.full(len(along), side))
    design, value, which = np.concatenate(rows), np.concatenate(values), np.concatenate(of)
    weight = np.ones(len(value))
    x = np.zeros(5)
    for _ in range(8):
        x = np.asarray(np.linalg.lstsq(design * weight[:, None], value * weight, rcond=None)[0], dtype=np.float64)
        residual = value - design @ x
        spread = max(1.4826 * float(np.median(np.abs(residual))), 0.005)
        weight = np.sqrt(np.minimum(1.0, 1.5 * spread / np.maximum(np.abs(residual), 1e-9)))
        weight[np.abs(residual) > 5 * spread] = 0.0
    residual = value - design @ x
    u = np.array(
        [
            np.sqrt(np.average(residual[which == side] ** 2, weights=weight[which == side] ** 2 + 1e-12))
            / np.sqrt(max(1.0, (which == side).sum() * STEP_MM / CELL_MM))
            if (which == side).any()
            else np.nan
            for side in range(4)
        ]
    )
    return -float(np.arctan(x[4])), x[:4], u


CELL_MM = 5.0  # profiles nearer to each other than this share their errors
