"""One measurement for the page: the same call as the command line's, and all that is shown of it afterwards.

Uploads lie under names of the program's own. What people read (record, annotated picture, report) names the
photographs as the person's own files; those names are text here, never a path that is opened.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from calib.frozen import dataclass
from photomeasure.asked.request import Request
from photomeasure.pipeline import Result, Standing, stand
from photomeasure.record.measure_and_record import recorded
from photomeasure.record.schema import Record
from photomeasure.seen.image import Photo
from photomeasure.seen.look import Refused, View
from photomeasure.shown.picture.pictures import picture_names, pictures
from photomeasure.shown.picture.refusal import MOST_CANDIDATES, above
from photomeasure.shown.picture.sheets import sheet_outlines_px
from photomeasure.web.answers import Asked
from photomeasure.web.asking import Ask, asks
from photomeasure.web.live.slim import slim

Box = tuple[float, float, float, float]
Picture = tuple[str, bytes]


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """names: of the picture that is drawn of each photograph that could be decoded; pictures: those with their JPEGs, none as
    long as they are not drawn, which is after the figure is known.

    asks: what could be the ball, to be answered with yes or no.
    candidates_px, interest_px: of each photograph, what could be the centre, and the (left, top, right, bottom) in
    which the rig is to be looked for; () and None where nothing is known.
    """

    record: Record
    names: tuple[str, ...]
    candidates_px: tuple[tuple[tuple[float, float], ...], ...]
    interest_px: tuple[Box | None, ...]
    pictures: tuple[Picture, ...] = ()
    asks: tuple[Ask, ...] = ()
    standing: Standing | None = None  # without its pictures: for marks that are dragged


def measured(request: Request, asked: Asked, names: Mapping[Path, str]) -> Measured:
    """Measure, and draw. asked: whose tape is kept beside it. names: of each stored photograph the person's own name for it. Raises
    InputError."""
    figure, draw = figured(request, asked, names)
    return replace(figure, pictures=draw())


def figured(
    request: Request, asked: Asked, names: Mapping[Path, str]
) -> tuple[Measured, Callable[[], tuple[Picture, ...]]]:
    """The same in two steps: what was measured, and a function that draws it. Raises InputError."""
    standing = stand(request)
    outcome, record = recorded(request, tape=asked.tape, standing=standing)
    told = _record_named(record, names)
    candidates = outcome.candidates_px if isinstance(outcome, Refused) else ()
    count = len(request.photos)
    named = _outcome_named(outcome, names)
    figure = Measured(
        record=told,
        names=tuple(picture_names(named)),
        candidates_px=tuple(
            tuple((float(x), float(y)) for x, y in (candidates[i] if i < len(candidates) else ())[:MOST_CANDIDATES])
            for i in range(count)
        ),
        standing=slim(standing, names) if isinstance(standing, Standing) else None,
        asks=asks(outcome) if isinstance(outcome, Refused) else (),
        interest_px=tuple(_interest(outcome.views[i]) if i < len(outcome.views) else None for i in range(count)),
    )
    return figure, lambda: tuple(pictures(told, named))


def stood(request: Request, names: Mapping[Path, str]) -> Standing | Refused:
    """What the pictures show, without them: for marks in photographs that have not been measured since the start."""
    standing = stand(request)
    return _refused_named(standing, names) if isinstance(standing, Refused) else slim(standing, names)


def _refused_named(refused: Refused, names: Mapping[Path, str]) -> Refused:
    reason = refused.refusal.reason
    for path, name in names.items():
        reason = reason.replace(path.name, name)
    return Refused(request=refused.request, refusal=replace(refused.refusal, reason=reason))


def _interest(view: View) -> Box | None:
    """The sheets, and as much again above them."""
    outlines = sheet_outlines_px(view.finding)
    if not outlines:
        return None
    points = np.concatenate([*outlines, *(above(outline) for outline in outlines)])
    (left, top), (right, bottom) = points.min(axis=0), points.max(axis=0)
    width, height = view.photo.size_px
    return max(float(left), 0.0), max(float(top), 0.0), min(float(right), width - 1.0), min(float(bottom), height - 1.0)


def _record_named(record: Record, names: Mapping[Path, str]) -> Record:
    """The record with the person's names wherever a stored file is named, in sentences too."""

    by_stored = {stored: name for path, name in names.items() for stored in (str(path), path.name)}
    # all of them in one pass: what one photograph is called may be the name under which another is stored
    stored = re.compile("|".join(rf"\b{re.escape(path.name)}\b|{re.escape(str(path))}\b" for path in names))

    def told(value: Any) -> Any:
        if isinstance(value, str):
            return stored.sub(lambda found: by_stored[found[0]], value)
        if isinstance(value, list):
            return [told(item) for item in value]
        return {key: told(item) for key, item in value.items()} if isinstance(value, dict) else value

    written = record.model_dump(by_alias=True, mode="json")
    # what holds no file names is not to be touched: a rig may be called as a file of ours is
    kept = {part: written.pop(part) for part in ("asked", "software", "rig")}
    return Record.model_validate({**told(written), **kept})


def _outcome_named(outcome: Result | Refused, names: Mapping[Path, str]) -> Result | Refused:
    """The outcome whose photographs go by the person's names; one photograph stays one object."""
    photos = [view.photo for view in outcome.views] + (list(outcome.photos) if isinstance(outcome, Refused) else [])
    told: dict[int, Photo] = {id(photo): replace(photo, path=Path(names[photo.path])) for photo in photos}
    views = tuple(replace(view, photo=told[id(view.photo)]) for view in outcome.views)
    if isinstance(outcome, Refused):
        return replace(outcome, views=views, photos=tuple(told[id(photo)] for photo in outcome.photos))
    return replace(outcome, views=views)
