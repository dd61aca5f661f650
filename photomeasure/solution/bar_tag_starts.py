"""Where a tow bar and its tags may lie, by one view of each tag; nothing here is a result (see `starts`)."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from photomeasure.scene.bar_tag import CARRIED
from photomeasure.scene.scene import BAR_TURNS, CENTRE, PlaneView, Scene, mount_of, offset_of
from photomeasure.solution.model import Layout, bar_turn, cam_from_world, intrinsics_of, rotation_matrix
from photomeasure.solution.pose_starts import planar_starts, turn_lean_roll

_USUAL_LIE_RAD = np.array([0.8, 0.25, 0.35])
Lie = tuple[NDArray[np.float64], NDArray[np.float64]]  # turn, lean, roll (3,); the tag's middle in the world (3,)


def shows_centre(scene: Scene, *, before: bool) -> bool:
    """Whether anything shows the centre itself and not only a bar tag that it is carried over by."""
    return any(one is before for _, one in scene.centre_sights) or any(
        view.plane == "tag" and view.before is before for view in scene.planes
    )


def first_views(scene: Scene, *, before: bool) -> list[PlaneView]:
    """The first view of each bar tag on one side of a pair: the first tag's before the others'."""
    found: dict[int | None, PlaneView] = {}
    for view in scene.planes:
        if view.plane in ("bar-tag", "further-bar-tag") and view.before is before:
            found.setdefault(view.tag, view)
    return sorted(found.values(), key=lambda view: view.tag is not None)


def is_known(scene: Scene, view: PlaneView) -> bool:
    """Whether something else than this side of the pair tells where a further tag is on the bar."""
    if view.tag is None:
        return False
    carried = any(prior.quantity == CARRIED and offset_of(view.tag)[0] in prior.coefficients for prior in scene.priors)
    return carried or (not view.before and any(one.before and one.tag == view.tag for one in scene.planes))


def bar_tag_lies(scene: Scene, where: Layout, x: NDArray[np.float64], view: PlaneView) -> list[Lie]:
    """How a bar tag can lie, by one view of it at the parameters x (P,): both planar poses, the likelier first."""
    turn, move = cam_from_world(where, x, view.photo)
    expected = x[where.at(*scene.names(BAR_TURNS, before=view.before))]
    lies = []
    for pose, error_px in planar_starts(view, intrinsics_of(scene, where, x, view.photo)):
        world_from_tag = turn.T @ rotation_matrix(pose[:3])
        angles = turn_lean_roll(world_from_tag)
        unlikely = (
            float((((angles - expected) / _USUAL_LIE_RAD) ** 2).sum()) + (error_px / float(view.sigma_px[0])) ** 2
        )
        lies.append((unlikely, (angles, turn.T @ (pose[3:] - move))))
    return [lie for _, lie in sorted(lies, key=lambda one: one[0])]


def at_bar_tag(scene: Scene, where: Layout, x: NDArray[np.float64], lie: Lie, view: PlaneView) -> None:
    """Set in x (P,) how the bar lies by one of its tags, and with it the offset of a centre that is seen, or a centre that is
    carried over by its offset."""
    angles, middle = lie
    world_from_bar = bar_turn(*angles)
    if view.tag is not None:
        world_from_bar = world_from_bar @ bar_turn(*x[where.at(*mount_of(view.tag))]).T
    turns = where.at(*scene.names(BAR_TURNS, before=view.before))
    centre, offset = where.at(*scene.names(CENTRE, before=view.before)), where.at(*offset_of(view.tag))
    x[turns] = turn_lean_roll(world_from_bar)
    known = not view.before and any(one.before and one.tag == view.tag for one in scene.planes)
    if not shows_centre(scene, before=view.before):
        x[centre] = middle + world_from_bar @ x[offset]
    elif not known:
        x[offset] = world_from_bar.T @ (x[centre] - middle)


def further_tag_at(scene: Scene, where: Layout, x: NDArray[np.float64], lie: Lie, view: PlaneView) -> None:
    """Set in x (P,) where a further tag is on the bar: its mount against the first tag, and the centre's offset from it."""
    assert view.tag is not None
    angles, middle = lie
    world_from_bar = bar_turn(*x[where.at(*scene.names(BAR_TURNS, before=view.before))])
    centre = x[where.at(*scene.names(CENTRE, before=view.before))]
    x[where.at(*mount_of(view.tag))] = turn_lean_roll(world_from_bar.T @ bar_turn(*angles))
    x[where.at(*offset_of(view.tag))] = world_from_bar.T @ (centre - middle)
