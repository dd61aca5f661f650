"""What the photographs cannot show of how the sheet stands: what each usual mistake would make of the height and the verdict.

A gap below the foot line, a sheet that is rolled on a corner or leans, a coupling before or behind the sheet: one photograph of a
mark looks the same with and without. Their priors are what careful people do (`scene.priors`); how far careless ones go is
measured here by solving again with the sheet so wrong (`OtherMeans`, the prior's mean moved), and said beside the verdict.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from calib.words.said import said
from photomeasure.scene.priors import DEG
from photomeasure.scene.scene import Prior
from photomeasure.solution.contradicted import contradicted
from photomeasure.solution.estimate import Estimate
from photomeasure.solution.other_means import Asked, Found, OtherMeans
from photomeasure.solution.unusable import sees_ground

if TYPE_CHECKING:
    from photomeasure.verdict.judge import Verdict

# As far wrong as people who do not look leave it (judgement): a sheet on its board's edge or a plank; on one corner of it; against a
# wheel in place of something square; where there was room.
GAP_MM, ROLL_DEG, LEAN_DEG, AWAY_MM = 20.0, 5.0, 10.0, 100.0
HALF_FOOT_MM = 105.0  # of A4
_ENOUGH = (
    1e-2  # standard uncertainties of the last step; what is left after it is far less, and whole millimetres are said
)

Room = tuple[float, float]  # by how much the true height may be lower and higher and the verdict is the same, mm >= 0


@dataclass(frozen=True, slots=True, kw_only=True)
class UsualMistake:
    """One usual mistake. size: in the unit that is said; sentence: of that size and its effect, mm."""

    quantity: str
    size: float
    unit: float
    sentence: Callable[[float, float], str]


def rests_on(
    solved: Estimate,
    interval_mm: tuple[float, float],
    verdict: Verdict,
    half_foot_mm: float = HALF_FOOT_MM,
    against: Collection[str] | None = None,
) -> tuple[str, ...]:
    """A sentence for each mistake that the photographs do not show and that would put the height outside its interval.

    half_foot_mm: half of the foot line's length, about whose ends a sheet on one of its corners is turned. against: what
    the photographs contradict all the same; None: it is worked out. Empty in a bay, whose markers tell, and for photographs from before and after.
    """
    scene = solved.scene
    if scene.markers or scene.earlier is not None or "sheet.gap" not in solved.where.index:
        return ()
    if sees_ground(solved) and scene.n_photos > 1:
        return ()
    height_mm = sum(interval_mm) / 2.0
    U_mm, room = (interval_mm[1] - interval_mm[0]) / 2.0, _room(height_mm, interval_mm, verdict)
    found = []
    if not sees_ground(solved) and U_mm < GAP_MM:
        found.append(_and_verdict(GAP, room[1] if room is not None and room[1] < GAP_MM else None, unit=1.0))
    mistakes = (*(() if sees_ground(solved) else _OF_STANCE), _AWAY)
    already = frozenset((what for what, _ in contradicted(solved)) if against is None else against)
    for mistake, made in zip(mistakes, _made(solved, mistakes), strict=True):
        lift_mm = half_foot_mm * math.sin(mistake.size * mistake.unit) if mistake.quantity == "sheet roll" else 0.0
        if not any(abs(one.height_mm - solved.height_mm + lift_mm) > U_mm for one in made):
            continue
        shifts = [
            one.height_mm - solved.height_mm
            for one in made
            if already.issuperset(
                what for what, _ in contradicted(one.whole())
            )  # else the photographs speak against it
        ]
        worst = max((abs(mm + lift_mm) for mm in shifts), default=0.0)
        if worst > U_mm:
            turns = None if room is None else _turns_at(mistake, shifts, lift_mm, room)
            found.append(_and_verdict(mistake.sentence(mistake.size, worst), turns, mistake.unit))
    return (*found, CURE) if found else ()


def _room(height_mm: float, interval_mm: tuple[float, float], verdict: Verdict) -> Room | None:
    """None where there is no verdict to change."""
    band = verdict.band
    if band is None or verdict.verdict in ("undecided", "no-band"):
        return None
    if verdict.verdict == "within":
        low, high = verdict.acceptance_mm or (None, None)
        return (math.inf if low is None else height_mm - low, math.inf if high is None else high - height_mm)
    if verdict.verdict == "above" and band.high_mm is not None:
        return (max(interval_mm[0] - band.high_mm, 0.0), math.inf)
    if verdict.verdict == "below" and band.low_mm is not None:
        return (math.inf, max(band.low_mm - interval_mm[1], 0.0))
    return None


def _made(solved: Estimate, mistakes: Sequence[UsualMistake]) -> list[list[Found]]:
    """Of each mistake the solutions were it made to either side; without one that is none."""
    found: list[list[Found]] = [[] for _ in mistakes]
    other = OtherMeans(solved)
    by_u = [_first_order(solved, mistake) for mistake in mistakes]
    # by what the first side is off its first order: the second is by as much, to the same way
    bends = [np.zeros(len(solved.x)) for _ in mistakes]
    for sign in (-1.0, 1.0):
        sizes = [sign * mistake.size * mistake.unit for mistake in mistakes]
        # no other start: what was found is the picture's own pose
        straight = [solved.x - along * by for along, by in zip(by_u, sizes, strict=True)]
        asked = [
            Asked(priors=_with(solved.scene.priors, mistake.quantity, by), start=first_order + bend)
            for mistake, by, first_order, bend in zip(mistakes, sizes, straight, bends, strict=True)
        ]
        for number, again in enumerate(other.solved(asked, _ENOUGH)):
            if np.isfinite(again.height_mm):
                bends[number] = again.x - straight[number]
                found[number].append(again)
    return found


def _first_order(solved: Estimate, mistake: UsualMistake) -> NDArray[np.float64]:
    """(P,) by how much less each parameter is for a mistake of size one."""
    told = np.array([quantity == mistake.quantity for quantity in solved.rows.quantities]) & ~solved.rows.observed
    u = next((prior.u for prior in reversed(solved.scene.priors) if prior.quantity == mistake.quantity), 1.0)
    along: NDArray[np.float64] = solved.covariance @ solved.rows.jacobian[told].sum(axis=0) / u
    return along


def _with(priors: Sequence[Prior], quantity: str, by: float) -> list[Prior]:
    return [replace(prior, mean=prior.mean + by) if prior.quantity == quantity else prior for prior in priors]


def _turns_at(mistake: UsualMistake, shifts_mm: Sequence[float], lift_mm: float, room: Room) -> float | None:
    """The least size, up to the mistake's own, at which the height leaves the room: a parabola through what was solved, and the lift.

    shifts_mm: of the mistake made to either side, or to the one side that the photographs allow.
    """
    curved = sum(shifts_mm) / 2.0 if len(shifts_mm) == 2 else 0.0
    share = np.arange(1, 101) / 100.0
    moved = np.array([(shift - curved + lift_mm) * share + curved * share**2 for shift in shifts_mm])
    outside = ((moved < -room[0]) | (moved > room[1])).any(axis=0)
    return mistake.size * float(share[outside.argmax()]) if outside.any() else None


def _and_verdict(sentence: str, least: float | None, unit: float) -> str:
    """With how little of the mistake would change the verdict, where so much of it as is usual would."""
    if least is None:
        return sentence
    if unit == DEG:
        return said("{sentence} {deg:.1f} degrees would change the verdict.", sentence=sentence, deg=least)
    return said("{sentence} {mm:.0f} mm would change the verdict.", sentence=sentence, mm=math.ceil(least))


def _roll(deg: float, mm: float) -> str:
    return said(
        "The sheet must stand on its whole foot line, not on a corner: turned by {deg:.0f} degrees the height would be up to "
        "{mm:.0f} mm off.",
        deg=deg,
        mm=mm,
    )


def _lean(deg: float, mm: float) -> str:
    return said(
        "The sheet must stand upright: leaning by {deg:.0f} degrees the height would be up to {mm:.0f} mm off.",
        deg=deg,
        mm=mm,
    )


def _away(away_mm: float, mm: float) -> str:
    return said(
        "The sheet must stand under the coupling: {away_mm:.0f} mm before or behind it the height would be up to {mm:.0f} mm off.",
        away_mm=away_mm,
        mm=mm,
    )


GAP = said("The whole foot line must touch the ground: any gap below it is missing from the height.")
CURE = said(
    "With the ground sheet laid before it, the picture shows how the upright sheet stands; further photographs from the sides show "
    "whether the coupling is above it."
)
_OF_STANCE = (
    UsualMistake(quantity="sheet roll", size=ROLL_DEG, unit=DEG, sentence=_roll),
    UsualMistake(quantity="sheet lean", size=LEAN_DEG, unit=DEG, sentence=_lean),
)
_AWAY = UsualMistake(quantity="depth", size=AWAY_MM, unit=1.0, sentence=_away)
