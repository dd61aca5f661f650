"""Where the estimator starts: a first guess of everything, from the photographs' own poses (`pose_starts`).

Nothing here is a result; a start only has to be near enough for the optimum to be reached.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from calib.camera.camera import unproject
from photomeasure.scene.bar_tag import MOVED
from photomeasure.scene.scene import BAR_TURNS, BEFORE, CENTRE, SECOND_PLACE, SECOND_PRINT, Scene
from photomeasure.solution.bar_tag_starts import (
    at_bar_tag,
    bar_tag_lies,
    first_views,
    further_tag_at,
    is_known,
    shows_centre,
)
from photomeasure.solution.model import Layout, cam_from_world, intrinsics_of, rotation_matrix
from photomeasure.solution.pose_starts import planar_starts, turn_lean_roll
from photomeasure.solution.rows import prior_rows

_UPRIGHT_RAD = 0.03  # by which an upright sheet leans or rolls at most, as a rule
TAG_TURN_START_RAD = 0.4  # at 0 the tag's width does not depend on its turn: no start


def prior_means(scene: Scene, where: Layout) -> NDArray[np.float64]:
    """(P,) the parameters that the priors alone say (least squares of least length); what no prior names is 0.

    So are the survey errors of points: each has a prior of its own, of mean 0, and is in no other.
    """
    x = np.zeros(len(where.names))
    residual, jacobian, _ = prior_rows(scene, where, x)
    named = np.asarray(jacobian.any(axis=0), dtype=np.bool_)
    named[where.at(*(f"{name}.{axis}" for name in where.points for axis in "xyz"))] = False
    own = jacobian[:, named].any(axis=1)
    x[named] = np.linalg.lstsq(-jacobian[np.ix_(own, named)], residual[own], rcond=None)[0]
    return x


def first_guess(scene: Scene, where: Layout, poses: list[NDArray[np.float64]]) -> NDArray[np.float64]:
    """(P,) all parameters at the means of their priors, poses (6,) of the photographs and what hangs on them as the starts have it."""
    x = prior_means(scene, where)
    for photo, pose in enumerate(poses):
        x[where.pose(photo)] = pose
    if "stand.y" in where.index:
        _guess_stand(scene, where, x)
    for before in (True, False):
        _guess_second(scene, where, x, before=before)
    for before in (True, False):  # what the photographs from before tell starts those from after
        _guess_side_of(scene, where, x, before=before)
    if scene.lines:
        _guess_side(scene, where, x)
    return x


def _guess_side_of(scene: Scene, where: Layout, x: NDArray[np.float64], *, before: bool) -> None:
    """What photographs of one side of a pair show, or of now where there is no pair."""
    named = scene.names((*CENTRE, *BAR_TURNS, "flat.y", "tag.turn"), before=before)
    centre, turns, flat, tag = named[:3], named[3:6], named[6], named[7]
    if any(view.plane == "ground" and view.before is before for view in scene.planes) and flat in where.index:
        _guess_ground_sheet(scene, where, x, before=before)
    bars = first_views(scene, before=before)
    if shows_centre(scene, before=before):
        x[where.at(*centre)] = _guess_centre(scene, where, x, before=before)
    elif not bars:
        return
    if bars:
        if not before and f"{BEFORE}{BAR_TURNS[0]}" in where.index:
            x[where.at(*turns)] = x[where.at(*(f"{BEFORE}{name}" for name in BAR_TURNS))]
        at_bar_tag(scene, where, x, bar_tag_lies(scene, where, x, bars[0])[0], bars[0])
        for view in bars[1:]:
            if not is_known(scene, view):
                further_tag_at(scene, where, x, bar_tag_lies(scene, where, x, view)[0], view)
    if tag in where.index and any(view.plane == "tag" and view.before is before for view in scene.planes):
        x[where.index[tag]] = TAG_TURN_START_RAD


def mirrored_bar_tags(scene: Scene, where: Layout, x: NDArray[np.float64]) -> Iterator[NDArray[np.float64]]:
    """Other starts (P,): each bar tag on each side of the pair in the other of the two poses that its corners allow."""
    for before in (True, False):
        views = first_views(scene, before=before)
        for number, view in enumerate(views):
            if number > 0 and is_known(scene, view):
                continue
            for lie in bar_tag_lies(scene, where, x, view)[1:]:
                start = x.copy()
                if number > 0:
                    further_tag_at(scene, where, start, lie, view)
                else:
                    at_bar_tag(scene, where, start, lie, view)
                    for other in views[1:]:
                        if not is_known(scene, other):
                            further_tag_at(scene, where, start, bar_tag_lies(scene, where, start, other)[0], other)
                    if before:
                        _guess_side_of(scene, where, start, before=False)
                yield start


def _rays_world(
    scene: Scene, where: Layout, x: NDArray[np.float64], photo: int, px: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Camera centre (3,) and ray directions (N, 3) of pixels in the world frame."""
    turn, move = cam_from_world(where, x, photo)
    rays = unproject(intrinsics_of(scene, where, x, photo), px)
    return -turn.T @ move, rays @ turn


def _guess_stand(scene: Scene, where: Layout, x: NDArray[np.float64]) -> None:
    """Where the upright sheet stands in a bay, from the first photograph that shows it."""
    view = next(view for view in scene.planes if view.plane == "upright-in-bay")
    pose, _ = planar_starts(view, intrinsics_of(scene, where, x, view.photo))[0]
    turn, move = cam_from_world(where, x, view.photo)
    world_from_sheet = turn.T @ rotation_matrix(pose[:3])
    at = turn.T @ (pose[3:] - move)
    yaw = float(np.arctan2(world_from_sheet[1, 0], world_from_sheet[0, 0]))
    x[where.at("stand.x", "stand.y", "stand.yaw")] = at[0], at[1], yaw


def _guess_second(scene: Scene, where: Layout, x: NDArray[np.float64], *, before: bool) -> None:
    """Where a second upright sheet stands and how it is turned, by the more upright of the poses that its corners allow."""
    view = next((view for view in scene.planes if view.plane == "second-upright" and view.before is before), None)
    if view is None:
        return
    turn, move = cam_from_world(where, x, view.photo)
    scale = float(x[where.index[SECOND_PRINT[0]]])
    lies = []
    for pose, error_px in planar_starts(
        replace(view, local_mm=scale * view.local_mm), intrinsics_of(scene, where, x, view.photo)
    ):
        yaw, lean, roll = turn_lean_roll(turn.T @ rotation_matrix(pose[:3]))
        unlikely = float(np.hypot(lean, roll) / _UPRIGHT_RAD) ** 2 + (error_px / float(view.sigma_px[0])) ** 2
        lies.append((unlikely, yaw, turn.T @ (pose[3:] - move)))
    _, yaw, foot = min(lies, key=lambda one: one[0])
    x[where.at(*scene.names((*SECOND_PLACE, "second.yaw"), before=before))] = foot[0], foot[1], yaw


def _guess_ground_sheet(scene: Scene, where: Layout, x: NDArray[np.float64], *, before: bool) -> None:
    view = next(view for view in scene.planes if view.plane == "ground" and view.before is before)
    centre, rays = _rays_world(scene, where, x, view.photo, view.px)
    flat = centre + rays * (-centre[2] / rays[:, 2])[:, None]
    # similarity from printed to ground coordinates, as complex numbers
    printed = view.local_mm[:, 0] + 1j * view.local_mm[:, 1]
    seen = flat[:, 0] + 1j * flat[:, 1]
    middle_printed, middle_seen = printed.mean(), seen.mean()
    turn = np.vdot(printed - middle_printed, seen - middle_seen)
    yaw = float(np.angle(turn))
    origin = middle_seen - np.exp(1j * yaw) * middle_printed
    x[where.at(*scene.names(("flat.x", "flat.y", "flat.yaw"), before=before))] = origin.real, origin.imag, yaw


def _guess_side(scene: Scene, where: Layout, x: NDArray[np.float64]) -> None:
    """Where the points of the trailer's side are, taking it to be in the upright plane that the priors say."""
    depth = x[where.index["side.depth"]]
    places: list[NDArray[np.float64]] = []
    for view in scene.lines:
        back = depth + (x[where.index["side.step"]] if view.line == "rail" else 0.0)
        centre, rays = _rays_world(scene, where, x, view.photo, view.px)
        seen = centre + rays * ((back - centre[1]) / rays[:, 1])[:, None]
        x[where.at(*view.along)] = seen[:, 0]
        if view.line == "rail":
            places.append(seen)
    rail = np.concatenate(places)
    slope, height = np.polyfit(rail[:, 0], rail[:, 2], 1)
    x[where.at("side.pitch", "side.height")] = np.arctan(slope), height


def _guess_centre(scene: Scene, where: Layout, x: NDArray[np.float64], *, before: bool) -> NDArray[np.float64]:
    """Where the first sighting of the centre meets the sheet's plane (or the plane that a prior states)."""
    photo, px = _centres_seen(scene, before=before)[0]
    centre, rays = _rays_world(scene, where, x, photo, px[None])
    named = scene.names(CENTRE, before=before)
    plane = next((p for p in scene.priors if p.quantity == "depth" and p.coefficients.keys() & set(named)), None)
    if plane is None and any(prior.quantity == MOVED for prior in scene.priors) and not before:
        there = x[where.at(*scene.names(CENTRE, before=True))]
        return np.asarray(centre + rays[0] * ((there[1] - centre[1]) / rays[0, 1]), dtype=np.float64)
    if plane is None:
        return _nearest_to_rays(scene, where, x, before=before)
    normal = np.array([plane.coefficients.get(name, 0.0) for name in named])
    along = (plane.mean - normal @ centre) / (normal @ rays[0])
    return np.asarray(centre + rays[0] * along, dtype=np.float64)


def _centres_seen(scene: Scene, *, before: bool) -> list[tuple[int, NDArray[np.float64]]]:
    """Photograph and pixel of each sighting: marks first, then outlines, then centre tags."""
    found = [(view.photo, view.px) for view in scene.points if view.before is before]
    found += [(view.photo, view.px.mean(axis=0)) for view in scene.outlines if view.before is before]
    tags = [view for view in scene.planes if view.plane == "tag" and view.before is before]
    return found or [(view.photo, view.px.mean(axis=0)) for view in tags]


def _nearest_to_rays(scene: Scene, where: Layout, x: NDArray[np.float64], *, before: bool) -> NDArray[np.float64]:
    """(3,) the point nearest to all rays on which the centre was seen."""
    normal, right = np.zeros((3, 3)), np.zeros(3)
    for photo, px in _centres_seen(scene, before=before):
        centre, rays = _rays_world(scene, where, x, photo, px[None])
        along = rays[0] / np.linalg.norm(rays[0])
        across = np.eye(3) - np.outer(along, along)
        normal += across
        right += across @ centre
    return np.asarray(np.linalg.solve(normal, right), dtype=np.float64)
