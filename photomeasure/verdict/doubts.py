"""Reasons why a verdict is only indicative that lie in the measurement itself, not in the state of the rig."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.words.said import said
from photomeasure.rules.model import NOT_SURE
from photomeasure.scene.priors import DEG
from photomeasure.scene.quantities import named
from photomeasure.solution.contradicted import CAMERA_QUANTITIES
from photomeasure.solution.notices import axis_off_share, bars_apart, focal_off_share
from photomeasure.verdict.notes import first_and_last
from photomeasure.verdict.state_of_band import Difference

if TYPE_CHECKING:
    from photomeasure.rules.model import Rule
    from photomeasure.seen.centre.sightings import Sightings
    from photomeasure.solution.estimate import Estimate
    from photomeasure.solution.withdrawn import Reconciled

# Heights of coupling centres that people meet: 250 to 900 mm is where the program looks for one, and a little beyond.
USUAL_HEIGHT_MM = (200.0, 1000.0)
WITNESSED = 0.01  # relative u of a print's scale from which something other than its bars tells it (judgement)
MEASURE_BARS = said("Measure both check bars of this very print where it is photographed.")
# Times what corners claim: paper bowed by 2 mm comes to 3, pictures put together 5 px out to 6 and more (`tests/experiments/hard_study.md`)
MOST_SCATTER = 4.0
TOO_MANY_NOTES = 3  # warnings beside which no verdict is sure
ONE_SITTING = dt.timedelta(hours=2)  # in which a rig is photographed from all its sides (judgement)
CARELESS_RAD = 5.0 * DEG  # a sheet that is further out was not stood up: more than that may be wrong
# A quarter of the long side off the middle is a picture of which half was cut away; further off is none that was only cut.
FARTHEST_AXIS = 0.25
# Of what was stated, longer or shorter: of three real phones one lay 36 % off (`seen.camera_by_exif`); further is no phone's main camera
FARTHEST_FOCAL = 0.5


def doubts(
    reconciled: Reconciled,
    sightings: Sightings,
    sheets_px: Sequence[Iterable[NDArray[np.float64]]],
    rule: Rule,
    *,
    stance: Sequence[str] = (),
    breaks: Sequence[str] = (),
    notes: int = 0,
    taken: Sequence[tuple[str, dt.datetime | None]] = (),
) -> tuple[Difference, ...]:
    """What the reader must settle before the verdict counts.

    reconciled: the solution in which what the photographs contradict has given way, and what that was.
    sheets_px: printed sheets (K, 2) in each photograph. stance: sentences on how the sheet does not stand.
    breaks: sentences on photographs that are damaged. notes: how many warnings stand beside the figure.
    taken: name of each photograph and when its camera's clock says it was taken.
    """
    rows = [
        Difference(
            why=sentence,
            remedy=said(
                "Two ways of finding the centre contradict each other: find out which is right, and measure again."
            ),
        )
        for sentence in sightings.contradictions
    ]
    rows += [
        Difference(why=sentence, remedy=said("Stand the sheet as asked, and photograph again.")) for sentence in stance
    ]
    rows += [
        Difference(why=sentence, remedy=said("Copy or send the file again as it came from the phone."))
        for sentence in breaks
    ]
    rows += _of_statements(reconciled)
    rows += _of_corners(reconciled.estimate)
    rows += _of_scale(reconciled.estimate)
    rows += _of_second_print(reconciled.estimate)
    rows += _of_clocks(taken)
    if sightings.way == "pick":
        rows += _of_mark(reconciled.estimate, sightings, sheets_px)
    if rule.confidence in NOT_SURE:
        from_where = said("from memory") if rule.confidence == "memory" else said("from another text that it follows")
        rows.append(
            Difference(
                why=said("The rule's band was written down {from_where}.", from_where=from_where),
                remedy=said("Look the band up in the rule itself before relying on it."),
            )
        )
    if notes >= TOO_MANY_NOTES:
        rows.append(
            Difference(
                why=said(
                    "{notes} warnings stand beside this figure; each may be harmless, so many together seldom are.",
                    notes=notes,
                ),
                remedy=said("Go through the notes, put right what they name, and photograph again."),
            )
        )
    return tuple(rows)


def _of_statements(reconciled: Reconciled) -> list[Difference]:
    """Contradicted statements, but for those that the photographs themselves put right."""
    found = [what for what in reconciled.causes if not _put_right(what, reconciled)]
    if bars_apart(reconciled.stated):
        found.append(said("check bars"))
    rows = []
    if found:
        names = [named(quantity) for quantity in dict.fromkeys(found)]
        rows.append(
            Difference(
                why=said(
                    "The photographs speak against what was stated or assumed: {names} (see the notes).", names=names
                ),
                remedy=said("Put right what the notes name, and photograph again."),
            )
        )
    off = axis_off_share(reconciled.estimate)
    if off > FARTHEST_AXIS:
        rows.append(
            Difference(
                why=said(
                    "The lens's axis seems to lie {off:.0f} % of the picture's long side off its middle, further "
                    "than cutting a picture puts it.",
                    off=100 * off,
                ),
                remedy=said("Send the photograph whole and unedited, as the camera wrote it."),
            )
        )
    return rows


def _of_corners(solved: Estimate) -> list[Difference]:
    """A sheet that no camera sees so: its corners scatter far more than bowed paper's, or some lie off together."""
    remedy = said("Flatten the sheet on something stiff, and send the photograph unedited, as the camera wrote it.")
    rows = []
    if solved.scene.shows_sheets and solved.noise_scale > MOST_SCATTER:
        why = said(
            "The sheet's corners scatter {times:.0f} times more than they should: it is bowed, or the picture was put together from "
            "pieces, or edited.",
            times=solved.noise_scale,
        )
        rows.append(Difference(why=why, remedy=remedy))
    if solved.moved_together:
        why = said(
            "{corners} corners of the sheet lie off together, all by the same way: part of the picture was moved against the rest, or "
            "part of the sheet is folded or torn.",
            corners=solved.moved_together,
        )
        rows.append(Difference(why=why, remedy=remedy))
    return rows


def _of_scale(solved: Estimate) -> list[Difference]:
    """A print of which nobody measured both bars, and of which nothing else tells the size well enough."""
    read = {prior.quantity for prior in solved.scene.priors}
    if "print.x" not in solved.where.index or {"check bar x", "check bar y"} <= read:
        return []
    at = solved.where.at("print.x", "print.y")
    if float(np.sqrt(solved.covariance[np.ix_(at, at)].mean())) <= WITNESSED:
        return []
    return [
        Difference(
            why=said(
                "The print's scale is not known: printers shrink a page by up to 7 %, and both check bars were "
                "not measured."
            ),
            remedy=MEASURE_BARS,
        )
    ]


def _of_second_print(solved: Estimate) -> list[Difference]:
    """A second print of which nobody measured both bars: 1 % between two printers would be 2 to 3 mm, and seldom noticed."""
    if all(prior.quantity != "second print" for prior in solved.scene.priors):
        return []
    return [
        Difference(
            why=said(
                "Both check bars of the second print were not measured: it may be of another scale than the first."
            ),
            remedy=said("Measure both check bars of the second print too, and tick them on it."),
        )
    ]


def _put_right(what: str, reconciled: Reconciled) -> bool:
    """Whether the photographs themselves tell what is so instead, and all of it."""
    if what in dict(reconciled.left):
        return False
    scene = reconciled.estimate.scene
    if what in CAMERA_QUANTITIES:
        if (
            what == "focal length"
            and scene.cameras[0].kind == "exif"
            and focal_off_share(reconciled.estimate) > FARTHEST_FOCAL
        ):
            return False
        # an axis off the middle may be a picture that was cut, but also one that was straightened or sheared, and then it
        # is the height that moves: one plane in one picture does not tell which
        return what != "principal point"
    if what in ("sheet lean", "sheet roll") and any(view.plane == "ground" for view in scene.planes):
        return abs(reconciled.estimate.value("sheet." + what.split()[1])) < CARELESS_RAD
    return what == "depth" and scene.n_photos > 1


def _of_clocks(taken: Sequence[tuple[str, dt.datetime | None]]) -> list[Difference]:
    """Photographs that were not taken in one go: the rig may have been loaded, moved or coupled in between."""
    ends = first_and_last(taken)
    if ends is None or ends[1][0] - ends[0][0] <= ONE_SITTING:
        return []
    return [
        Difference(
            why=said(
                "By their camera's clock {first} and {last} were taken hours apart; the rig may have been moved, "
                "loaded or coupled in between.",
                first=ends[0][1],
                last=ends[1][1],
            ),
            remedy=said(
                "Measure photographs that were taken in one go, or find out whether a camera's clock is wrong."
            ),
        )
    ]


def _of_mark(
    solved: Estimate, sightings: Sightings, sheets_px: Sequence[Iterable[NDArray[np.float64]]]
) -> list[Difference]:
    """A mark where no coupling can well be."""
    remedy = said("Check the mark: the centre of the ball, or the middle of the pin's bush, in the upright picture.")
    rows = []
    for px, sheets in zip(sightings.centre_px, sheets_px, strict=True):
        if px is not None and any(_inside(px, sheet) for sheet in sheets):
            rows.append(Difference(why=said("The centre was marked on the printed sheet."), remedy=remedy))
    low, high = USUAL_HEIGHT_MM
    if not low <= solved.height_mm <= high:
        why = said("A coupling's centre is seldom {height_mm:.0f} mm above the ground.", height_mm=solved.height_mm)
        rows.append(Difference(why=why, remedy=remedy))
    return rows


def _inside(px: NDArray[np.float64], polygon: NDArray[np.float64]) -> bool:
    return cv2.pointPolygonTest(polygon.astype(np.float32), (float(px[0]), float(px[1])), False) > 0
