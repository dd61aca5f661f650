"""The whole measurement as one recipe: photographs in, one result out.

photographs -> pictures -> sheets found -> scene -> centre found -> estimate -> verdict and advice -> record
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from calib.outcome.errors import InputError
from calib.outcome.refusal import Refusal
from calib.words.said import said
from photomeasure.asked.facts import Fact
from photomeasure.asked.request import Request
from photomeasure.asked.sag import check_sag
from photomeasure.interval.ball_size import ball_size
from photomeasure.interval.expanded import Expanded, expanded
from photomeasure.interval.pair import stand_test
from photomeasure.scene.ball_sizes import SizeSeen
from photomeasure.scene.scene import CENTRE
from photomeasure.scene.solved_camera import SolvedCamera
from photomeasure.seen.answers.answered import answered
from photomeasure.seen.centre.compared import compared_with_solved
from photomeasure.seen.centre.find import InPictures, keep_out
from photomeasure.seen.centre.pair import find_centres, in_pictures_of_sides, told_of_now
from photomeasure.seen.centre.sightings import Sightings, Unseen, without_photos
from photomeasure.seen.look import Refused, View, ground_sheet_seen, look
from photomeasure.seen.same_picture import counted_once
from photomeasure.solution.estimate import Estimate, estimate
from photomeasure.solution.geometry import solved_camera
from photomeasure.solution.model import project_world
from photomeasure.solution.scene_of import pose_scene
from photomeasure.solution.sides import settle_sides
from photomeasure.solution.unusable import sees_ground, unusable
from photomeasure.solution.withdrawn import unseen_centres
from photomeasure.verdict.ball_size import doubts_of_size, of_ball_size
from photomeasure.verdict.doubts import doubts
from photomeasure.verdict.judge import Verdict, judge
from photomeasure.verdict.measured import state_of, what_was_measured
from photomeasure.verdict.notes import notes, of_breaks, of_moved, of_paper, of_shape, of_turn
from photomeasure.verdict.remembered import of_remembered
from photomeasure.verdict.state_of_band import Difference


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """A measurement: everything that a record, a picture or a report is made from.

    request: with what the sheet says. views: of each photograph, in the request's order. sightings: how the centre was found.
    estimate: the solution, mm and radians, `height_mm` and its standard uncertainty `u_mm` among it; expanded: the interval that
    holds 95 %, `U_mm` half of it. verdict: under the request's rule. warnings: sentences to read before the figure is used.
    doubts: reasons in the measurement itself why the verdict is only indicative. facts: what was said, and where.
    contradicted: input quantities that the photographs speak against all the same. ball: how large the ball looked, mm, where its
    outline tells.
    """

    request: Request
    views: tuple[View, ...]
    sightings: Sightings
    estimate: Estimate
    expanded: Expanded
    verdict: Verdict
    warnings: tuple[str, ...] = ()
    doubts: tuple[Difference, ...] = ()
    facts: tuple[Fact, ...] = ()
    contradicted: tuple[str, ...] = ()
    ball: SizeSeen | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Marks:
    """Where somebody marked the centre, one a photograph in order, and how surely (standard uncertainty, pixels)."""

    centres_px: tuple[tuple[float, float] | None, ...]
    sigma_px: float


def _check(request: Request) -> None:
    if not request.photos:
        raise InputError(
            said("No photograph was given."),
            expected=said("one or more photographs of one rig"),
            remedy=said("name the files"),
        )
    if request.before_photos and request.carried is not None:
        raise InputError(
            said("Photographs from before and a record from before were both given."),
            expected=said("one of the two"),
            remedy=said("name the photographs, or their record"),
        )
    if request.before_photos >= len(request.photos):
        raise InputError(
            said("There are only photographs from before."),
            expected=said("at least one photograph from after as well"),
            remedy=said("name the photographs of the rig as it is to be measured first, then those from before"),
        )
    if len(request.centres_px) > len(request.photos):
        raise InputError(
            said(
                "Centres given: {value}, photographs: {value_2}.",
                value=len(request.centres_px),
                value_2=len(request.photos),
            ),
            expected=said("at most one marked centre for each photograph, in the same order"),
            remedy=said("leave out the centres that belong to no photograph"),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """What a measurement rests on before anybody marks the centre: the kit and the cameras as they were seen, what is said of
    the rig, where the cameras stood, tags and ball (now, and before of a pair). From here it is measured again with other marks
    without a look at the pictures.

    request: with what the sheet says; looked: as photographed, views: with the ground sheet; cameras: of each photograph.
    """

    request: Request
    looked: tuple[View, ...]
    views: tuple[View, ...]
    cameras: tuple[SolvedCamera, ...]
    facts: tuple[Fact, ...]
    said: tuple[str, ...]
    in_pictures: tuple[InPictures, ...]
    twice: tuple[str, ...]


def measure(request: Request) -> Result | Refused:
    """Do the whole job for one rig: look at its photographs, find sheet and centre, solve, judge.

    Returns `Refused` where a picture cannot be measured. Raises InputError for wrong usage: no photograph, more marked centres
    than photographs, photographs and a record from before at once, a file that is not there.
    """
    standing = stand(request)
    return standing if isinstance(standing, Refused) else measure_from(standing)


def stand(request: Request) -> Standing | Refused:
    """The part of the job that looks at the pictures; refused where they show too little. Raises InputError as `measure` does."""
    _check(request)
    looked = look(request)
    if isinstance(looked, Refused):
        return looked
    looked, twice = counted_once(looked)
    known_of_rig = answered(request, told_of_now(looked))
    if isinstance(known_of_rig, Refusal):
        return _refused(request, looked, known_of_rig)
    request = known_of_rig.request
    looked = tuple(replace(view, second_bars=known_of_rig.second_bars) for view in looked)
    solved = estimate(pose_scene(looked, request))
    if isinstance(solved, Refusal):
        return _refused(request, looked, solved)
    cameras = tuple(solved_camera(solved, photo) for photo in range(len(looked)))
    views = tuple(ground_sheet_seen(view, camera) for view, camera in zip(looked, cameras, strict=True))
    return Standing(
        request=request,
        looked=looked,
        views=views,
        cameras=cameras,
        facts=known_of_rig.facts,
        said=known_of_rig.said,
        in_pictures=in_pictures_of_sides(request, views, cameras),
        twice=twice,
    )


def _refused(
    request: Request,
    looked: tuple[View, ...],
    refusal: Refusal,
    candidates: tuple[tuple[NDArray[np.float64], ...], ...] = (),
) -> Refused:
    photos = tuple(view.photo for view in looked)
    return Refused(request=request, refusal=refusal, photos=photos, views=looked, candidates_px=candidates)


def measure_from(standing: Standing, marks: Marks | None = None) -> Result | Refused:
    """The part of the job that only counts: the centre, the solution, the interval, the verdict. marks: in place of the
    request's own. Refused where there is no centre, no solution, or one that tells nothing."""
    request, looked, views, cameras = standing.request, standing.looked, standing.views, standing.cameras
    if marks is not None:
        request = replace(request, centres_px=marks.centres_px, pick_sigma_px=marks.sigma_px)
    sightings = find_centres(request, views, cameras, standing.in_pictures)
    if isinstance(sightings, Unseen):
        return _refused(request, looked, sightings.refusal, sightings.candidates_px)
    lacking = _lacks_depth(request, sightings)
    if lacking is not None:
        return _refused(request, looked, lacking)
    done = settle_sides(views, sightings, request, cameras)
    if isinstance(done, Refusal):
        return _refused(request, looked, done)
    reconciled, request = done.reconciled, done.request
    solved = reconciled.estimate
    useless = unusable(reconciled)
    if useless is not None:
        return _refused(request, looked, useless)
    sightings = _shown_where_solved(without_photos(sightings, solved.left_out), solved, cameras)
    request, of_stand = _with_stand_test(request, solved)
    known, names = expanded(solved), [view.photo.path.name for view in views]
    unseen = unseen_centres(sightings, solved.left_out, names)
    taken = [(view.photo.path.name, view.photo.facts.taken) for view in views if not view.before]
    of_stance = (*of_paper([] if sees_ground(solved) else [view.paper for view in views]), *of_turn(solved))
    of_files = (
        *of_breaks([(view.photo.path.name, view.photo.breaks_at) for view in views]),
        *of_shape([(view.photo.path.name, view.photo.size_px) for view in views]),
        *of_moved([(view.photo.path.name, view.moved_cells) for view in views]),
    )
    number = next((view.number for view in views if view.number is not None), None)
    doubted = of_remembered(standing.facts, reconciled.causes, number)
    size = ball_size(reconciled)
    of_size = of_ball_size(size, request.ball_diameter_mm)
    contradictions = (
        *of_size,
        *sightings.contradictions,
        *sightings.remarks,
        *of_files,
        *of_stance,
        *reconciled.said,
        *done.said,
        *of_stand,
    )
    said = (*standing.said, *contradictions, *doubted, *unseen, *standing.twice)
    warnings = notes(request, solved, said, taken)
    reasons = doubts(
        reconciled,
        sightings,
        [keep_out(view) for view in views],
        request.rule,
        stance=of_stance,
        breaks=of_files,
        notes=len(warnings),
        taken=taken,
    )
    reasons = (*doubts_of_size(of_size), *reasons)
    return Result(
        request=request,
        views=views,
        sightings=sightings,
        estimate=solved,
        expanded=known,
        verdict=_verdict(known, request, sightings, reasons),
        warnings=tuple(warnings),
        doubts=reasons,
        facts=standing.facts,
        contradicted=tuple(what for what, _ in reconciled.left),
        ball=size,
    )


def _shown_where_solved(sightings: Sightings, solved: Estimate, cameras: Sequence[SolvedCamera]) -> Sightings:
    """A centre that was carried over is not seen: where it must be in each picture is what the solution says.

    What shows the centre in the same pictures is compared with that.
    """
    if sightings.way != "carried":
        return sightings
    scene, where, x = solved.scene, solved.where, solved.x
    at = where.at(*CENTRE)
    point = (x[at][None], np.eye(3)[None])
    u_mm = np.sqrt(np.diag(solved.covariance)[at])
    sightings = compared_with_solved(sightings, x[at], u_mm, cameras)
    before = () if sightings.earlier is None else sightings.earlier.centre_px
    places = [
        px
        if px is None or (before and before[photo] is not None)
        else project_world(scene, where, x, photo, point, at)[0][0]
        for photo, px in enumerate(sightings.centre_px)
    ]
    return replace(sightings, centre_px=tuple(places))


def _with_stand_test(request: Request, solved: Estimate) -> tuple[Request, tuple[str, ...]]:
    """With the drop under somebody on the bar as photographs tell it; and why it is not used, where it cannot be."""
    if not request.standing:
        return request, ()
    drop_mm, u_mm, with_height = stand_test(solved)
    sag = replace(request.sag, stand_drop_mm=drop_mm, stand_u_mm=u_mm, stand_with_height_mm2=with_height)
    try:
        check_sag(sag)
    except InputError:
        return request, (
            said(
                "By the photographs the ball went down by {drop_mm:.1f} mm with somebody on the bar, which no vehicle does: it is "
                "not used. Was it somebody of that mass, right at the ball, and nothing else moved?",
                drop_mm=drop_mm,
            ),
        )
    return replace(request, sag=sag), ()


def _verdict(known: Expanded, request: Request, sightings: Sightings, reasons: tuple[Difference, ...]) -> Verdict:
    """The rule's verdict by the interval that is reported, and by the distribution that it was made from."""
    return judge(
        known.height_mm,
        known.u_mm,
        request.rule,
        state_of(request),
        request.coupling,
        interval_mm=known.interval_mm,
        samples_mm=known.quantiles_mm,
        what=what_was_measured(sightings.way, request.state.coupled),
        decision=request.decision,
        sag=request.sag,
        doubts=reasons,
    )


def _lacks_depth(request: Request, sightings: Sightings) -> Refusal | None:
    """In a bay without a coupling plane one photograph cannot tell how far away the centre is."""
    if request.bay is None or request.bay.coupling_plane is not None:
        return None
    if sum(px is not None for px in sightings.centre_px) >= 2:
        return None
    return Refusal(
        code="depth-unknown",
        reason=said("The bay file has no coupling plane, and the centre is seen in one photograph only."),
        remedy=said(
            "Add a photograph from another side with the centre marked in it too, or give the bay file a "
            "coupling plane."
        ),
    )
