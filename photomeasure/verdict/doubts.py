"""Reasons why a verdict is only indicative that lie in the measurement itself, not in the state of the rig."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.solution.contradicted import CAMERA_QUANTITIES, bars_apart, contradicted
from photomeasure.verdict.state_of_band import Difference

if TYPE_CHECKING:
    from photomeasure.rules.model import Rule
    from photomeasure.seen.centre.sightings import Sightings
    from photomeasure.solution.estimate import Estimate

# Heights of coupling centres that people meet: 250 to 900 mm is where the program looks for one, and a little beyond.
USUAL_HEIGHT_MM = (200.0, 1000.0)


def doubts(
    solved: Estimate, sightings: Sightings, sheets_px: Sequence[Iterable[NDArray[np.float64]]], rule: Rule
) -> tuple[Difference, ...]:
    """What the reader must settle before the verdict counts.

    solved: with everything that was stated; what it contradicts of the camera was withdrawn since and is in the interval.
    sheets_px: printed sheets (K, 2) in each photograph.
    """
    rows = [
        Difference(why=sentence, remedy="Find out which of the two is right, and measure again.")
        for sentence in sightings.contradictions
    ]
    rows += _of_statements(solved)
    if sightings.source == "pick":
        rows += _of_mark(solved, sightings, sheets_px)
    if rule.confidence == "memory":
        rows.append(
            Difference(
                why="The rule's text was written down from memory.",
                remedy="Look the band up in the rule itself before relying on it.",
            )
        )
    return tuple(rows)


def _of_statements(solved: Estimate) -> list[Difference]:
    """Contradicted statements, but for those that the photographs themselves put right."""
    put_right = set(CAMERA_QUANTITIES)
    if any(view.plane == "ground" for view in solved.scene.planes):
        put_right |= {"sheet lean", "sheet roll"}
    if solved.scene.n_photos > 1:
        put_right.add("depth")
    found = [quantity for quantity, _ in contradicted(solved) if quantity not in put_right]
    if bars_apart(solved):
        found.append("check bars")
    if not found:
        return []
    return [
        Difference(
            why=f"The photographs speak against what was stated or assumed: {', '.join(dict.fromkeys(found))} (see the notes).",
            remedy="Put right what the notes name, and photograph again.",
        )
    ]


def _of_mark(
    solved: Estimate, sightings: Sightings, sheets_px: Sequence[Iterable[NDArray[np.float64]]]
) -> list[Difference]:
    """A mark where no coupling can well be."""
    remedy = "Check the mark: the centre of the ball, or the middle of the pin's bush, in the upright picture."
    rows = []
    for px, sheets in zip(sightings.centre_px, sheets_px, strict=True):
        if px is not None and any(_inside(px, sheet) for sheet in sheets):
            rows.append(Difference(why="The centre was marked on the printed sheet.", remedy=remedy))
    low, high = USUAL_HEIGHT_MM
    if not low <= solved.height_mm <= high:
        why = f"A coupling's centre is seldom {solved.height_mm:.0f} mm above the ground."
        rows.append(Difference(why=why, remedy=remedy))
    return rows


def _inside(px: NDArray[np.float64], polygon: NDArray[np.float64]) -> bool:
    return cv2.pointPolygonTest(polygon.astype(np.float32), (float(px[0]), float(px[1])), False) > 0
