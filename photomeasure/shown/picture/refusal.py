"""The picture of a refusal: what was seen before it stopped, and what a person needs to go on."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from calib.finding.codes import find_codes
from calib.finding.sheets import shrink
from photomeasure.seen.image import Photo
from photomeasure.seen.look import Refused
from photomeasure.shown.picture.ink import BAND, PLATE, RULE, WHITE, Array, Ink, font, text_size
from photomeasure.shown.picture.placing import FORBIDDEN, Obstacle, box_around, place
from photomeasure.shown.picture.ruler import draw_rulers
from photomeasure.shown.picture.sheets import corners_px, sheet_outlines_px
from photomeasure.shown.picture.window import Window, choose

RULED = frozenset({"no-centre", "centre-outside", "ball-not-found", "ball-ambiguous", "photos-contradict"})
MOST_CANDIDATES = 6
_CODES_LONG_SIDE_PX = 1600


def draw_refusal(refused: Refused, photo: Photo) -> tuple[Window, Ink]:
    """The part that is shown, and over it sheets and corners that were measured, else the codes that can be read; candidates with letters.

    Where the person is asked to mark the centre, rulers tell pixel coordinates.
    """
    view = next((view for view in refused.views if view.photo is photo), None)
    sheets = [] if view is None else sheet_outlines_px(view.finding)
    quads = sheets or _codes_px(photo)
    here = next((some for of, some in zip(refused.photos, refused.candidates_px, strict=False) if of is photo), ())
    candidates = [np.asarray(px, dtype=np.float64) for px in here]
    interest = [np.empty((0, 2)), *sheets, *(above(sheet) for sheet in sheets), *(px[None] for px in candidates)]
    window = choose(photo.size_px, np.concatenate(interest))
    ink, em = Ink(window.size), window.size[0] / 100
    for quad in quads:
        ink.line(window.at(np.concatenate([quad, quad[:1]])), 0.3 * em, BAND, halo=0.6)
    for px in np.empty((0, 2)) if view is None else window.at(corners_px(view)):
        ink.dot(px, 0.18 * em, BAND)
    if refused.refusal.code in RULED or candidates:
        draw_rulers(ink, window)
    _draw_candidates(ink, window, candidates[:MOST_CANDIDATES])
    return window, ink


def above(sheet_px: Array) -> Array:
    """(4, 2) a board as large again on top of a sheet's: where the coupling is likely to be."""
    top_left, top_right, bottom_right, bottom_left = sheet_px
    return np.array([top_left, top_right, 2 * top_right - bottom_right, 2 * top_left - bottom_left])


def _codes_px(photo: Photo) -> list[Array]:
    """(4, 2) codes that can be read where no whole sheet was measured."""
    small, back = shrink(photo.grey, _CODES_LONG_SIDE_PX)
    return [(code.corners_px + 0.5) * back - 0.5 for code in find_codes(small)]


def _draw_candidates(ink: Ink, window: Window, candidates_px: Sequence[Array]) -> None:
    """Each possible centre ringed, with a letter and its pixel coordinates in a place that covers none of them."""
    em = ink.size[0] / 100
    letter, small, ring = font(4.2 * em, bold=True), font(2.4 * em), 3.0 * em
    centres = [window.at(px) for px in candidates_px]
    taken = [Obstacle(box=box_around(centre[None], ring + 0.4 * em), cost=FORBIDDEN) for centre in centres]
    room = (9.0 * em, 5.5 * em, ink.size[0] - em, ink.size[1] - em)  # off the rulers
    for i, (px, centre) in enumerate(zip(candidates_px, centres, strict=True)):
        ink.ring(centre, ring, 0.35 * em, RULE)
        where = f"{px[0]:.0f},{px[1]:.0f}"
        size = (text_size(where, small)[0] + 2.0 * em, 8.6 * em)
        box = place(size, centre + np.array([7.0, -7.0]) * em, room, taken)
        if box is None:
            continue
        taken.append(Obstacle(box=box, cost=FORBIDDEN))
        ink.plate(box, PLATE, outline=RULE, radius=1.0 * em)
        middle = (box[0] + box[2]) / 2
        ink.text((middle, box[1] + 3.1 * em), chr(ord("A") + i), letter, RULE, anchor="mm")
        ink.text((middle, box[1] + 6.7 * em), where, small, WHITE, anchor="mm")
