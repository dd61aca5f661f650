"""What a person answers on the page, as typed; checked, it becomes the request of `measure`."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from calib.outcome.errors import InputError
from calib.words.said import Digits, joined, said
from photomeasure.asked.carried import Carried
from photomeasure.asked.case import LONGEST, LONGEST_NOTE
from photomeasure.asked.fields import BY_NAME, CASE, QUESTIONS, open_at
from photomeasure.asked.limits import PICK_U_PX
from photomeasure.asked.question import Door
from photomeasure.asked.request import BALL_DIAMETER_MM, PICK_SIGMA_PX, Request
from photomeasure.asked.requested import check_ground, request_of
from photomeasure.asked.sag import check_sag
from photomeasure.asked.state import Coupling
from photomeasure.asked.stated import USUAL_COUPLING, Stated
from photomeasure.asked.tape_said import TapeSaid
from photomeasure.rules.load import available_rules
from photomeasure.seen.camera_for import profile_folder

Centre = tuple[float, float] | None

_LONGEST = 24  # characters of an answer that anybody would type
_COUPLINGS: Mapping[str, Coupling] = {"ball-50": "ball-50", "other-ball": "ball-50", "pin": "pin"}
_TAPE = ("tape_mm", "tape_class", "tape_to", "tape_flat_mm")


@dataclass(frozen=True, slots=True, kw_only=True)
class Answers:
    """Every field as it was typed, so that a page with a mistake in it can be shown again; empty: not said."""

    coupling: str = "ball-50"
    ball_diameter: str = ""
    rule: str = ""
    coupled: str = ""
    laden: str = ""
    level_ground: str = ""
    level_control: str = ""
    level_within: str = ""
    tag_by_gauge: str = ""
    ball_load: str = ""
    stand_mass: str = ""
    stand_drop: str = ""
    load_drop: str = ""
    bar_x: str = ""
    bar_y: str = ""
    tape: str = ""
    tape_class: str = ""
    tape_to: str = ""
    tape_flat: str = ""
    rig: str = ""
    case: str = ""
    by: str = ""
    place: str = ""
    note: str = ""


FIELDS = tuple(Answers.__dataclass_fields__)
_LONGEST_OF = {
    question.page: LONGEST_NOTE if question.name == "note" else LONGEST
    for question in QUESTIONS
    if question.panel == CASE
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """Checked answers; carried: where the centre was before it was hidden."""

    said: Stated
    carried: Carried | None = None

    def request(
        self,
        photos: tuple[Path, ...],
        centres_px: tuple[Centre, ...],
        pick_u_px: float = PICK_SIGMA_PX,
        *,
        remembered: Path | None = None,
    ) -> Request:
        """The request that the command line makes of the same answers. remembered: where phones and prints are remembered, None
        for the command line's own place."""
        said, folder = replace(self.said, pick_u_px=pick_u_px), remembered or profile_folder()
        return request_of(said, photos, centres_px=centres_px, profile_folder=folder, carried=self.carried)

    @property
    def tape(self) -> TapeSaid | None:
        return self.said.tape


def answers_from(form: Mapping[str, object]) -> Answers:
    """The page's fields out of a form; others are not looked at, files under their names neither."""
    typed = {name: form.get(name) for name in FIELDS}
    return Answers(**{name: text.strip()[: _longest(name)] for name, text in typed.items() if isinstance(text, str)})


def _longest(field: str) -> int:
    return _LONGEST_OF.get(field, _LONGEST)


def checked(answers: Answers) -> tuple[Asked | None, dict[str, InputError]]:
    """The answers as numbers and names, and what is wrong by field; None where anything is."""
    wrong: dict[str, InputError] = {}
    found: dict[str, Any] = {}
    for question in open_at("page"):
        with _told_at(question.page, wrong):
            found[question.name] = _READ.get(question.page, question.typed)(getattr(answers, question.page), "page")
    other_ball = answers.coupling == "other-ball"
    if not other_ball:
        found["ball_diameter_mm"] = None
        wrong.pop("ball_diameter", None)
    elif not answers.ball_diameter.strip():
        wrong["ball_diameter"] = InputError(
            said("The other ball's diameter is missing."),
            expected=said(
                "millimetres, such as {one} (1 7/8 in) or {other} (2 in)", one=Digits("47.55"), other=Digits("50.8")
            ),
            remedy=said("read it off the ball, or choose the 50 mm ball"),
        )
    _check_together(found, wrong)
    if wrong:
        return None, wrong
    # the page shows a 50 mm ball chosen from the start: as long as it is, the sheet may say otherwise
    usual_ball = found["coupling"] == USUAL_COUPLING and found["ball_diameter_mm"] in (None, BALL_DIAMETER_MM)
    if usual_ball:
        found |= {"coupling": None, "ball_diameter_mm": None}
    elif found["ball_diameter_mm"] is None:
        found["ball_diameter_mm"] = BALL_DIAMETER_MM
    return Asked(said=Stated(**_tape_only_whole(found))), {}


def _check_together(found: Mapping[str, Any], wrong: dict[str, InputError]) -> None:
    """Answers that contradict each other, told at the field that came second."""
    known = Stated(**{name: value for name, value in found.items() if name not in _TAPE})
    if not {"stand_mass", "stand_drop"} & wrong.keys():
        with _told_at("stand_drop", wrong):
            check_sag(known.sag)
    if "level_within" not in wrong:
        with _told_at("level_within", wrong):
            check_ground(known, said("the level's reading"), said("“Not sure” about the ground"))


@contextmanager
def _told_at(field: str, wrong: dict[str, InputError]) -> Iterator[None]:
    try:
        yield
    except InputError as error:
        wrong[field] = error


def _tape_only_whole(found: Mapping[str, Any]) -> dict[str, Any]:
    """The flat counts only where the tape was read up to the top of the ball."""
    return {**found, "tape_flat_mm": found["tape_flat_mm"] if found["tape_to"] == "top" else None}


def _coupling(typed: str, door: Door) -> Coupling:
    if typed not in _COUPLINGS:
        raise _no_choice(typed, _COUPLINGS)
    return _COUPLINGS[typed]


def _rule(typed: str, door: Door) -> str | None:
    """A rule of the program: never a file of the machine that serves the page."""
    if typed and typed not in available_rules():
        raise _no_choice(typed, ("", *available_rules()))
    return typed or None


# what the page asks in its own way: one list of couplings and balls, and of the program's rules
_READ: Mapping[str, Callable[[str, Door], Any]] = {"coupling": _coupling, "rule": _rule}


def _no_choice(typed: str, offered: Iterable[str]) -> InputError:
    return InputError(
        said("{typed} is no choice here.", typed=repr(typed)),
        expected=joined(choice or said("nothing") for choice in sorted(offered)),
        remedy=said("choose again on the page"),
    )


def centres_from(form: Mapping[str, object], count: int) -> tuple[tuple[Centre, ...], dict[int, InputError]]:
    """Marked centres, one a photograph: fields x1, y1, x2, ...; () where none is marked. And what is wrong, by the
    photograph's number."""
    wrong: dict[int, InputError] = {}

    def centre(number: int) -> Centre:
        try:
            return _centre(form, number)
        except InputError as error:
            wrong[number] = error
            return None

    centres = tuple(centre(number) for number in range(1, count + 1))
    return (centres if any(centre is not None for centre in centres) else ()), wrong


def tape_from(form: Mapping[str, object]) -> tuple[TapeSaid | None, dict[str, InputError]]:
    """A tape's reading, None where there is none; and what is wrong, by field."""
    wrong: dict[str, InputError] = {}
    found: dict[str, Any] = {}
    for question in (BY_NAME[name] for name in _TAPE):
        typed = form.get(question.page)
        with _told_at(question.page, wrong):
            found[question.name] = question.typed(typed[:_LONGEST] if isinstance(typed, str) else "", "page")
    return (None if wrong else Stated(**_tape_only_whole(found)).tape), wrong


def pick_u_from(form: Mapping[str, object], count: int) -> float:
    """Standard uncertainty of the marks, pixels: of the least sure one, as the page's script works it out; what it does not
    say, or says out of range, counts as a careful mark."""
    found = [PICK_SIGMA_PX]
    for number in range(1, count + 1):
        typed = form.get(f"u{number}")
        try:
            u_px = float(typed[:_LONGEST]) if isinstance(typed, str) else math.nan
        except ValueError:
            continue
        if PICK_U_PX.low <= u_px <= PICK_U_PX.high:
            found.append(u_px)
    return max(found)


def _centre(form: Mapping[str, object], number: int) -> Centre:
    typed = [form.get(f"{axis}{number}") for axis in "xy"]
    texts = [text.strip()[:_LONGEST].replace(",", ".") if isinstance(text, str) else "" for text in typed]
    if not any(texts):
        return None
    try:
        x, y = (float(text) for text in texts)
    except ValueError:
        x = y = math.nan
    if not (math.isfinite(x) and math.isfinite(y)):
        raise InputError(
            said(
                "The mark in photograph {number} is no pair of coordinates: {x} and {y}.",
                number=number,
                x=repr(texts[0]),
                y=repr(texts[1]),
            ),
            expected=said("two numbers, pixels of the picture as a person sees it"),
            remedy=said("tap on the centre in the picture, or type both numbers"),
        )
    return x, y
