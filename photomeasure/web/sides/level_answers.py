"""What a person answers about a trailer's level: four touches in one photograph, which end is the front, what is allowed."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from calib.outcome.errors import InputError
from calib.words.said import said
from photomeasure.asked.level import Allowed, LevelRequest, NoseSide, Pixel
from photomeasure.web.answers import Asked, centres_from, pick_u_from

Line = Literal["ground", "rail"]
# number of the touch in the form, line, what is touched: the order in which they are asked
TOUCHES: tuple[tuple[int, Line, str], ...] = (
    (1, "ground", said("On the ground, at the front: where a tyre or the jockey wheel touches it")),
    (2, "ground", said("On the ground, at the rear: where the rearmost tyre touches it")),
    (3, "rail", said("On the chassis rail or floor line, near the front")),
    (4, "rail", said("On the same edge of it, near the rear")),
)
_MOST_DEG, _LONGEST = 10.0, 12


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelTyped:
    """As typed, so that a page with a slip in it can be shown again."""

    touches: Mapping[int, tuple[str, str]]
    nose: str = ""
    nose_down: str = ""


def level_typed(form: Mapping[str, object]) -> LevelTyped:
    """The fields as they were typed."""

    def text(name: str) -> str:
        value = form.get(name)
        return value.strip()[:_LONGEST] if isinstance(value, str) else ""

    touches = {number: (text(f"x{number}"), text(f"y{number}")) for number, _, _ in TOUCHES}
    return LevelTyped(touches=touches, nose=text("nose"), nose_down=text("nose_down"))


def level_request(
    form: Mapping[str, object], asked: Asked, photo: Path, remembered: Path | None = None
) -> tuple[LevelRequest | None, dict[int | str, InputError]]:
    """The request that the command line makes of the same touches; None where anything is wrong, by touch or field."""
    marks, found = centres_from(form, len(TOUCHES))
    wrong: dict[int | str, InputError] = dict(found.items())
    for number, _, what in TOUCHES:
        if number not in wrong and (not marks or marks[number - 1] is None):
            wrong[number] = InputError(
                said("There is no mark yet: {where}.", where=what),
                expected=said("a mark in each of the four pictures"),
                remedy=said("tap on that place, or type both numbers"),
            )
    typed = level_typed(form)
    allowed = _allowed(typed.nose_down, wrong)
    if wrong:
        return None, wrong
    points: dict[Line, tuple[Pixel, ...]] = {
        line: tuple(mark for (_, of, _), mark in zip(TOUCHES, marks, strict=True) if of == line and mark is not None)
        for line in ("ground", "rail")
    }
    nose: NoseSide = (
        "left" if points["rail"][0][0] < points["rail"][1][0] else "right"
    )  # the third touch is at the front
    return (
        LevelRequest(
            request=asked.request((photo,), (), remembered=remembered),
            ground_px=points["ground"],
            rail_px=points["rail"],
            pick_u_px=max(1.0, pick_u_from(form, len(TOUCHES))),
            nose=nose,
            allowed=allowed,
        ),
        {},
    )


def _allowed(typed: str, wrong: dict[int | str, InputError]) -> Allowed | None:
    if not typed:
        return None
    try:
        degrees = float(typed.replace(",", "."))
    except ValueError:
        degrees = math.nan
    if not 0.0 <= degrees <= _MOST_DEG:
        wrong["nose_down"] = InputError(
            said("The nose-down limit {typed} is no number of degrees.", typed=repr(typed)),
            expected=said("0 to {most_deg:g} degrees, or nothing", most_deg=_MOST_DEG),
            remedy=said("type what the setup or the maker allows, or leave it empty"),
        )
        return None
    return Allowed(nose_up_deg=0.0, nose_down_deg=degrees, source=said("as typed"))
