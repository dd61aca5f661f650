"""From what was found in the photographs to a scene that the estimator can solve."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from calib.finding.sheets import FoundSheet
from calib.kit.sheet import FIRST_BARS_MM
from calib.words.said import joined, said
from photomeasure.asked.bars import Bars
from photomeasure.asked.limits import bars_meant
from photomeasure.scene.bar_tag import (
    PLACEMENT,
    bar_tag_priors,
    carried_priors,
    further_tag_priors,
    placement_prior,
    since_before_priors,
)
from photomeasure.scene.ground import bay_ground_prior, ground_priors
from photomeasure.scene.paper import on_uncut_paper, paper_priors, paper_vouches
from photomeasure.scene.print_scale import print_priors
from photomeasure.scene.priors import (
    TAG_DEPTH_MEAN_MM,
    TAG_DEPTH_U_MM,
    ball_priors,
    depth_priors,
    ground_sheet_priors,
    mark_prior,
    plane_prior,
    sheet_priors,
    stand_priors,
    tag_depth_priors,
    tag_priors,
)
from photomeasure.scene.scene import (
    BETWEEN,
    CENTRE,
    OF_THE_RIG,
    OF_THE_SHEET,
    CameraPrior,
    MarkerView,
    PlaneName,
    PlaneView,
    Prior,
    Scene,
)
from photomeasure.scene.second import LINE, Apart, in_line_prior, second_print_priors, second_stance_priors
from photomeasure.solution.copies import without_copies
from photomeasure.solution.second_sheet import apart_of
from photomeasure.solution.shared import known_rows

if TYPE_CHECKING:
    from photomeasure.asked.request import Request
    from photomeasure.scene.solved_camera import SolvedCamera
    from photomeasure.seen.centre.sightings import Sightings
    from photomeasure.seen.look import View

TAG_PLACEMENT = "tag.placement"
SIGMA_FLOOR_PX = 0.02  # paper, print and lens are never better than this


def _plane_view(photo: int, found: FoundSheet, upright: PlaneName, *, before: bool) -> PlaneView:
    return PlaneView(
        photo=photo,
        plane=upright if found.sheet.role == "upright" else "ground",
        local_mm=found.sheet.local_mm(found.sheet.points_mm[found.index]),
        px=found.points_px,
        sigma_px=np.maximum(found.sigma_px, SIGMA_FLOOR_PX),
        before=before,
    )


def cameras_of(views: Sequence[View]) -> tuple[tuple[CameraPrior, ...], tuple[int, ...]]:
    """One camera for all photographs that say the same of it, whenever they were taken: they share its errors."""
    keys: list[tuple[object, ...]] = []
    cameras: list[CameraPrior] = []
    camera_of: list[int] = []
    for view in views:
        camera = view.camera
        alike = replace(view.photo.facts, taken=None)
        key = (alike, camera.kind, camera.size_px, camera.mean.tobytes(), camera.basis.tobytes())
        if key not in keys:
            keys.append(key)
            cameras.append(view.camera)
        camera_of.append(keys.index(key))
    return tuple(cameras), tuple(camera_of)


def seen_scene(views: Sequence[View], request: Request) -> Scene:
    """Cameras, sheets and surveyed markers as they were seen; nothing is known of them yet."""
    cameras, camera_of = cameras_of(views)
    upright: PlaneName = "upright" if request.bay is None else "upright-in-bay"
    markers: list[MarkerView] = []
    if request.bay is not None:
        markers = [view.markers.view(i, request.bay.u_mm) for i, view in enumerate(views) if view.markers is not None]
    return Scene(
        cameras=cameras,
        camera_of=camera_of,
        planes=tuple(
            _plane_view(photo, found, plane, before=view.before)
            for photo, view in enumerate(views)
            for found, plane in (*((one, upright) for one in view.finding.sheets), *_second(view))
        ),
        markers=tuple(markers),
        bars_mm=bars_printed_mm(views, request.bars),
        second_bars=next((view.second_bars for view in views if view.finding.second is not None), Bars()),
        own=_own(views, request),
    )


def _second(view: View) -> tuple[tuple[FoundSheet, PlaneName], ...]:
    return () if view.finding.second is None else ((view.finding.second, "second-upright"),)


def _own(views: Sequence[View], request: Request) -> frozenset[str]:
    """What photographs from before have for themselves."""
    if not any(view.before for view in views):
        return frozenset()
    return OF_THE_RIG if request.sheet_untouched else OF_THE_RIG | OF_THE_SHEET


def of_sheets(seen: Scene, request: Request) -> list[Prior]:
    """What is known of the kit's sheets that are seen."""
    names = {plane.plane for plane in seen.planes}
    priors = print_priors(request.bars, seen.bars_mm) if names else []
    if "second-upright" in names:
        priors += second_print_priors(seen.second_bars, seen.bars_mm, priors)
    if not seen.own >= OF_THE_SHEET:
        return priors + _of_stance(seen, seen.planes, request)
    now, before = (tuple(plane for plane in seen.planes if plane.before is then) for then in (False, True))
    return [*priors, *_of_stance(seen, now, request), *_as_before(seen, _of_stance(seen, before, request))]


def _of_stance(seen: Scene, planes: Collection[PlaneView], request: Request) -> list[Prior]:
    """How sheets that are seen stand and lie."""
    names = {plane.plane for plane in planes}
    priors = sheet_priors() if {"upright", "upright-in-bay"} & set(names) else []
    if "upright-in-bay" in names:
        priors += stand_priors()
    if "ground" in names:
        priors += ground_sheet_priors()
    apart = apart_of(seen.cameras, seen.camera_of, planes)
    if apart is not None:
        flat = request.state.level_ground is True
        priors += second_stance_priors(apart, flat=flat, level_within_mm_per_m=request.level_within_mm_per_m)
    return priors


def _as_before(scene: Scene, priors: Sequence[Prior]) -> list[Prior]:
    """The same of what photographs from before have for themselves."""
    return [replace(prior, coefficients=_before(scene, prior.coefficients)) for prior in priors]


def _before(scene: Scene, coefficients: Mapping[str, float], kept: Collection[str] = ()) -> dict[str, float]:
    """By the names of before; kept: parameters that are one and the same before and now."""
    names = scene.names(tuple(coefficients), before=True)
    return {
        old if old in kept else name: value
        for old, name, value in zip(coefficients, names, coefficients.values(), strict=True)
    }


def _same_tag(now: Sightings, earlier: Sightings) -> bool:
    """Whether one and the same centre tag, which nobody touched in between, stands for the centre: it was placed once."""
    return (
        now.way == "tag"
        and earlier.way == "tag"
        and now.centre_tag is not None
        and now.centre_tag == earlier.centre_tag
    )


def bars_printed_mm(views: Sequence[View], bars: Bars) -> tuple[float, float]:
    """Length of the check bars as drawn, by the edition of the upright sheet that is seen, else by what they read."""
    sheets = [found.sheet for view in views for found in view.finding.sheets]
    upright = next((sheet for sheet in sheets if sheet.role == "upright"), None)
    if upright is not None or not sheets:
        return FIRST_BARS_MM if upright is None else upright.bars_mm
    return bars_meant(sheets[0], (bars.x_mm, bars.y_mm))


def pose_scene(views: Sequence[View], request: Request) -> Scene:
    """Only sheets and markers: tells where the cameras stood. The measurand is a formality."""
    seen = seen_scene(views, request)
    posed = replace(seen, priors=tuple(of_sheets(seen, request)), measurand={"photo0.tz": 1.0})
    return without_copies(posed, [view.copy for view in views])


def ground_of(request: Request, distance_mm: float) -> tuple[Prior, ...]:
    """In a bay the ground was surveyed with the markers; with the kit it grows with the distance from the foot line."""
    if request.bay is not None:
        return (bay_ground_prior(request.bay.u_mm),)
    flat = request.state.level_ground is True
    return tuple(ground_priors(distance_mm, flat=flat, level_within_mm_per_m=request.level_within_mm_per_m))


def _amid(apart: Apart | None, aside_mm: float) -> bool:
    """Whether a coupling stands between the two feet: then both sheets were stood up in its plane, one on either side."""
    return apart is not None and 0.0 < apart.share(aside_mm) < 1.0


def _depth(
    request: Request,
    sightings: Sightings,
    aside_mm: float,
    lens_mm: NDArray[np.float64] | None,
    apart: Apart | None = None,
) -> list[Prior]:
    """What is known of the centre's depth: by the sheet's plane, or by the bay's coupling plane, where it has one.

    apart: from the first sheet's foot to a second one's.

    lens_mm: (3,) where the first photograph was taken from; a tag, or a mark on what hides the centre, is on the near side of
    the coupling.
    """
    near_side = sightings.way == "tag" or sightings.hidden
    if request.bay is None:
        known = tag_depth_priors(aside_mm) if near_side else depth_priors(aside_mm)
        if apart is None or not _amid(apart, aside_mm):
            return known
        line = in_line_prior(apart, aside_mm)
        return [
            replace(known[0], coefficients=line.coefficients, source=joined([known[0].source, LINE]))
            if near_side
            else line
        ]
    if request.bay.coupling_plane is None:
        return []
    plane = plane_prior(request.bay.coupling_plane)
    if not near_side or lens_mm is None:
        return [plane]
    near = float(np.sign(sum(plane.coefficients[name] * lens_mm[i] for i, name in enumerate(CENTRE)) - plane.mean))
    return [
        replace(
            plane,
            mean=plane.mean - near * TAG_DEPTH_MEAN_MM,
            u=float(np.hypot(plane.u, TAG_DEPTH_U_MM)),
            source=said("{source}, tag or mark on the near side of the coupling (judgement)", source=plane.source),
        )
    ]


def measuring_scene(
    views: Sequence[View], sightings: Sightings, request: Request, cameras: Sequence[SolvedCamera]
) -> Scene:
    """Sheets, markers and the centre as it was sighted. cameras: of each photograph."""
    earlier = sightings.earlier
    scene = assembled(
        seen_scene(views, request),
        sightings,
        request,
        aside_mm=aside_mm(sightings, cameras),
        lens_mm=cameras[0].lens_mm,
        earlier_aside_mm=0.0 if earlier is None else aside_mm(earlier, cameras),
    )
    return without_copies(_with_paper(scene, views, request), [view.copy for view in views])


def _with_paper(scene: Scene, views: Sequence[View], request: Request) -> Scene:
    """What is seen of the paper itself; its width checks bars that were typed, and is no measurement in place of them."""
    papers = [view.paper for view in views]
    ground_seen = any(view.plane == "ground" for view in scene.planes)  # tells itself, and is white below the foot line
    priors = list(scene.priors) if ground_seen else on_uncut_paper(scene.priors, papers)
    upright = next((found for view in views if (found := view.finding.of_role("upright")) is not None), None)
    if upright is not None and request.bars.x_mm is not None and request.bars.y_mm is not None:
        typed = request.bars.x_mm / upright.sheet.bars_mm[0]
        priors += paper_priors(papers, upright.sheet.width_mm, typed)
        scene = replace(scene, paper_vouches=paper_vouches(papers, upright.sheet.width_mm, typed))
    return replace(scene, priors=tuple(priors))


def assembled(
    seen: Scene,
    sightings: Sightings,
    request: Request,
    *,
    aside_mm: float,
    lens_mm: NDArray[np.float64] | None = None,
    earlier_aside_mm: float = 0.0,
) -> Scene:
    """The whole scene: to cameras, sheets and markers comes the centre, and what is known of everything (priors, measurand).

    aside_mm: of the coupling, to the right of the foot line's middle. lens_mm: (3,) of the first photograph, where it matters.
    """
    earlier, untouched = sightings.earlier, bool(request.sheet_untouched)
    frame = _frame(sightings, request)
    sides = [(sightings, aside_mm, False)] + ([] if earlier is None else [(earlier, earlier_aside_mm, True)])
    planes, priors = list(seen.planes), of_sheets(seen, request)
    if not planes and any(side.tags or side.bars for side, _, _ in sides):
        priors += print_priors(request.bars)  # in a bay without the kit the tags are the only print
    one_tag = untouched and earlier is not None and _same_tag(sightings, earlier)
    measurands: list[dict[str, float]] = []
    for side, aside, before in sides:
        apart = apart_of(
            seen.cameras, seen.camera_of, [view for view in seen.planes if view.before is before or untouched]
        )
        ground = ground_of(request, abs(aside) if apart is None else apart.to_nearer_foot_mm(aside))
        measurand = {"centre.z": 1.0, **{name: -1.0 for prior in ground for name in prior.coefficients}}
        if apart is not None:
            measurand[BETWEEN] = -apart.share(aside)
        known = [] if before and untouched else list(ground)
        planes += side.tags
        if side.way == "tag":
            known += tag_priors(by_gauge=request.tag_by_gauge is True)
            measurand[TAG_PLACEMENT] = 1.0
        if side.way == "pick" and side.hidden:
            known.append(mark_prior(request.coupling))
            measurand["mark.placement"] = 1.0
        if before or earlier is None or not untouched:  # else it is where it was before
            known += _depth(request, side, aside, lens_mm, apart)
        planes += [_of_frame(view, frame) for view in side.bars]
        if side.bars and side.way != "carried" and (before or earlier is None or not earlier.bars):
            known += bar_tag_priors()
        if before:
            kept = {TAG_PLACEMENT} if one_tag else set()
            known = [prior for prior in known if not kept & prior.coefficients.keys()]
            known, measurand = _as_before(seen, known), _before(seen, measurand, kept)
        priors += known
        measurands.append(measurand)
    if sightings.way == "carried" and earlier is not None:  # what was carried is the mark or the tag, not the centre
        measurands[0].update({name: 1.0 for name in measurands[1] if name.endswith(".placement")})
    if sightings.way == "carried" and request.carried is not None and request.carried.placement_mm > 0.0:
        priors.append(placement_prior(request.carried))
        measurands[0][PLACEMENT] = 1.0
    priors += _of_balls([side for side, _, _ in sides], request)
    if earlier is not None:
        bar = bool(earlier.bars and sightings.bars)
        priors += since_before_priors(bar=bar, sheet_untouched=untouched)
    if request.carried is None:
        further = {view.tag for view in planes if view.plane == "further-bar-tag" and view.tag is not None}
        priors += further_tag_priors(sorted(further))
    scene = replace(
        seen,
        planes=tuple(planes),
        points=tuple(view for side, _, _ in sides for view in side.points),
        outlines=tuple(view for side, _, _ in sides for view in side.outlines),
        priors=tuple(priors),
        measurand=measurands[0],
        earlier=measurands[1] if earlier is not None else None,
    )
    if request.carried is None or sightings.way != "carried":
        return scene
    return replace(scene, priors=(*scene.priors, *carried_priors(request.carried, known_rows(scene))))


def _frame(sightings: Sightings, request: Request) -> int | None:
    """The bar tag whose frame the centre's offset is in: the record's first one, else the first that both sides show."""
    if request.carried is not None:
        return request.carried.tag
    return sightings.bar_tags[0] if sightings.bar_tags else None


def _of_frame(view: PlaneView, frame: int | None) -> PlaneView:
    """A view of a bar tag as the model has it: the first one, whose frame is the bar's, or a further one."""
    if view.tag == frame:
        return replace(view, tag=None)
    return replace(view, plane="further-bar-tag")


def _of_balls(sides: Sequence[Sightings], request: Request) -> list[Prior]:
    """One ball in all photographs, with an edge in each of them."""
    photos = sorted({view.photo for side in sides for view in side.outlines})
    if not photos:
        return []
    looks_mm = next((side.looks_mm for side in sides if side.looks_mm is not None), None)
    return ball_priors(request.ball_diameter_mm, photos, looks_mm)


def aside_mm(sightings: Sightings, cameras: Sequence[SolvedCamera]) -> float:
    """How far to the right of the foot line's middle the coupling stands, taking it to be in the sheet's plane."""
    for px, camera in zip(sightings.centre_px, cameras, strict=True):
        if px is not None:
            lens, ray = camera.lens_mm, camera.ray(px)
            return float(lens[0] - ray[0] * lens[1] / ray[1])
    return 0.0
