"""The whole measurement as one recipe: photographs in, one result out.

photographs -> pictures -> sheets found -> scene -> centre found -> estimate -> verdict and advice -> record
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from calib.finding.sheets import Finding, find_sheets
from calib.outcome.errors import InputError
from calib.outcome.refusal import Refusal
from photomeasure.asked.bay_file import Bay, SeenMarkers, find_markers
from photomeasure.asked.state import Difference, State
from photomeasure.interval.expanded import Expanded, expanded
from photomeasure.scene.priors import BALL_DIAMETER_MM, Bars
from photomeasure.scene.scene import CameraPrior
from photomeasure.seen.camera_for import camera_for
from photomeasure.seen.centre.find import Pose, Sightings, Unseen, find_centre, keep_out, without_photos
from photomeasure.seen.ground_sheet import with_ground_sheet
from photomeasure.seen.image import Photo, load
from photomeasure.seen.quality import judge_quality
from photomeasure.solution.estimate import Estimate, estimate
from photomeasure.solution.model import cam_from_world, intrinsics_of
from photomeasure.solution.scene_of import measuring_scene, pose_scene
from photomeasure.solution.withdrawn import photos_apart, unseen_centres, without_contradicted_camera
from photomeasure.verdict.doubts import doubts
from photomeasure.verdict.judge import Verdict, judge

if TYPE_CHECKING:
    from calib.profile.profile import Profile
    from photomeasure.rules.model import Decision, Rule

PICK_SIGMA_PX = 0.5
MAX_U_MM = 150.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """What a person asks for.

    centres_px: picked centres, one a photograph in order, None where none was picked. decision: in place of the rule's
    own. level_within_mm_per_m: how level a level showed the ground to be, where somebody read one.
    """

    photos: tuple[Path, ...]
    rule: Rule
    coupling: str = "ball-50"
    centres_px: tuple[tuple[float, float] | None, ...] = ()
    pick_sigma_px: float = PICK_SIGMA_PX
    ball_diameter_mm: float = BALL_DIAMETER_MM
    bars: Bars = Bars()
    state: State = State()
    decision: Decision | None = None
    level_within_mm_per_m: float | None = None
    profile: Profile | None = None
    profile_folder: Path | None = None
    bay: Bay | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """One photograph with what was found in it; markers where a measuring bay is used."""

    photo: Photo
    finding: Finding
    camera: CameraPrior
    markers: SeenMarkers | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """A measurement: everything that a record, a picture or a report is made from."""

    request: Request
    views: tuple[View, ...]
    sightings: Sightings
    estimate: Estimate
    expanded: Expanded
    verdict: Verdict
    warnings: tuple[str, ...] = ()
    doubts: tuple[Difference, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Refused:
    """No measurement: why, and what was seen before it stopped."""

    request: Request
    refusal: Refusal
    photos: tuple[Photo, ...] = ()
    views: tuple[View, ...] = ()
    candidates_px: tuple[tuple[NDArray[np.float64], ...], ...] = ()  # of each photograph


def look(request: Request) -> tuple[View, ...] | Refused:
    """Load every photograph, find the kit in it, and take what is known of its camera."""
    photos: list[Photo] = []
    views: list[View] = []
    for path in request.photos:
        photo = load(path)
        if isinstance(photo, Refusal):
            return Refused(request=request, refusal=_naming(photo, path, request), photos=tuple(photos))
        same = next((other.path for other in photos if other.sha256 == photo.sha256), None)
        if same is not None:
            raise InputError(
                f"{path} and {same} are one photograph: their contents are the same.",
                expected="each photograph once, for a second look at the same pixels tells nothing",
                remedy="leave one of them out",
            )
        photos.append(photo)
        view = _look_at(request, photo)
        if isinstance(view, Refusal):
            return Refused(
                request=request, refusal=_naming(view, path, request), photos=tuple(photos), views=tuple(views)
            )
        views.append(view)
    papers = {sheet.sheet.paper for view in views for sheet in view.finding.sheets}
    if len(papers) > 1:
        refusal = Refusal(
            code="two-kits",
            reason=f"The photographs show kits of different paper: {', '.join(sorted(papers))}.",
            remedy="Measure photographs of one rig with one kit at a time.",
        )
        return Refused(request=request, refusal=refusal, photos=tuple(photos), views=tuple(views))
    return tuple(views)


def _look_at(request: Request, photo: Photo) -> View | Refusal:
    """One photograph: its camera, the kit in it, the bay's markers in it."""
    camera = camera_for(photo, request.profile, request.profile_folder)
    if isinstance(camera, Refusal):
        return camera
    found = find_sheets(photo.grey)
    if request.bay is None:
        if isinstance(found, Refusal):
            return found
        return judge_quality(photo.grey, found) or View(photo=photo, finding=found, camera=camera)
    markers = find_markers(photo.grey, request.bay)
    if isinstance(markers, Refusal):
        return markers
    kit = (
        found
        if isinstance(found, Finding) and judge_quality(photo.grey, found) is None
        else Finding(sheets=(), codes=())
    )
    return View(photo=photo, finding=kit, camera=camera, markers=markers)


def _naming(refusal: Refusal, path: Path, request: Request) -> Refusal:
    """With several photographs, say which one it was."""
    if len(request.photos) == 1 or path.name in refusal.reason:
        return refusal
    return replace(refusal, reason=f"{path.name}: {refusal.reason}")


def _check(request: Request) -> None:
    if not request.photos:
        raise InputError(
            "No photograph was given.", expected="one or more photographs of one rig", remedy="name the files"
        )
    if len(request.centres_px) > len(request.photos):
        raise InputError(
            f"Centres given: {len(request.centres_px)}, photographs: {len(request.photos)}.",
            expected="at most one --centre a photograph, in the same order",
            remedy="leave out the centres that belong to no photograph",
        )


def measure(request: Request) -> Result | Refused:
    """Do the whole job for one rig. Wrong usage raises InputError; a picture that cannot be measured is `Refused`."""
    _check(request)
    looked = look(request)
    if isinstance(looked, Refused):
        return looked

    def refused(refusal: Refusal, candidates: tuple[tuple[NDArray[np.float64], ...], ...] = ()) -> Refused:
        photos = tuple(view.photo for view in looked)
        return Refused(request=request, refusal=refusal, photos=photos, views=looked, candidates_px=candidates)

    standing = estimate(pose_scene(looked, request))
    if isinstance(standing, Refusal):
        return refused(standing)
    poses = [_pose(standing, photo) for photo in range(len(looked))]
    views = tuple(_with_ground_sheet(view, pose) for view, pose in zip(looked, poses, strict=True))
    sightings = find_centre(request, views, poses)
    if isinstance(sightings, Unseen):
        return refused(sightings.refusal, sightings.candidates_px)
    lacking = _lacks_depth(request, sightings)
    if lacking is not None:
        return refused(lacking)
    scene = measuring_scene(views, sightings, request, poses)
    solved = estimate(scene)
    if isinstance(solved, Refusal):
        return refused(solved)
    apart = photos_apart(looked, request, solved)
    if apart is not None:
        return refused(apart)
    stated = solved
    solved, withdrawn = without_contradicted_camera(scene, stated)
    useless = _useless(solved)
    if useless is not None:
        return refused(useless)
    sightings = without_photos(sightings, solved.left_out)
    known, names = expanded(solved), [view.photo.path.name for view in views]
    reasons = doubts(stated, sightings, [keep_out(view) for view in views], request.rule)
    return Result(
        request=request,
        views=views,
        sightings=sightings,
        estimate=solved,
        expanded=known,
        verdict=_verdict(known, request, reasons),
        warnings=(*withdrawn, *unseen_centres(sightings, solved.left_out, names)),
        doubts=reasons,
    )


def _verdict(known: Expanded, request: Request, reasons: tuple[Difference, ...]) -> Verdict:
    """The rule's verdict by the interval that is reported, and by the distribution that it was made from."""
    return judge(
        known.height_mm,
        known.u_mm,
        request.rule,
        request.state,
        request.coupling,
        interval_mm=known.interval_mm,
        samples_mm=known.quantiles_mm,
        decision=request.decision,
        doubts=reasons,
    )


def _with_ground_sheet(view: View, pose: Pose) -> View:
    return replace(view, finding=with_ground_sheet(view.finding, view.photo.grey, *pose))


def _lacks_depth(request: Request, sightings: Sightings) -> Refusal | None:
    """In a bay without a coupling plane one photograph cannot tell how far away the centre is."""
    if request.bay is None or request.bay.coupling_plane is not None:
        return None
    if sum(px is not None for px in sightings.centre_px) >= 2:
        return None
    return Refusal(
        code="depth-unknown",
        reason="The bay file has no coupling plane, and the centre is seen in one photograph only.",
        remedy="Add a photograph from another side with the centre marked in it too, or give the bay file a coupling plane.",
    )


def _useless(solved: Estimate) -> Refusal | None:
    """A figure that nobody could use is no measurement."""
    if solved.height_mm > 0.0 and solved.u_mm <= MAX_U_MM:
        return None
    return Refusal(
        code="too-uncertain",
        reason=f"What can be seen leaves the height open by +/- {2 * solved.u_mm:.0f} mm.",
        remedy="Photograph from nearer with the coupling close to the sheet (or to several markers), or add photographs from other sides.",
    )


def _pose(solved: Estimate, photo: int) -> Pose:
    """Intrinsics (9,), rotation (3, 3), translation (3,) of one photograph, camera from world."""
    return (intrinsics_of(solved.scene, solved.where, solved.x, photo), *cam_from_world(solved.where, solved.x, photo))
