"""One measurement for the page: the same call as the command line's, and all that is shown of it afterwards.

Uploads lie under names of the program's own. What people read (record, annotated picture, report) names the
photographs as the person's own files; those names are text here, never a path that is opened.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from photomeasure.asked.request import Request
from photomeasure.pipeline import Standing, stand
from photomeasure.record.measure_and_record import recorded
from photomeasure.record.schema import Record
from photomeasure.seen.look import Refused, View
from photomeasure.shown.picture.pictures import picture_names, pictures
from photomeasure.shown.picture.refusal import MOST_CANDIDATES, above
from photomeasure.shown.picture.sheets import sheet_outlines_px
from photomeasure.web.answers import Asked
from photomeasure.web.asking import Ask, asks
from photomeasure.web.called import called
from photomeasure.web.live.slim import slim

Box = tuple[float, float, float, float]
Picture = tuple[str, bytes]
Stored = Iterable[tuple[Path, str]]


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


def measured(request: Request, asked: Asked, stored: Stored) -> Measured:
    """Measure, and draw. asked: whose tape is kept beside it. request: whose photographs go by the person's names; stored: where
    each is, and its name. Raises InputError."""
    figure, draw = figured(request, asked, stored)
    return replace(figure, pictures=draw())


def figured(request: Request, asked: Asked, stored: Stored) -> tuple[Measured, Callable[[], tuple[Picture, ...]]]:
    """The same in two steps: what was measured, and a function that draws it. Raises InputError."""
    with called(stored):
        standing = stand(request)
        outcome, record = recorded(request, tape=asked.tape, standing=standing)
    candidates = outcome.candidates_px if isinstance(outcome, Refused) else ()
    count = len(request.photos)
    figure = Measured(
        record=record,
        names=tuple(picture_names(outcome)),
        candidates_px=tuple(
            tuple((float(x), float(y)) for x, y in (candidates[i] if i < len(candidates) else ())[:MOST_CANDIDATES])
            for i in range(count)
        ),
        standing=slim(standing) if isinstance(standing, Standing) else None,
        asks=asks(outcome) if isinstance(outcome, Refused) else (),
        interest_px=tuple(_interest(outcome.views[i]) if i < len(outcome.views) else None for i in range(count)),
    )
    return figure, lambda: tuple(pictures(record, outcome))


def stood(request: Request, stored: Stored) -> Standing | Refused:
    """What the pictures show, without them: for marks in photographs that have not been measured since the start."""
    with called(stored):
        standing = stand(request)
    return standing if isinstance(standing, Refused) else slim(standing)


def _interest(view: View) -> Box | None:
    """The sheets, and as much again above them."""
    outlines = sheet_outlines_px(view.finding)
    if not outlines:
        return None
    points = np.concatenate([*outlines, *(above(outline) for outline in outlines)])
    (left, top), (right, bottom) = points.min(axis=0), points.max(axis=0)
    width, height = view.photo.size_px
    return max(float(left), 0.0), max(float(top), 0.0), min(float(right), width - 1.0), min(float(bottom), height - 1.0)
