"""How level a trailer stands, as one recipe: photographs and marks in, the pitch of its rail against the ground line out.

photographs -> pictures -> sheets found -> scene with the trailer's side -> estimate -> pitch, nose end, what is allowed
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from calib.outcome.errors import InputError
from calib.outcome.refusal import Refusal
from calib.words.said import said
from photomeasure.asked.level import USUAL, Allowed, LevelRequest, NoseSide, Pixel
from photomeasure.interval.expanded import expanded
from photomeasure.seen.answers.answered import second_bars_of
from photomeasure.seen.look import Refused, View, look
from photomeasure.seen.rail_tags import rail_tags
from photomeasure.seen.two_sheets import one_printer
from photomeasure.solution.estimate import Estimate
from photomeasure.solution.level_scene import PER_DEGREE, level_scene
from photomeasure.solution.model import cam_from_world, line_points
from photomeasure.solution.withdrawn import reconcile
from photomeasure.verdict.conformity import measured_height

Nose = Literal["up", "down", "level"]
NoseFrom = Literal["said", "sheet", "first mark"]
LevelVerdict = Literal["within", "nose-up", "nose-down", "undecided"]
MAX_U_DEG = 2.0
AMID = 1.0 / 3.0  # of the rail between the marks: a sheet further in than this stands at neither end (judgement)
LEAST_APART_PX = 40.0  # two marks nearer than this tell no direction
_LOW_LENS_MM = 1300.0
_SURE = 0.97725  # as w = U leaves it at an acceptance limit (ILAC-G8:09/2019, computed)


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelResult:
    """pitch_deg: nose-up positive. nose_from: how it is known which end is in front. better: what would make it surer."""

    asked: LevelRequest
    views: tuple[View, ...]
    estimate: Estimate
    pitch_deg: float
    u_deg: float
    interval_deg: tuple[float, float]
    nose_side: NoseSide
    nose_from: NoseFrom
    allowed: Allowed
    verdict: LevelVerdict
    p_allowed: float
    warnings: tuple[str, ...]
    better: tuple[str, ...]

    @property
    def way(self) -> float:
        """1 where the front is on the right, else -1: the estimator's pitch lifts the right end."""
        return 1.0 if self.nose_side == "right" else -1.0

    @property
    def nose(self) -> Nose:
        """Level where the interval holds 0: the photograph cannot tell it from level."""
        low, high = self.interval_deg
        return "level" if low <= 0.0 <= high else "up" if low > 0.0 else "down"


def measure_level(asked: LevelRequest) -> LevelResult | Refused:
    """Do the whole job for one trailer. Wrong usage raises InputError; what cannot be measured is `Refused`."""
    _check(asked)
    request = asked.request
    seen = look(request)
    if isinstance(seen, Refused):
        return seen
    bars, _ = second_bars_of(request, seen, [])
    looked = tuple(replace(view, second_bars=bars) for view in seen)

    def refused(refusal: Refusal) -> Refused:
        return Refused(request=request, refusal=refusal, photos=tuple(view.photo for view in looked), views=looked)

    if not asked.rail_px:
        with_tags = _by_tags(asked, looked)
        if isinstance(with_tags, Refusal):
            return refused(with_tags)
        asked = with_tags
    misplaced = _misplaced(asked, looked)
    if misplaced is not None:
        return refused(misplaced)
    done = reconcile(level_scene(looked, asked), looked, request)
    if isinstance(done, Refusal):
        return refused(done)
    useless = _useless(done.estimate)
    if useless is not None:
        return refused(useless)
    return _level(asked, looked, done.estimate, done.said)


def _by_tags(asked: LevelRequest, views: tuple[View, ...]) -> LevelRequest | Refusal:
    """The request with the rail where two bar tags are stuck on it."""
    px: list[Pixel] = []
    u_px: list[float] = []
    ids: tuple[int, int] | None = None
    for view in views:
        found = rail_tags(view)
        if isinstance(found, Refusal):
            return found
        px, u_px, ids = [*px, *found.px], [*u_px, *found.u_px], ids or found.ids
    return replace(asked, rail_px=tuple(px), rail_u_px=tuple(u_px), rail_tags=ids or ())


def _level(asked: LevelRequest, views: tuple[View, ...], solved: Estimate, told: tuple[str, ...]) -> LevelResult:
    side, known_from = _nose_side(asked, solved)
    way = 1.0 if side == "right" else -1.0  # the estimator's pitch lifts the right end
    known = expanded(solved)
    low, high = sorted(way * end / PER_DEGREE for end in known.interval_mm)
    pitch_deg, u_deg = way * solved.height_mm / PER_DEGREE, solved.u_mm / PER_DEGREE
    allowed = asked.allowed or USUAL
    verdict, p = _verdict(pitch_deg, u_deg, allowed)
    return LevelResult(
        asked=asked,
        views=views,
        estimate=solved,
        pitch_deg=pitch_deg,
        u_deg=u_deg,
        interval_deg=(low, high),
        nose_side=side,
        nose_from=known_from,
        allowed=allowed,
        verdict=verdict,
        p_allowed=p,
        warnings=(*told, *_warnings(asked, side, known_from), *_of_prints(views)),
        better=_better(solved),
    )


def _check(asked: LevelRequest) -> None:
    if not asked.request.photos:
        raise InputError(
            said("No photograph was given."),
            expected=said("one or more photographs of one trailer"),
            remedy=said("name the files"),
        )
    if asked.request.bay is not None:
        raise InputError(
            said("A trailer's level is not measured in a bay yet."),
            expected=said("photographs with the printed sheet"),
            remedy=said("stand the sheet along the trailer"),
        )
    wanted = 2 * len(asked.request.photos)
    for option, marks in (("--ground", asked.ground_px), ("--rail", asked.rail_px)):
        if len(marks) != wanted and not (option == "--rail" and not marks):  # without a mark tags are looked for
            raise InputError(
                said(
                    "{option} was given {marks} times for {value} photographs.",
                    option=option,
                    marks=len(marks),
                    value=len(asked.request.photos),
                ),
                expected=said(
                    "{wanted} times: two points in each photograph, in the photographs' order", wanted=wanted
                ),
                remedy=said(
                    "--ground for two points on the ground (tyre contacts), --rail for two points of the rail or floor "
                    "line"
                ),
            )


def _misplaced(asked: LevelRequest, views: tuple[View, ...]) -> Refusal | None:
    """Marks outside the picture, too near to one another, or ground above rail."""
    for photo, view in enumerate(views):
        pairs = [marks[2 * photo : 2 * photo + 2] for marks in (asked.ground_px, asked.rail_px)]
        width, height = view.photo.size_px
        for what, pair in zip(("ground", "rail"), pairs, strict=True):
            if any(not (-0.5 <= x <= width - 0.5 and -0.5 <= y <= height - 0.5) for x, y in pair):
                return Refusal(
                    code="mark-outside",
                    reason=said(
                        "A mark on the {what} is outside {path} ({width} x {height} pixels).",
                        what=what,
                        path=view.photo.path.name,
                        width=width,
                        height=height,
                    ),
                    remedy=said(
                        "Give pixel coordinates of the picture as a person sees it, (0, 0) the top-left pixel."
                    ),
                )
            if _apart_px(pair) < LEAST_APART_PX:
                return Refusal(
                    code="marks-too-near",
                    reason=said(
                        "The two marks on the {what} are {apart_px:.0f} pixels apart in {path}.",
                        what=what,
                        apart_px=_apart_px(pair),
                        path=view.photo.path.name,
                    ),
                    remedy=said("Mark two points as far apart as the trailer allows."),
                )
        if min(y for _, y in pairs[0]) < max(y for _, y in pairs[1]) and _crossed(pairs[0], pairs[1]):
            return Refusal(
                code="marks-exchanged",
                reason=said(
                    "In {path} the marks on the ground are not below those on the rail.", path=view.photo.path.name
                ),
                remedy=said(
                    "--ground is for points on the ground, --rail for points of the chassis rail or floor line above "
                    "it."
                ),
            )
    return None


def _apart_px(pair: tuple[Pixel, ...]) -> float:
    return float(np.hypot(pair[0][0] - pair[1][0], pair[0][1] - pair[1][1]))


def _crossed(ground: tuple[Pixel, ...], rail: tuple[Pixel, ...]) -> bool:
    """Whether the rail's middle is not above the ground line there."""
    (x0, y0), (x1, y1) = ground
    x, y = (0.5 * (rail[0][i] + rail[1][i]) for i in (0, 1))
    line_y = y0 + (y1 - y0) * (x - x0) / (x1 - x0) if abs(x1 - x0) > 1.0 else max(y0, y1)
    return y >= line_y


def _useless(solved: Estimate) -> Refusal | None:
    u_deg = solved.u_mm / PER_DEGREE
    for view in solved.scene.lines:
        (points, _), _ = line_points(solved.where, solved.x, view)
        turn, move = cam_from_world(solved.where, solved.x, view.photo)
        if not bool(np.all(points @ turn[2] + move[2] > 0.0)):
            return Refusal(
                code="no-solution",
                reason=said("No place of the trailer's side explains the marks."),
                remedy=said("Check the marks: two on the ground, two on the rail, on the side that faces the camera."),
            )
    if u_deg > MAX_U_DEG:
        return Refusal(
            code="too-uncertain",
            reason=said("What can be seen leaves the pitch open by {u_deg:.1f} degrees either way.", u_deg=2 * u_deg),
            remedy=said(
                "Photograph from the side, 4 to 7 m away, the phone held as high as your eyes, and mark points "
                "far apart."
            ),
        )
    return None


def _along_mm(solved: Estimate, photo: int = 0) -> tuple[float, float]:
    """Where the two rail marks of a photograph lie along the trailer, from the middle of the foot line to the right."""
    view = next(view for view in solved.scene.lines if view.line == "rail" and view.photo == photo)
    first, second = (solved.value(name) for name in view.along)
    return first, second


def _nose_side(asked: LevelRequest, solved: Estimate) -> tuple[NoseSide, NoseFrom]:
    """Which end of the trailer is in front: as said, or the end at the sheet, which stands at the coupling.

    Where the sheet stands amid the two marks the first mark on the rail is taken for the front.
    """
    if asked.nose is not None:
        return asked.nose, "said"
    first, second = _along_mm(solved)
    left, right = sorted((first, second))
    if -left > AMID * (right - left) and right > AMID * (right - left):
        return ("left" if first < second else "right"), "first mark"
    return ("left" if abs(left) < abs(right) else "right"), "sheet"


def _verdict(pitch_deg: float, u_deg: float, allowed: Allowed) -> tuple[LevelVerdict, float]:
    """As a height is judged: within, or outside on one side, where that is as sure as a guarded decision has to be."""
    offset = 90.0  # a pitch may be negative, what is judged may not
    p = measured_height(offset + pitch_deg, u_deg).probabilities(
        offset - allowed.nose_down_deg, offset + allowed.nose_up_deg
    )
    if p.inside >= _SURE:
        return "within", p.inside
    if p.above >= _SURE:
        return "nose-up", p.inside
    return ("nose-down" if p.below >= _SURE else "undecided"), p.inside


def _warnings(asked: LevelRequest, side: NoseSide, known_from: NoseFrom) -> list[str]:
    found = []
    if known_from == "first mark":
        found.append(
            said(
                "The sheet stands between the two marks on the rail: the end at the first mark, on the {side}, "
                "was taken for the front. Say --nose left or --nose right.",
                side=side,
            )
        )
    elif known_from == "sheet":
        found.append(
            said("The end at the sheet, on the {side}, was taken for the front. If it is not, say --nose.", side=side)
        )
    if asked.rail_tags:
        first, second = asked.rail_tags
        found.append(
            said(
                "Bar tags {first} and {second} were taken for two places of one edge of the rail: both have to be stuck with their "
                "lower rim against that edge.",
                first=first,
                second=second,
            )
        )
    request = asked.request
    if request.state.level_ground is None and request.level_within_mm_per_m is None:
        found.append(
            said("Whether the ground is hard and flat was not said: it may be uneven, which is in the interval.")
        )
    return found


def _of_prints(views: tuple[View, ...]) -> tuple[str, ...]:
    second = next((view for view in views if view.number is not None and view.second_number is not None), None)
    if second is None or (second.second_bars.x_mm is not None and second.second_bars.y_mm is not None):
        return ()
    return (one_printer(second.number or 0, second.second_number or 0),)


def _better(solved: Estimate) -> tuple[str, ...]:
    """What to do about the largest part of the uncertainty."""
    from photomeasure.interval.budget import budget
    from photomeasure.solution.geometry import lens_mm

    heights_mm = [float(lens_mm(solved, photo)[2]) for photo in range(solved.scene.n_photos)]
    largest = budget(solved)[0].quantity
    if largest in ("sheet roll", "trailer's turn", "ground evenness", "ground") and min(heights_mm) < _LOW_LENS_MM:
        return (
            said(
                "Hold the phone higher: at {min:.0f} mm it looks along the ground, and how the trailer is turned "
                "against the sheet can hardly be seen. As high as your eyes is right for this picture.",
                min=min(heights_mm),
            ),
        )
    better = {
        "sheet roll": said(
            "Stand the sheet's foot line on the ground along its whole length, or lay the ground sheet in front of it."
        ),
        "marks on the rail": said("Mark the rail at two points further apart, zoomed in, on one and the same edge."),
        "tags on the rail": said("Stick the tags further apart, or use larger ones."),
        "marks on the ground": said(
            "Mark the ground at two points further apart, zoomed in, right where the tyres touch it."
        ),
        "trailer's turn": said("Set the sheet up along the trailer, and hold the phone as high as your eyes."),
        "ground evenness": said("Read a level along the trailer and state it (--level-within)."),
        "focal length": said("Calibrate the camera (photomeasure calibrate)."),
        "principal point": said(
            "Calibrate the camera (photomeasure calibrate), and keep the trailer's side amid the picture."
        ),
        "distortion": said(
            "Calibrate the camera (photomeasure calibrate), and keep the trailer's side amid the picture."
        ),
    }
    return (better[largest],) if largest in better else ()
