"""Tags on the tow bar: how they lie, what ties photographs of now to those from before, and what a record carries over, as priors."""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np

from calib.words.said import said
from photomeasure.asked.carried import N_CARRIED, Carried
from photomeasure.scene.priors import DEG
from photomeasure.scene.scene import BAR_TURNS, BEFORE, CENTRE, OFFSET, Prior, mount_of, offset_of
from photomeasure.scene.shared import KnownRow, shared_rows

UNTOUCHED_MM = (
    5.0  # of the ball along and away, beside its sinking, while nobody touched the sheet or drove the rig (judgement)
)
UNTOUCHED_TURN_RAD = 0.5 * DEG
BAR_TAG_SOURCE = said("stuck on the tow bar by eye (judgement)")
BAR_TAG_TURN_RAD, BAR_TAG_LEAN_RAD, BAR_TAG_ROLL_RAD = 45.0 * DEG, 15.0 * DEG, 20.0 * DEG
# Between two photographs: the sheet is stood up again (turned by 4 degrees each time), the bar pitches under the load.
BAR_MOVED_RAD = (6.0 * DEG, 1.5 * DEG, 2.5 * DEG)
CARRIED, MOVED, TURNED = "carried over", "sheet untouched", "bar turned"
PLACEMENT = "carried.placement"
LEAST_CARRIED = 1e-5  # mm or rad: a prior needs a width


def bar_tag_priors() -> list[Prior]:
    """How a bar tag lies: stuck upright by eye on something steep; where the centre is from it, the photograph tells."""
    return [
        Prior(quantity="bar tag lie", coefficients={name: 1.0}, mean=0.0, u=u, unit="rad", source=BAR_TAG_SOURCE)
        for name, u in zip(BAR_TURNS, (BAR_TAG_TURN_RAD, BAR_TAG_LEAN_RAD, BAR_TAG_ROLL_RAD), strict=True)
    ]


def further_tag_priors(tags: Collection[int]) -> list[Prior]:
    """How further bar tags lie against the first one: stuck on by eye as well, perhaps on another side of the bar."""
    u_rad = [np.sqrt(2.0) * u for u in (BAR_TAG_TURN_RAD, BAR_TAG_LEAN_RAD, BAR_TAG_ROLL_RAD)]
    return [
        Prior(quantity="bar tag lie", coefficients={name: 1.0}, mean=0.0, u=u, unit="rad", source=BAR_TAG_SOURCE)
        for tag in tags
        for name, u in zip(mount_of(tag), u_rad, strict=True)
    ]


def moved_rad(*, sheet_untouched: bool) -> tuple[float, float, float]:
    """Standard uncertainties of what a bar's turn, lean and roll may have changed by between two photographs."""
    turn, lean, roll = BAR_MOVED_RAD
    return (UNTOUCHED_TURN_RAD if sheet_untouched else turn), lean, roll


def since_before_priors(*, bar: bool, sheet_untouched: bool) -> list[Prior]:
    """What ties photographs of now to those from before beside what they share.

    bar: a bar tag is seen on both sides; it turns with the load and with a sheet that was stood up anew.
    """
    priors = []
    if bar:
        source = said("what a load and a sheet stood up anew turn the bar by between two photographs (judgement)")
        for name, u in zip(BAR_TURNS, moved_rad(sheet_untouched=sheet_untouched), strict=True):
            told = {name: 1.0, f"{BEFORE}{name}": -1.0}
            priors.append(Prior(quantity=TURNED, coefficients=told, mean=0.0, u=u, unit="rad", source=source))
    if sheet_untouched:
        source = said("nobody touched the sheet or drove the rig in between, as was said; the bar's pitch (judgement)")
        for name in CENTRE[:2]:
            told = {name: 1.0, f"{BEFORE}{name}": -1.0}
            priors.append(Prior(quantity=MOVED, coefficients=told, mean=0.0, u=UNTOUCHED_MM, unit="mm", source=source))
    return priors


def carried_priors(carried: Carried, rows: Sequence[KnownRow]) -> list[Prior]:
    """Where the centre was in the bar tag's frame and how that lay, as the photograph from before tells.

    rows: the statements of the scene of now. An error that both photographs have (`scene.shared`) moved what is carried,
    and moves this scene: the priors are of what is left when it is taken out. The rest's covariance is taken apart into
    independent combinations. What may have turned since (the sheet against the rig, the tow bar under the load) is added
    to the tag's angles.
    """
    left, count = carried.matrix, len(carried.mean)
    left[range(3, N_CARRIED), range(3, N_CARRIED)] += np.square(
        moved_rad(sheet_untouched=carried.sheet_untouched is True)
    )
    shared = []
    for row in shared_rows(rows, carried.effects, sheet_untouched=carried.sheet_untouched is True):
        effect = np.array(carried.effects[row.name][:count])
        left = left - np.outer(effect, effect)
        shared.append((row, effect))
    variances, axes = np.linalg.eigh(left)
    names = carried_names(carried.more)
    priors = []
    for variance, axis in zip(variances, axes.T, strict=True):
        coefficients, mean = dict(zip(names, axis.tolist(), strict=True)), float(axis @ np.array(carried.mean))
        for row, effect in shared:
            by = float(axis @ effect)
            mean -= by * row.mean
            for name, value in row.coefficients.items():
                coefficients[name] = coefficients.get(name, 0.0) - by * value
        priors.append(
            Prior(
                quantity=CARRIED,
                coefficients=coefficients,
                mean=mean,
                u=float(np.sqrt(max(variance, LEAST_CARRIED**2))),
                unit="mm, rad",
                source=said("carried over by bar tag {tag} from {record}", tag=carried.tag, record=carried.record),
            )
        )
    return priors


def placement_prior(carried: Carried) -> Prior:
    """How exactly the mark or the tag that was carried over stood for the centre's height, when it was measured."""
    return Prior(
        quantity="placement before",
        coefficients={PLACEMENT: 1.0},
        mean=0.0,
        u=carried.placement_mm,
        unit="mm",
        source=said(
            "a mark or tag was carried over from {record}, put at the centre's height by eye (judgement)",
            record=carried.record,
        ),
    )


def carried_names(more: Sequence[int]) -> tuple[str, ...]:
    """The parameters that a record carries over, in its order: of the first bar tag, then six of each further one."""
    return (*OFFSET, *BAR_TURNS, *(name for tag in more for name in (*offset_of(tag), *mount_of(tag))))
