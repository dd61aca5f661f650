"""Simulated pairs that are solved as one: photographs from before and after, one or more tags on the bar.

Drawn from what the priors claim, but for what hands do to the bar and the sheet, which is drawn here: the bar sinks and
pitches, the sheet is left alone or stood up anew, a tag may have moved on the bar.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from calib.kit.kit import kit
from photomeasure.scene.scene import (
    BAR_TURNS,
    CENTRE,
    OF_THE_RIG,
    OF_THE_SHEET,
    PlaneView,
    Scene,
    mount_of,
    offset_of,
)
from photomeasure.seen.centre.sightings import Sightings
from photomeasure.seen.centre.tag.tag import TagSeen
from photomeasure.solution.geometry import pose_looking
from photomeasure.solution.model import Layout, bar_turn, layout
from photomeasure.solution.scene_of import assembled
from tests.points.simulate import Rng, Shot, _blank_plane, _camera, _sightings, _truth, asked, observed

DEG = float(np.pi / 180.0)
SIDES_MM = {26: 60.0, 27: 60.0, 30: 40.0}
NOW_LENSES_MM = ((250.0, -2100.0, 500.0), (-500.0, -1900.0, 600.0))
BEFORE_LENSES_MM = ((0.0, -2000.0, 450.0), (600.0, -1900.0, 500.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class AsOne:
    """What the estimator is given; heights and places on the bar as they are."""

    scene: Scene
    height_mm: float
    sank_mm: float


def _bars(photos: range, tags: Sequence[int], shot: Shot, *, before: bool) -> tuple[PlaneView, ...]:
    views = []
    for tag in tags:
        corners = TagSeen(id=tag, side_mm=SIDES_MM[tag], corners_px=np.zeros((4, 2)), sigma_px=shot.tag_px).local_mm()
        views += [_blank_plane(photo, "bar-tag", corners, shot.tag_px, "bar tag corners") for photo in photos]
        views[-len(photos) :] = [replace(view, before=before, tag=tag) for view in views[-len(photos) :]]
    return tuple(views)


def as_one(
    rng: Rng,
    *,
    sheet_untouched: bool,
    tags: Sequence[int] = (26,),
    photos: int = 1,
    moved: tuple[int, float] | None = None,
    driven_mm: float = 0.0,
    said_untouched: bool | None = None,
    bare_now: bool = False,
    source: str = "ball",
    centre_tags: tuple[int, int] = (0, 0),
) -> AsOne:
    """One pair. moved: a tag that moved on the bar since before, and how far up. driven_mm: how far the rig went along the
    sheet. bare_now: the ball is in sight on both sides. said_untouched: what the person said of the sheet, where that is
    another thing than what happened. source: what shows the centre before, and now as well where it is in sight then;
    centre_tags: ids of the centre tag now and before.
    """
    told = sheet_untouched if said_untouched is None else said_untouched
    shot = Shot(lenses_mm=(*NOW_LENSES_MM[:photos], *BEFORE_LENSES_MM[:photos]), source=source)
    now, then = range(photos), range(photos, 2 * photos)
    local = kit("a4").upright.local_mm(kit("a4").upright.points_mm)
    planes = tuple(
        replace(_blank_plane(photo, "upright", local, shot.corner_px), before=photo >= photos)
        for photo in (*now, *then)
    )
    seen = Scene(
        cameras=(_camera(shot),), camera_of=(0,) * (2 * photos), planes=planes, bars_mm=kit("a4").upright.bars_mm,
        own=OF_THE_RIG if told else OF_THE_RIG | OF_THE_SHEET,
    )  # fmt: skip
    ball = _sightings(shot, then)
    earlier = replace(
        ball,
        outlines=tuple(replace(view, before=True) for view in ball.outlines),
        tags=tuple(replace(view, before=True) for view in ball.tags),
        centre_tag=centre_tags[1] if source == "tag" else None,
        bars=_bars(then, tags, shot, before=True),
        bar_tags=tuple(tags),
    )
    sighted = Sightings(
        way="carried", centre_px=(None,) * (2 * photos), bars=_bars(now, tags, shot, before=False),
        bar_tags=tuple(tags), earlier=earlier,
    )  # fmt: skip
    if bare_now:
        seen_now = replace(_sightings(shot, now), centre_tag=centre_tags[0] if source == "tag" else None)
        sighted = replace(seen_now, bars=sighted.bars, bar_tags=sighted.bar_tags, earlier=earlier)
    aside = float(rng.uniform(-200.0, 200.0))
    aside_now = aside if sheet_untouched else aside + float(rng.uniform(-30.0, 30.0))
    request = replace(asked(shot), before_photos=photos, sheet_untouched=told)
    scene = assembled(seen, sighted, request, aside_mm=aside_now, earlier_aside_mm=aside)
    where = layout(scene)
    x = _truth(scene, where, shot, aside, rng)
    _set_bar(scene, where, x, rng, tags=tags, aside=aside, aside_now=aside_now + driven_mm, touched=not sheet_untouched)
    for photo, lens in enumerate(shot.lenses_mm):
        target = np.array([aside / 2.0, 0.0, 250.0]) + rng.normal(0.0, 40.0, 3)
        x[where.pose(photo)] = pose_looking(np.array(lens) + rng.normal(0.0, shot.scatter_mm, 3), target)
    pictured = observed(scene, where, x, rng)
    if moved is not None:
        pictured = _with_moved(pictured, scene, where, x, rng, *moved)
    slope = np.zeros(len(x))
    for names, sign in ((scene.earlier or {}, 1.0), (scene.measurand, -1.0)):
        for name, value in names.items():
            slope[where.index[name]] += sign * value
    height = sum(value * x[where.index[name]] for name, value in scene.measurand.items())
    return AsOne(scene=pictured, height_mm=float(height), sank_mm=float(slope @ x))


def _set_bar(
    scene: Scene, where: Layout, x: NDArray[np.float64], rng: Rng, *, tags: Sequence[int], aside: float,
    aside_now: float, touched: bool,
) -> None:  # fmt: skip
    """Ball, bar and tags: where they were, and where they are after the bar sank and pitched."""
    then = scene.names((*CENTRE, *BAR_TURNS), before=True)
    angles = np.array([rng.normal(0.0, 25.0), rng.normal(0.0, 5.0), rng.normal(0.0, 6.0)]) * DEG
    ball = np.array([aside, x[where.index[then[1]]], rng.uniform(380.0, 520.0)])
    x[where.at(*then[:3])] = ball
    if tags:
        x[where.at(*then[3:])] = angles
    for number, tag in enumerate(tags):
        away = float(rng.uniform(60.0, 200.0))
        place = np.array([away * rng.choice([-1.0, 1.0]), rng.uniform(-40.0, -10.0), rng.uniform(-60.0, 20.0)])
        offset = offset_of(None if number == 0 else tag)
        x[where.at(*offset)] = -bar_turn(*angles).T @ place
        if number:
            x[where.at(*mount_of(tag))] = np.array([rng.normal(0.0, 10.0), *rng.normal(0.0, 5.0, 2)]) * DEG
    pitch = np.array([0.0, 0.0, rng.uniform(0.0, 2.0)]) * DEG
    stood = np.array([rng.normal(0.0, 5.6) if touched else 0.0, 0.0, 0.0]) * DEG
    y = x[where.index["centre.y"]] if touched else ball[1] + rng.normal(0.0, 2.0)
    x[where.at(*CENTRE)] = aside_now, y, ball[2] - rng.uniform(10.0, 80.0)
    if tags:
        x[where.at(*BAR_TURNS)] = angles + pitch + stood


def _with_moved(
    pictured: Scene, scene: Scene, where: Layout, x: NDArray[np.float64], rng: Rng, tag: int, up_mm: float
) -> Scene:
    """The scene as pictured, a tag's views of now taken where it moved to."""
    frame = tag == min(SIDES_MM)
    shifted = x.copy()
    shifted[where.index[offset_of(None if frame else tag)[2]]] -= up_mm
    again = observed(scene, where, shifted, rng)
    named = None if frame else tag
    planes = tuple(
        other if view.plane.endswith("bar-tag") and not view.before and view.tag == named else view
        for view, other in zip(pictured.planes, again.planes, strict=True)
    )
    return replace(pictured, planes=planes)
