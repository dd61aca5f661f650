"""The annotated picture: what was measured drawn where it is, the verdict above it, the prompt to confirm below it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

import numpy as np
from PIL import Image

from photomeasure.pipeline import Result
from photomeasure.record.schema import Record
from photomeasure.scene.scene import CENTRE
from photomeasure.seen.beside import beside
from photomeasure.seen.image import Photo
from photomeasure.seen.look import Refused
from photomeasure.shown.picture.framed import framed, jpeg
from photomeasure.shown.picture.geometry import Eye, Heights, marks
from photomeasure.shown.picture.ink import Ink
from photomeasure.shown.picture.labelled import Label
from photomeasure.shown.picture.labels import draw_labels, lay_out
from photomeasure.shown.picture.marks import draw_marks
from photomeasure.shown.picture.overview import overview, seen_at
from photomeasure.shown.picture.refusal import draw_refusal
from photomeasure.shown.picture.sheets import corners_px, sheet_outlines_px
from photomeasure.shown.picture.window import Colours, Window, choose, colours_for, cut
from photomeasure.solution.geometry import solved_camera

QUALITY = 88
Picture = tuple[str, bytes]


def pictures(record: Record, outcome: Result | Refused) -> list[Picture]:
    """JPEG name and bytes, one a photograph that could be decoded: `<photo's stem>-height.jpg`."""
    photos = _photos(outcome)
    drawn = []
    for number, (photo, name) in enumerate(zip(photos, _names(photos), strict=True)):
        window, ink = _shown(record, outcome, number)
        drawn.append((name, _drawn(record, photo, number, window, ink, colours_for(photo, window))))
    return drawn


def pictures_and_overviews(
    record: Record, outcome: Result | Refused, meanwhile: Callable[[], object]
) -> tuple[list[Picture], list[bytes]]:
    """The same, and the overviews of the same photographs: their colours are decoded once for both.

    meanwhile: other work, done once, beside the first photograph's decoding.
    """
    photos = _photos(outcome)
    drawn, overviews = [], []
    for number, (photo, name) in enumerate(zip(photos, _names(photos), strict=True)):
        window, ink = _shown(record, outcome, number)
        with beside(partial(colours_for, photo, window)) as decoded:
            if number == 0:
                meanwhile()
            colours = decoded()
        drawn.append((name, _drawn(record, photo, number, window, ink, colours)))
        overviews.append(overview(photo, seen_at(record, number), colours))
    return drawn, overviews


def _shown(record: Record, outcome: Result | Refused, number: int) -> tuple[Window, Ink]:
    """The part of a photograph that is shown, and what is drawn over it."""
    if isinstance(outcome, Refused):
        return draw_refusal(outcome, outcome.photos[number])
    return _measured(record, outcome, number)


def _drawn(record: Record, photo: Photo, number: int, window: Window, ink: Ink, colours: Colours) -> bytes:
    """The JPEG of one photograph."""
    part = Image.fromarray(cut(photo, window, colours))
    whole, box = framed(record, part, ink, photo.path.name, number + 1, len(record.photos))
    return jpeg(whole, Label(photo=photo.sha256, height_mm=record.height_mm, box=box), QUALITY)


def picture_names(outcome: Result | Refused) -> list[str]:
    """The names alone, before anything is drawn."""
    return _names(_photos(outcome))


def _photos(outcome: Result | Refused) -> list[Photo]:
    return [view.photo for view in outcome.views] if isinstance(outcome, Result) else list(outcome.photos)


def _names(photos: Sequence[Photo]) -> list[str]:
    """One name each, also where photographs of different folders or formats share a stem."""
    names: list[str] = []
    for photo in photos:
        name, copy = f"{photo.path.stem}-height.jpg", 1
        while name in names:
            copy += 1
            name = f"{photo.path.stem}-{copy}-height.jpg"
        names.append(name)
    return names


def _measured(record: Record, result: Result, number: int) -> tuple[Window, Ink]:
    """One photograph of a measurement: the part that matters, and its marks and labels."""
    view = result.views[number]
    drawn = marks(eye_of(result, number), heights_of(record, result, number))
    points, sheets = corners_px(view), sheet_outlines_px(view.finding)
    shown = _as_before(record) if view.before else record
    window = choose(view.photo.size_px, np.concatenate([drawn.interest_px(), *sheets, points]))
    ink = Ink(window.size)
    draw_marks(ink, drawn, window, points)
    draw_labels(ink, shown, lay_out(shown, drawn, window, sheets))
    return window, ink


def _as_before(record: Record) -> Record:
    """The record with the height of before, for the labels in a photograph from then."""
    then = record.before
    if then is None:
        return record
    interval = (then.height_mm - 2.0 * then.u_mm, then.height_mm + 2.0 * then.u_mm)
    figures = {"height_mm": then.height_mm, "u_mm": then.u_mm, "U_mm": 2.0 * then.u_mm, "interval_mm": interval}
    return record.model_copy(update={**figures, "rule": None})


def eye_of(result: Result, number: int) -> Eye:
    """The solved camera of one photograph."""
    camera = solved_camera(result.estimate, number)
    return Eye(
        intrinsics=camera.intrinsics,
        cam_from_world=camera.cam_from_world,
        world_in_cam_mm=camera.world_in_cam_mm,
        size_px=result.views[number].photo.size_px,
    )


def heights_of(record: Record, result: Result, number: int = 0) -> Heights:
    """What there is to show in a photograph, in the world; the height counts from the estimated ground under the centre."""
    solved, rule = result.estimate, record.rule
    then = result.views[number].before
    centre = np.array([solved.value(name) for name in solved.scene.names(CENTRE, before=then)])
    if then and record.before is not None:
        low, high = (record.before.height_mm + sign * 2.0 * record.before.u_mm for sign in (-1.0, 1.0))
        return Heights(
            centre_mm=centre,
            base_z_mm=float(centre[2]) - record.before.height_mm,
            interval_mm=(low, high),
            band_mm=None,
            foot_y_mm=0.0 if any(plane.plane == "upright" for plane in solved.scene.planes) else None,
        )
    band = None if rule is None else (rule.low_mm, rule.high_mm)
    return Heights(
        centre_mm=centre,
        base_z_mm=float(centre[2]) - solved.height_mm,
        interval_mm=record.interval_mm or (solved.height_mm, solved.height_mm),
        band_mm=None if band == (None, None) else band,
        foot_y_mm=0.0 if any(plane.plane == "upright" for plane in solved.scene.planes) else None,
    )
