"""What a person answers on the page, as typed; checked, it becomes the request of `measure`."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, TypeVar, get_args

from calib.outcome.errors import InputError
from photomeasure.asked import limits
from photomeasure.asked.bars import Bars
from photomeasure.asked.case import LONGEST, LONGEST_NOTE, Case, case_text
from photomeasure.asked.facts import unsaid
from photomeasure.asked.limits import BALL_DIAMETER_MM as BALL_LIMIT
from photomeasure.asked.limits import BAR_MM, FLAT_MM, PICK_U_PX, SLOPE_MM_PER_M, TAPE_MM, Limit, check_level
from photomeasure.asked.request import BALL_DIAMETER_MM, PICK_SIGMA_PX, Request
from photomeasure.asked.sag import Sag, check_sag
from photomeasure.asked.state import State
from photomeasure.asked.tape_said import TapeClass, TapeSaid, TapeTo, tape_class_from, tape_to_from
from photomeasure.asked.typed import number_typed
from photomeasure.rules.load import available_rules, default_rule, load_rule
from photomeasure.seen.camera_for import profile_folder

T = TypeVar("T")
Centre = tuple[float, float] | None
Coupling = Literal["ball-50", "other-ball", "pin"]

_LONGEST = 24  # characters of an answer that anybody would type
CASE_FIELDS: Mapping[str, str] = {
    "rig": "The rig",
    "case": "The case",
    "by": "Who measures",
    "place": "The place",
    "note": "The note",
}
_TRUTHS: Mapping[str, bool | None] = {"": None, "yes": True, "no": False}
_COUPLINGS: Mapping[str, str] = {"ball-50": "ball-50", "other-ball": "ball-50", "pin": "pin"}


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """Checked answers: numbers in range, or None where nothing was said. Couplings and rules by their names."""

    coupling: str
    ball_diameter_mm: float
    rule: str | None
    state: State
    bars: Bars
    level_within_mm_per_m: float | None = None
    tape: TapeSaid | None = None
    case: Case = Case()
    sag: Sag = Sag()

    def request(
        self, photos: tuple[Path, ...], centres_px: tuple[Centre, ...], pick_u_px: float = PICK_SIGMA_PX
    ) -> Request:
        """The request that the command line makes of the same answers."""
        return Request(
            photos=photos,
            rule=default_rule(self.coupling) if self.rule is None else load_rule(self.rule),
            coupling=self.coupling,
            centres_px=centres_px,
            pick_sigma_px=pick_u_px,
            ball_diameter_mm=self.ball_diameter_mm,
            bars=self.bars,
            state=self.state,
            level_within_mm_per_m=self.level_within_mm_per_m,
            profile_folder=profile_folder(),
            case=self.case,
            sag=self.sag,
            # the page shows a 50 mm ball chosen from the start: as long as it is, the sheet may say otherwise
            unsaid=unsaid(None, None, self.rule) if self.usual_ball else unsaid("", "", self.rule),
        )

    @property
    def usual_ball(self) -> bool:
        return self.coupling == "ball-50" and self.ball_diameter_mm == BALL_DIAMETER_MM


def answers_from(form: Mapping[str, object]) -> Answers:
    """The page's fields out of a form; others are not looked at, files under their names neither."""
    typed = {name: form.get(name) for name in FIELDS}
    return Answers(**{name: text.strip()[: _longest(name)] for name, text in typed.items() if isinstance(text, str)})


def _longest(field: str) -> int:
    return LONGEST_NOTE if field == "note" else LONGEST if field in CASE_FIELDS else _LONGEST


def _case(answers: Answers, wrong: dict[str, InputError]) -> Case:
    said: dict[str, str | None] = {}
    for field, name in CASE_FIELDS.items():
        try:
            said[field] = case_text(getattr(answers, field), name)
        except InputError as error:
            wrong[field] = error
    return Case(**said)  # type: ignore[arg-type]


def checked(answers: Answers) -> tuple[Asked | None, dict[str, InputError]]:
    """The answers as numbers and names, and what is wrong by field; None where anything is."""
    wrong: dict[str, InputError] = {}

    def number(field: str, text: str, name: str, limit: Limit) -> float | None:
        try:
            return number_from(text, name, limit)
        except InputError as error:
            wrong[field] = error
            return None

    bar_x = number("bar_x", answers.bar_x, "Check bar X", BAR_MM)
    bar_y = number("bar_y", answers.bar_y, "Check bar Y", BAR_MM)
    tape = number("tape", answers.tape, "The tape's reading", TAPE_MM)
    flat = number("tape_flat", answers.tape_flat, "The flat on the ball's top", FLAT_MM)
    level_within = number("level_within", answers.level_within, "The level's reading", SLOPE_MM_PER_M)
    sag = Sag(
        ball_load_kg=number("ball_load", answers.ball_load, "The ball load", limits.BALL_LOAD_KG),
        stand_mass_kg=number("stand_mass", answers.stand_mass, "The mass on the bar", limits.STAND_MASS_KG),
        stand_drop_mm=number("stand_drop", answers.stand_drop, "How far the ball went down", limits.STAND_DROP_MM),
        load_drop_mm=number("load_drop", answers.load_drop, "The drop when loaded", limits.LOAD_DROP_MM),
    )
    try:
        if not {"stand_mass", "stand_drop"} & wrong.keys():
            check_sag(sag)
    except InputError as error:
        wrong["stand_drop"] = error
    other = answers.coupling == "other-ball"
    diameter = number("ball_diameter", answers.ball_diameter, "The ball's diameter", BALL_LIMIT) if other else None
    if other and diameter is None and "ball_diameter" not in wrong:
        wrong["ball_diameter"] = InputError(
            "The other ball's diameter is missing.",
            expected="millimetres, such as 47.55 (1 7/8 in) or 50.8 (2 in)",
            remedy="read it off the ball, or choose the 50 mm ball",
        )
    _choices(answers, wrong)
    case = _case(answers, wrong)
    try:
        ground = _TRUTHS.get(answers.level_ground)
        check_level("the level's reading", level_within, '"Not sure" about the ground', ground)
    except InputError as error:
        wrong["level_within"] = error
    if wrong:
        return None, wrong
    to = tape_to_from(answers.tape_to, "What the tape was read up to")
    asked = Asked(
        coupling=_COUPLINGS[answers.coupling],
        ball_diameter_mm=BALL_DIAMETER_MM if diameter is None else diameter,
        rule=answers.rule or None,
        state=State(
            coupled=_TRUTHS[answers.coupled],
            laden=_TRUTHS[answers.laden],
            level_ground=_TRUTHS[answers.level_ground],
            level_control=_TRUTHS[answers.level_control],
        ),
        bars=Bars(x_mm=bar_x, y_mm=bar_y),
        level_within_mm_per_m=level_within,
        tape=None
        if tape is None
        else TapeSaid(
            reading_mm=tape,
            tape_class=tape_class_from(answers.tape_class, "The tape's class"),
            to=to,
            flat_mm=flat if to == "top" else None,
        ),
        case=case,
        sag=sag,
    )
    return asked, {}


def _choices(answers: Answers, wrong: dict[str, InputError]) -> None:
    """Choices that the page itself never offers."""
    offered = {
        "coupling": _COUPLINGS.keys(),
        "rule": {"", *available_rules()},
        "coupled": _TRUTHS.keys(),
        "laden": _TRUTHS.keys(),
        "level_ground": _TRUTHS.keys(),
        "level_control": _TRUTHS.keys(),
        "tape_class": {"", *get_args(TapeClass)},
        "tape_to": {"", *get_args(TapeTo)},
    }
    for field, choices in offered.items():
        typed = getattr(answers, field)
        if typed not in choices:
            wrong[field] = InputError(
                f"{typed!r} is no choice here.",
                expected=", ".join(choice or "nothing" for choice in sorted(choices)),
                remedy="choose again on the page",
            )


def number_from(text: str, name: str, limit: Limit) -> float | None:
    """A number as people type it (a comma will do, so will the unit behind it), None for nothing; InputError else."""
    return number_typed(text, name, limit) if text.strip() else None


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

    def part(field: str, read: Callable[[str], T]) -> T | None:
        typed = form.get(field)
        try:
            return read(typed.strip()[:_LONGEST] if isinstance(typed, str) else "")
        except InputError as error:
            wrong[field] = error
            return None

    reading_mm = part("tape", lambda text: number_from(text, "The tape's reading", TAPE_MM))
    tape_class = part("tape_class", lambda text: tape_class_from(text, "The tape's class"))
    to = part("tape_to", lambda text: tape_to_from(text, "What the tape was read up to"))
    flat_mm = part("tape_flat", lambda text: number_from(text, "The flat on the ball's top", FLAT_MM))
    if reading_mm is None or tape_class is None or to is None or wrong:
        return None, wrong
    return (
        TapeSaid(reading_mm=reading_mm, tape_class=tape_class, to=to, flat_mm=flat_mm if to == "top" else None),
        wrong,
    )


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
            f"The mark in photograph {number} is no pair of coordinates: {' and '.join(map(repr, texts))}.",
            expected="two numbers, pixels of the picture as a person sees it",
            remedy="tap on the centre in the picture, or type both numbers",
        )
    return x, y
