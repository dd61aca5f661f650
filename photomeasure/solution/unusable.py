"""Solutions that are none: a figure that nobody could use, or that no rig standing on its ground can have."""

from __future__ import annotations

import numpy as np

from calib.outcome.refusal import Refusal
from calib.words.said import said
from photomeasure.solution.estimate import Estimate
from photomeasure.solution.geometry import lens_mm, turned_rad
from photomeasure.solution.mistakes import SKEW
from photomeasure.solution.withdrawn import Reconciled

MAX_U_MM = 150.0
# A phone on the ground has its lens some millimetres above it; below is a sheet that does not stand as it should.
LOWEST_LENS_MM = -60.0
SHEARED_SIGMAS = 5.0
# Times what corners claim. Paper bowed by 2 mm comes to 3, by 20 mm to 20 (points, computed); beyond
# this it is no sheet that was found, but a wrong solution.
NO_SHEET_SCATTER = 60.0
ON_ITS_SIDE_RAD = float(
    np.pi / 4.0
)  # where a marked centre is all that is known; a ball has its neck below, a tag its up


def unusable(reconciled: Reconciled) -> Refusal | None:
    """Refused: why a solution is no measurement; None where it is one."""
    solved = reconciled.estimate
    if any(what == SKEW and sigmas > SHEARED_SIGMAS for what, sigmas in reconciled.left):
        return Refusal(
            code="edited",
            reason=said(
                "The picture was sheared or straightened by an editor after it was taken: no camera sees a sheet "
                "like that."
            ),
            remedy=said("Send the photograph as the camera wrote it."),
        )
    if solved.noise_scale > NO_SHEET_SCATTER:
        return Refusal(
            code="no-solution",
            reason=said(
                "The corners in the photographs scatter {times:.0f} times more than they should: no flat sheet is seen like that.",
                times=solved.noise_scale,
            ),
            remedy=said(
                "Flatten the sheets on something stiff, stand the upright one square and lay the ground sheet flat, and photograph "
                "again; send the files as the camera wrote them."
            ),
        )
    if solved.scene.points and not sees_ground(solved) and abs(turned_rad(solved)) > ON_ITS_SIDE_RAD:
        return Refusal(
            code="sheet-turned",
            reason=said(
                "The upright sheet is turned by {degrees:.0f} degrees in the picture: it lies on its side or "
                "stands on its head, or the picture is not the right way up.",
                degrees=abs(np.degrees(turned_rad(solved))),
            ),
            remedy=said(
                "Stand the sheet with its arrow pointing up, or turn the picture until it shows the rig as a "
                "person sees it, and mark the centre in that."
            ),
        )
    if not solved.height_mm > 0.0:
        return Refusal(
            code="below-foot-line",
            reason=said(
                "The centre that was marked or found lies below the sheet's foot line, or the sheet stands on its head."
            ),
            remedy=said(
                "Stand the sheet with its foot line on the ground, its arrow pointing up, and mark the "
                "coupling's centre above the ground."
            ),
        )
    if _lens_below_ground(solved):
        return Refusal(
            code="sheet-leans",
            reason=said(
                "By the sheet the photograph was taken from below the ground: the sheet leans far back, or does "
                "not stand."
            ),
            remedy=said(
                "Stand the upright sheet against something square, its foot line on the ground, and photograph again."
            ),
        )
    if solved.u_mm > MAX_U_MM:
        return Refusal(
            code="too-uncertain",
            reason=said("What can be seen leaves the height open by ± {u_mm:.0f} mm.", u_mm=2 * solved.u_mm),
            remedy=said(
                "Photograph from nearer with the coupling close to the sheet (or to several markers), or add "
                "photographs from other sides."
            ),
        )
    return None


def sees_ground(solved: Estimate) -> bool:
    """Whether something else than the upright sheet tells where the ground is."""
    return bool(solved.scene.markers) or any(view.plane == "ground" for view in solved.scene.planes)


def _lens_below_ground(solved: Estimate) -> bool:
    """Whether a lens is deeper under the ground than the solution can be wrong; a bay's survey may lie on a slope."""
    if solved.scene.markers:
        return False
    lowest = min(float(lens_mm(solved, photo)[2]) for photo in range(solved.scene.n_photos))
    return lowest < LOWEST_LENS_MM - 2.0 * solved.u_mm
