"""Simulated pairs of one rig: the bare ball with a bar tag, then the tag alone with the bar sunk and pitched.

Everything that the priors speak of is drawn from them; the sheet is left untouched or stood up again, the camera stands
elsewhere, the bar sinks and pitches, the tag lies as people stick it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from calib.kit.kit import kit
from photomeasure.asked.carried import Carried
from photomeasure.interval.carried import bar_of
from photomeasure.scene.bar_tag import PLACEMENT
from photomeasure.scene.scene import BAR_TURNS, CENTRE, OFFSET, Scene
from photomeasure.seen.centre.sightings import Sightings
from photomeasure.seen.centre.tag.tag import TagSeen
from photomeasure.solution.estimate import Estimate, estimate
from photomeasure.solution.model import Layout, bar_turn, layout
from photomeasure.solution.scene_of import assembled
from tests.points.simulate import Rng, Shot, _blank_plane, _camera, _sightings, _truth, asked, observed

TAG, SIDE_MM = 26, 60.0
DEG = float(np.pi / 180.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """What came of one pair: heights and sink as solved (Estimates), and as they are."""

    before: Estimate
    after: Estimate
    carried: Carried
    height_before_mm: float
    height_after_mm: float

    @property
    def sink_mm(self) -> float:
        return self.height_before_mm - self.height_after_mm


def _scene(shot: Shot, sightings: Sightings, carried: Carried | None, aside_mm: float) -> Scene:
    the_kit, photos = kit("a4"), range(len(shot.lenses_mm))
    local = the_kit.upright.local_mm(the_kit.upright.points_mm)
    planes = tuple(_blank_plane(photo, "upright", local, shot.corner_px) for photo in photos)
    cameras, camera_of, bars_mm = (_camera(shot),), (0,) * len(photos), the_kit.upright.bars_mm
    seen = Scene(cameras=cameras, camera_of=camera_of, planes=planes, bars_mm=bars_mm)
    return assembled(seen, sightings, replace(asked(shot), carried=carried), aside_mm=aside_mm)


def _with_bar(sightings: Sightings, shot: Shot) -> Sightings:
    corners = TagSeen(id=TAG, side_mm=SIDE_MM, corners_px=np.zeros((4, 2)), sigma_px=shot.tag_px).local_mm()
    bars = tuple(
        replace(_blank_plane(photo, "bar-tag", corners, shot.tag_px, "bar tag corners"), tag=TAG)
        for photo in range(len(shot.lenses_mm))
    )
    return replace(sightings, bars=bars, bar_tags=(TAG,))


def _known(
    scene: Scene, where: Layout, x: NDArray[np.float64], names: tuple[str, ...], told: NDArray[np.float64]
) -> None:
    x[where.at(*names)] = told


def pair(
    rng: Rng, *, before: Shot, after: Shot, sheet_untouched: bool, sink_mm: tuple[float, float] = (10.0, 80.0)
) -> Pair | None:
    """One pair; None where the estimator refuses one of the two."""
    aside_mm = float(rng.uniform(*before.aside_mm))
    first = _scene(before, _with_bar(_sightings(before, range(len(before.lenses_mm))), before), None, aside_mm)
    where = layout(first)
    x = _truth(first, where, before, aside_mm, rng)
    away = float(rng.uniform(60.0, 200.0))
    place = np.array([away * rng.choice([-1.0, 1.0]), rng.uniform(-40.0, -10.0), rng.uniform(-60.0, 20.0)])
    angles = np.array([rng.normal(0.0, 25.0), rng.normal(0.0, 5.0), rng.normal(0.0, 6.0)]) * DEG
    _known(first, where, x, BAR_TURNS, angles)
    _known(first, where, x, OFFSET, -bar_turn(*angles).T @ place)
    seen = estimate(observed(first, where, x, rng))
    if not isinstance(seen, Estimate):
        return None
    carried = Carried(**bar_of(seen, TAG).model_dump(), record="before.json", sheet_untouched=sheet_untouched)
    moved_mm = 0.0 if sheet_untouched else float(rng.uniform(-30.0, 30.0))
    sighted = _with_bar(Sightings(way="carried", centre_px=(None,)), after)
    second = _scene(after, sighted, carried, aside_mm + moved_mm)
    later = layout(second)
    y = _truth(second, later, after, aside_mm + moved_mm, rng)
    shared = [
        name
        for name in where.names
        if name in later.index and name.startswith(("print.", "rule.", "paper.", "camera0."))
    ]
    if sheet_untouched:
        shared += [
            name for name in where.names if name in later.index and name.startswith(("sheet.", "ground.", "rig."))
        ]
    y[later.at(*shared)] = x[where.at(*shared)]
    pitch = np.array([0.0, 0.0, rng.uniform(0.0, 2.0)]) * DEG
    stood = np.zeros(3) if sheet_untouched else np.array([rng.normal(0.0, 5.6), 0.0, 0.0]) * DEG
    _known(second, later, y, BAR_TURNS, angles + pitch + stood)
    _known(second, later, y, OFFSET, x[where.at(*OFFSET)])
    if PLACEMENT in later.index:  # the mark or tag that was carried over was put where it was put
        y[later.index[PLACEMENT]] = x[where.index["tag.placement"]]
    sank = float(rng.uniform(*sink_mm))
    centre = x[where.at(*CENTRE)] - np.array([0.0, 0.0, sank])
    if not sheet_untouched:
        centre[:2] = aside_mm + moved_mm, y[later.index["centre.y"]]
    _known(second, later, y, CENTRE, centre)
    found = estimate(observed(second, later, y, rng))
    if not isinstance(found, Estimate):
        return None
    return Pair(
        before=seen,
        after=found,
        carried=carried,
        height_before_mm=float(seen.gradient @ x),
        height_after_mm=float(found.gradient @ y),
    )
