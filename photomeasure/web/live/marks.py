"""Marks as a script of the page sends them."""

from __future__ import annotations

import json
import math
from typing import Any

from calib.words.said import said
from photomeasure.asked.limits import PICK_U_PX
from photomeasure.asked.request import PICK_SIGMA_PX
from photomeasure.pipeline import Marks
from photomeasure.web.problems import PageError


def marks_from(body: bytes, count: int) -> Marks | None:
    """`[[x, y, u], null, ...]`, one a photograph: pixels as the fields of the page have them, and the standard uncertainty of the
    mark, 0 where the page does not say it. None where nothing is marked. Raises PageError."""
    try:
        sent: Any = json.loads(body)
        if not isinstance(sent, list) or len(sent) != count:
            raise ValueError
        marks = [None if one is None else _mark(one) for one in sent]
    except (ValueError, TypeError, RecursionError, OverflowError) as error:
        raise PageError(
            400,
            said("The marks cannot be read."),
            expected=said("for each photograph two coordinates and how sure they are, or nothing"),
            remedy=said("load the page anew"),
        ) from error
    made = [mark for mark in marks if mark is not None]
    if not made:
        return None
    return Marks(
        centres_px=tuple(None if mark is None else mark[:2] for mark in marks),
        sigma_px=max(mark[2] for mark in made),
    )


def _mark(sent: Any) -> tuple[float, float, float]:
    x, y, u = sent
    if not all(isinstance(value, int | float) and math.isfinite(value) for value in (x, y, u)):
        raise ValueError
    known = PICK_U_PX.low <= u <= PICK_U_PX.high
    return float(x), float(y), max(float(u), PICK_SIGMA_PX) if known else PICK_SIGMA_PX
