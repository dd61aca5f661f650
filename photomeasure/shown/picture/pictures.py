"""The annotated picture: what was measured drawn where it is, the verdict above it, the prompt to confirm below it."""

from __future__ import annotations

import io
from collections.abc import Sequence

import numpy as np
from PIL import Image

from photomeasure.pipeline import Result
from photomeasure.record.schema import Record
from photomeasure.scene.scene import CENTRE
from photomeasure.seen.image import Photo
from photomeasure.seen.look import Refused
from photomeasure.shown.picture.caption import foot, head
from photomeasure.shown.picture.geometry import Eye, Heights, marks
from photomeasure.shown.picture.ink import Ink
from photomeasure.shown.picture.labelled import Label
from photomeasure.shown.picture.labels import draw_labels, lay_out
from photomeasure.shown.picture.marks import draw_marks
from photomeasure.shown.picture.refusal import draw_refusal
from photomeasure.shown.picture.sheets import corners_px, sheet_outlines_px
from photomeasure.shown.picture.window import choose, cut
from photomeasure.solution.geometry import solved_camera

QUALITY = 88


def pictures(record: Record, outcome: Result | Refused) -> list[tuple[str, bytes]]:
    """JPEG name and bytes, one a photograph that could be decoded: `<photo's stem>-height.jpg`."""
    photos = _photos(outcome)
    finished = []
    for number, (photo, name) in enumerate(zip(photos, _names(photos), strict=True)):
        drawing = _measured(record, outcome, number) if isinstance(outcome, Result) else draw_refusal(outcome, photo)
        finished.append((name, _jpeg(*_framed(record, drawing, photo, number))))
    return finished


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


def _measured(record: Record, result: Result, number: int) -> Image.Image:
    """One photograph of a measurement: the part that matters, with marks and labels."""
    view = result.views[number]
    drawn = marks(eye_of(result, number), heights_of(record, result, number))
    points, sheets = corners_px(view), sheet_outlines_px(view.finding)
    shown = _as_before(record) if view.before else record
    window = choose(view.photo.size_px, np.concatenate([drawn.interest_px(), *sheets, points]))
    ink = Ink(window.size)
    draw_marks(ink, drawn, window, points)
    draw_labels(ink, shown, lay_out(shown, drawn, window, sheets))
    return ink.onto(Image.fromarray(cut(view.photo, window)))


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


def _framed(record: Record, drawing: Image.Image, photo: Photo, number: int) -> tuple[Image.Image, Label]:
    """The drawing between its two strips, and what is kept of it."""
    width, count = drawing.width, len(record.photos)
    parts = (head(record, width), drawing, foot(record, photo.path.name, number + 1, count, width))
    whole = Image.new("RGB", (width, sum(part.height for part in parts)))
    top = 0
    for part in parts:
        whole.paste(part, (0, top))
        top += part.height
    box = (0, parts[0].height, width, parts[0].height + drawing.height)
    return whole, Label(photo=photo.sha256, height_mm=record.height_mm, box=box)


def _jpeg(picture: Image.Image, label: Label) -> bytes:
    stream = io.BytesIO()
    picture.save(stream, "JPEG", quality=QUALITY, comment=label.text())
    return stream.getvalue()
