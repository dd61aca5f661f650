"""From a survey of photographs and tapes to a bay file."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from calib.words.said import joined, said, with_and

if TYPE_CHECKING:
    from calib.outcome.refusal import Refusal
    from calib.survey.data import Sighting, Surveyed
    from photomeasure.asked.bay_file import Bay, CouplingPlane
    from photomeasure.bay.survey_file import SurveyFile
    from photomeasure.scene.scene import CameraPrior
    from photomeasure.seen.image import Photo


@dataclass(frozen=True, slots=True, kw_only=True)
class BayOptions:
    """The command line as typed. camera: the calibrated camera that took all photographs; without it EXIF's."""

    photos: tuple[Path, ...]
    survey: Path
    out: Path
    camera: Path | None = None


def sightings_of(options: BayOptions, dictionary: str) -> tuple[tuple[Sighting, ...], CameraPrior, list[str]] | Refusal:
    """Markers in all photographs, turned as the first is; the camera of the first; photographs that cannot be read.

    Refused where none can be read, or they are of several cameras. Raises InputError for a profile that is none.
    """
    from calib.outcome.refusal import Refusal
    from calib.profile.load import load_profile
    from calib.survey.marker_sightings import sightings_in
    from photomeasure.seen.board_photos import another_camera, held_unlike
    from photomeasure.seen.camera_for import camera_for
    from photomeasure.seen.image import load

    profile = None if options.camera is None else load_profile(options.camera)
    first: Photo | None = None
    found: list[Sighting] = []
    unread: list[str] = []
    for path in options.photos:
        photo = load(path)
        if isinstance(photo, Refusal):
            unread.append(photo.reason)
            continue
        first = first if first is not None else photo
        wrong = another_camera(first, photo)
        if wrong is not None:
            return wrong
        if (unlike := held_unlike(first, photo)) is not None:
            unread.append(f"{path.name}: {unlike}")
            continue
        found += [_turned(sighting, photo, first) for sighting in sightings_in(photo.grey, dictionary, path.name)]
    if first is None:
        return Refusal(
            code="unreadable",
            reason=joined([said("None of the photographs can be read."), *unread], " "),
            remedy=said("Give photographs as the camera wrote them."),
        )
    camera = camera_for(first, profile, None)
    return camera if isinstance(camera, Refusal) else (tuple(found), camera, unread)


def _turned(sighting: Sighting, photo: Photo, first: Photo) -> Sighting:
    from dataclasses import replace

    from calib.camera.turning import turn, turned_pixels

    matrix = turn(photo.camera_orientation, first.camera_orientation)
    return replace(sighting, corners_px=turned_pixels(sighting.corners_px, photo.size_px, matrix))


def bay_of(surveyed: Surveyed, survey: SurveyFile) -> Bay | Refusal:
    """The bay file's contents; markers that look as if they had moved are left out. Refused where the coupling's plane is not told."""
    from calib.outcome.refusal import Refusal
    from photomeasure.asked.bay_file import Bay, Marker

    plane = _plane(surveyed, survey)
    if isinstance(plane, Refusal):
        return plane
    return Bay(
        schema="photomeasure/bay/1",
        dictionary=survey.dictionary,
        markers=[
            Marker(id=check.id, corners_mm=[[round(float(v), 3) for v in corner] for corner in check.corners_mm])
            for check in surveyed.markers
            if not check.suspicious
        ],
        u_mm=round(surveyed.u_mm(), 3),
        coupling_plane=plane,
    )


def _plane(surveyed: Surveyed, survey: SurveyFile) -> CouplingPlane | Refusal | None:
    """The upright plane through two solved spots; its normal is level and points away from the cameras."""
    import numpy as np

    from calib.outcome.refusal import Refusal
    from photomeasure.asked.bay_file import CouplingPlane

    if survey.coupling_plane is None:
        return None
    spots = [surveyed.points_mm.get(name) for name in survey.coupling_plane.through]
    if spots[0] is None or spots[1] is None:
        return Refusal(
            code="plane-not-told",
            reason=said(
                "The coupling plane's spots {spots} were not both solved.",
                spots=with_and(survey.coupling_plane.through),
            ),
            remedy=said("Pick each of them in two photographs or more, taken from different places."),
        )
    along = (spots[1] - spots[0])[:2]
    length = float(np.linalg.norm(along))
    if length < 100.0:
        return Refusal(
            code="plane-not-told",
            reason=said("The coupling plane's spots are only {length:.0f} mm apart.", length=length),
            remedy=said("Choose spots half a metre apart or more."),
        )
    normal = np.array([-along[1], along[0], 0.0]) / length
    normal = normal if normal[1] >= 0 else -normal
    middle = (spots[0] + spots[1]) / 2
    return CouplingPlane(
        point_mm=[round(float(v), 3) for v in middle],
        normal=[round(float(v), 6) for v in normal],
        u_mm=survey.coupling_plane.u_mm,
    )
