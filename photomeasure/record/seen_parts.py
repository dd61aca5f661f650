"""What a record says of photographs, of the sheets that they show and of the camera."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from calib.words.said import said
from photomeasure.pipeline import Result
from photomeasure.record.schema import (
    CameraPart,
    PhotoPart,
    SecondSheetPart,
)
from photomeasure.scene.scene import CENTRE, SECOND_PLACE
from photomeasure.seen.image import Photo
from photomeasure.seen.look import View
from photomeasure.seen.same_picture import outermost_px
from photomeasure.solution.estimate import Estimate
from photomeasure.solution.geometry import lens_mm


def print_number(views: Iterable[View]) -> int | None:
    """Of the sheet that is seen; None where it was not read, or photographs show different ones."""
    numbers = {view.number for view in views if view.number is not None}
    return numbers.pop() if len(numbers) == 1 else None


def second_sheet(views: Iterable[View], solved: Estimate) -> SecondSheetPart | None:
    """The second upright sheet, where there is one; of a pair, as it stands now."""
    view = next((view for view in views if view.second_number is not None), None)
    if view is None or view.second_number is None:
        return None
    right_mm, away_mm = (solved.value(name) for name in solved.scene.names(SECOND_PLACE, before=view.before))
    return SecondSheetPart(number=view.second_number, apart_mm=round(float(np.hypot(right_mm, away_mm))))


def photo_part(photo: Photo) -> PhotoPart:
    """A photograph as its file tells; its name without a folder, which would tell whose machine it was."""
    width, height = photo.size_px
    maker_and_model = " ".join(word for word in (photo.facts.make, photo.facts.model) if word)
    return PhotoPart(
        file=photo.path.name,  # no folder: it tells whose machine it was
        sha256=photo.sha256,
        width_px=width,
        height_px=height,
        camera=maker_and_model or None,
        taken=None if photo.facts.taken is None else photo.facts.taken.isoformat(),
    )


def view_part(view: View, result: Result, number: int) -> PhotoPart:
    """A photograph with what was found in it. number: of the photograph, from 0."""
    upright = view.finding.of_role("upright")
    lens = lens_mm(result.estimate, number)
    return photo_part(view.photo).model_copy(
        update={
            "corners": sum(len(sheet.index) for sheet in view.finding.all)
            + (0 if view.markers is None else len(view.markers.names)),
            "cell_px": None if upright is None else round(upright.cell_px, 2),
            "blur_px": None if upright is None else round(upright.blur_px, 2),
            "distance_mm": round(float(np.linalg.norm(lens - _centre(result.estimate, before=view.before)))),
            "before": view.before,
            "sheet_px": None if upright is None else outermost_px(upright).round(2).tolist(),
            "lens_height_mm": round(float(lens[2])),
        }
    )


def _centre(solved: Estimate, *, before: bool) -> NDArray[np.float64]:  # (3,) world mm
    return np.array([solved.value(name) for name in solved.scene.names(CENTRE, before=before)])


def camera_part(result: Result) -> CameraPart:
    """What is known of the first photograph's camera, at the solution."""
    solved = result.estimate
    prior = solved.scene.cameras[0]
    columns = solved.where.camera(solved.scene, 0)
    covariance = prior.basis @ solved.covariance[np.ix_(columns, columns)] @ prior.basis.T
    focal = float((prior.mean + prior.basis @ solved.x[columns])[0])
    if prior.kind == "profile" and not np.array_equal(prior.basis, result.views[0].camera.basis):
        given_up = said("{source}; it does not fit this picture, and was given up", source=prior.source)
        return CameraPart(kind=prior.kind, source=given_up, focal_px=None, u_focal_px=None)
    return CameraPart(
        kind=prior.kind,
        source=prior.source,
        focal_px=round(focal, 1),
        u_focal_px=round(float(np.sqrt(covariance[0, 0])), 1),
    )
