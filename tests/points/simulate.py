"""Scenes of simulated observations: parameters are drawn from the priors, or from something harsher, then observed.

The projection is the model's own: these scenes prove the statistics of the estimator, not its geometry (for that see
the rendered pictures and OpenCV's own projection in the tests beside).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from calib.camera.camera import project
from calib.kit.kit import kit
from photomeasure.asked.bars import Bars
from photomeasure.asked.request import Request
from photomeasure.asked.state import State
from photomeasure.rules.load import default_rule
from photomeasure.scene.print_scale import PRINTED_AT
from photomeasure.scene.priors import GUESSED_U, SQRT3
from photomeasure.scene.scene import (
    CENTRE,
    CameraPrior,
    OutlineView,
    PlaneName,
    PlaneView,
    PointView,
    Prior,
    Scene,
    edge_of,
)
from photomeasure.seen.camera_by_exif import ExifFacts, camera_prior
from photomeasure.seen.centre.sightings import Sightings
from photomeasure.seen.centre.tag.tag import TagSeen
from photomeasure.solution.estimate import measurand_gradient
from photomeasure.solution.geometry import outline_px, pose_looking
from photomeasure.solution.model import (
    Layout,
    cam_from_world,
    camera_parameters,
    intrinsics_of,
    layout,
    plane_points,
    project_world,
    rotation_matrix,
)
from photomeasure.solution.scene_of import assembled
from photomeasure.solution.starts import prior_means
from photomeasure.uncertainty.convolution import GUESSED_LIMIT

Rng = np.random.Generator
BARS = Bars(x_mm=179.5, y_mm=250.0)  # read to half a millimetre
_PLACEHOLDER = np.zeros(2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """How the simulated photographs are taken. lenses_mm: where the lens stands, world mm, before a hand's scatter.

    tag_px: what `photomeasure.seen.centre.tag.tag` claims of a corner; 0.04-0.06 in 13 conditions of `tests.experiments.tag_study`
    but for a shadow's edge across the tag (0.07-0.12) and clipped sun (0.11-0.29).
    """

    lenses_mm: tuple[tuple[float, float, float], ...] = ((0.0, -2000.0, 450.0),)
    size_px: tuple[int, int] = (4000, 3000)
    focal_35mm: float | None = 26.0
    source: str = "pick"  # pick, ball, tag
    ground_sheet: bool = False
    bars: Bars = BARS
    corner_px: float = 0.03
    pick_px: float = 0.5
    edge_px: float = 0.3
    tag_px: float = 0.05
    scatter_mm: float = 40.0
    aside_mm: tuple[float, float] = (-80.0, 80.0)  # the coupling's place beside the middle of the foot line
    level_within_mm_per_m: float | None = None  # what a level read of that ground, where one was
    flat_ground: bool = True  # said to be hard and flat
    hidden: str | None = None  # a mark on what hides the centre, of this coupling
    second_mm: tuple[float, float] | None = (
        None  # where a second upright sheet's foot stands, right and away of the first
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Simulated:
    """What the estimator is given, and what it should find."""

    scene: Scene
    where: Layout
    truth: NDArray[np.float64]
    height_mm: float


def _camera(shot: Shot) -> CameraPrior:
    prior = camera_prior(shot.size_px, ExifFacts(focal_35mm=shot.focal_35mm))
    if not isinstance(prior, CameraPrior):
        raise TypeError(prior.reason)
    return prior


def asked(shot: Shot) -> Request:
    """What a person would say of it."""
    return Request(
        photos=(),
        rule=default_rule("ball-50"),
        bars=shot.bars,
        coupling=shot.hidden or "ball-50",
        state=State(coupled=shot.source == "tag", level_ground=shot.flat_ground or None),
        level_within_mm_per_m=shot.level_within_mm_per_m,
    )


def _sightings(shot: Shot, photos: range) -> Sightings:
    """How the centre is seen, its pixels still to be observed."""
    tags: list[PlaneView] = []
    if shot.source == "tag":
        corners = TagSeen(id=0, side_mm=40.0, corners_px=np.zeros((4, 2)), sigma_px=shot.tag_px).local_mm()
        tags = [_blank_plane(photo, "tag", corners, shot.tag_px, "tag corners") for photo in photos]
    if shot.source not in ("pick", "tag", "ball"):
        raise ValueError(shot.source)
    return Sightings(
        way=shot.source,  # type: ignore[arg-type]
        centre_px=(None,) * len(photos),
        tags=tuple(tags),
        hidden=shot.source == "tag" or shot.hidden is not None,
        points=tuple(
            PointView(photo=photo, px=_PLACEHOLDER, sigma_px=shot.pick_px, quantity="pick")
            for photo in photos
            if shot.source == "pick"
        ),
        outlines=tuple(
            OutlineView(photo=photo, px=np.zeros((60, 2)), sigma_px=np.full(60, shot.edge_px))
            for photo in photos
            if shot.source == "ball"
        ),
    )


def _blank_plane(
    photo: int, plane: PlaneName, local: NDArray[np.float64], sigma_px: float, quantity: str = "corner noise"
) -> PlaneView:
    sigmas = np.full(len(local), sigma_px)
    return PlaneView(
        photo=photo, plane=plane, local_mm=local, px=np.zeros_like(local), sigma_px=sigmas, quantity=quantity
    )


def blank(shot: Shot, aside_mm: float | None = None) -> Scene:
    """The scene as the program assembles it of such photographs, its pixels still to be observed.

    aside_mm: where the coupling is; in the middle of the shot's range where it is not said.
    """
    aside_mm = sum(shot.aside_mm) / 2 if aside_mm is None else aside_mm
    the_kit, photos = kit("a4"), range(len(shot.lenses_mm))
    sheets: list[tuple[PlaneName, NDArray[np.float64], float]] = [
        ("upright", the_kit.upright.local_mm(the_kit.upright.points_mm), shot.corner_px)
    ]
    if shot.ground_sheet:
        sheets.append(("ground", the_kit.ground.local_mm(the_kit.ground.points_mm), 2.0 * shot.corner_px))
    if shot.second_mm is not None:
        sheets.append(("second-upright", sheets[0][1], shot.corner_px))
    planes = tuple(_roughly_placed(shot, _blank_plane(photo, *sheet)) for photo in photos for sheet in sheets)
    bars_mm = the_kit.upright.bars_mm
    seen = Scene(cameras=(_camera(shot),), camera_of=(0,) * len(photos), planes=planes, bars_mm=bars_mm)
    return assembled(seen, _sightings(shot, photos), asked(shot), aside_mm=aside_mm)


def _roughly_placed(shot: Shot, view: PlaneView) -> PlaneView:
    """An upright sheet's view with pixels as if nothing were off: the program looks at them for how far two feet are apart."""
    if shot.second_mm is None or view.plane not in ("upright", "second-upright"):
        return view
    right, away = shot.second_mm if view.plane == "second-upright" else (0.0, 0.0)
    local, camera = view.local_mm, _camera(shot)
    world = np.stack([right + local[:, 0], np.full(len(local), away), local[:, 1]], axis=1)
    pose = pose_looking(np.array(shot.lenses_mm[view.photo]), np.array([0.0, 0.0, 250.0]))
    in_camera = world @ rotation_matrix(pose[:3]).T + pose[3:]
    return replace(view, px=project(camera.mean, in_camera)[0])


def drawn(prior: Prior, rng: Rng) -> float:
    """One draw of a prior's value, from the distribution that it names."""
    if prior.distribution == "rectangular":
        return prior.mean + prior.u * SQRT3 * float(rng.uniform(-1.0, 1.0))
    if prior.distribution == "curvilinear trapezoid":  # ends drawn first, JCGM 101:2008 6.4.3.4
        a = prior.u / GUESSED_U
        return prior.mean + a * float((1.0 + GUESSED_LIMIT * rng.uniform(-1.0, 1.0)) * rng.uniform(-1.0, 1.0))
    if prior.distribution == "exponential":
        return prior.mean - prior.u + float(rng.exponential(prior.u))
    return float(rng.normal(prior.mean, prior.u))


def drawn_scale(rng: Rng) -> float:
    """What one printer did to the size of a print."""
    shares = np.array([share for share, _, _ in PRINTED_AT])
    _, low, high = PRINTED_AT[int(rng.choice(len(shares), p=shares / shares.sum()))]
    return float(rng.uniform(low, high))


def _truth(scene: Scene, where: Layout, shot: Shot, aside_mm: float, rng: Rng) -> NDArray[np.float64]:
    """Parameters by the priors: those that name one parameter first, then each other one gives the first that it names."""
    x = prior_means(scene, where)
    for prior in sorted(scene.priors, key=lambda prior: len(prior.coefficients)):
        if prior.quantity.startswith("print scale"):
            continue
        (first, coefficient), *others = prior.coefficients.items()
        rest = sum(value * x[where.index[name]] for name, value in others)
        x[where.index[first]] = (drawn(prior, rng) - rest) / coefficient
    if shot.bars.x_mm is None:
        skew = next(drawn(prior, rng) for prior in scene.priors if prior.quantity == "print scale, x against y")
        scale = drawn_scale(rng)
        x[where.at("print.x", "print.y")] = scale + skew / 2, scale - skew / 2
    x[where.at("centre.x", "centre.z")] = aside_mm, rng.uniform(330.0, 520.0)
    if shot.second_mm is not None:
        _place_second(scene, where, x, shot.second_mm, rng)
    for parameter in camera_parameters(scene):
        x[where.index[parameter.name]] = rng.normal()
    if shot.ground_sheet:
        x[where.at("flat.x", "flat.y", "flat.yaw")] = rng.uniform(-20, 20), -310.0, rng.uniform(-0.05, 0.05)
    for photo, lens in enumerate(shot.lenses_mm):
        lens_mm = np.array(lens) + rng.normal(0.0, shot.scatter_mm, 3)
        target = np.array([0.0, 0.0, 250.0]) + rng.normal(0.0, 60.0, 3)
        x[where.pose(photo)] = pose_looking(lens_mm, target)
    return x


def _place_second(scene: Scene, where: Layout, x: NDArray[np.float64], at_mm: tuple[float, float], rng: Rng) -> None:
    """The second sheet about where it was meant, turned by eye; a coupling between the feet is on the line between them."""
    x[where.at("second.x", "second.yaw")] = at_mm[0] + rng.normal(0.0, 20.0), rng.normal(0.0, 0.07)
    away = at_mm[1] + rng.normal(0.0, 0.07) * at_mm[0]
    depth = next(prior for prior in scene.priors if prior.quantity == "depth")
    x[where.index["centre.y"]] -= depth.coefficients.get("second.y", 0.0) * (away - x[where.index["second.y"]])
    x[where.index["second.y"]] = away


def _bowed(view: PlaneView, world: NDArray[np.float64], bow_mm: float) -> NDArray[np.float64]:
    """World points (N, 3) of an upright sheet whose middle stands `bow_mm` behind its sides: a parabola across it."""
    if view.plane != "upright" or bow_mm == 0.0:
        return world
    across = view.local_mm[:, 0] / np.abs(view.local_mm[:, 0]).max()
    behind = np.zeros_like(world)
    behind[:, 1] = bow_mm * (1.0 - across**2)
    return world + behind


def observed(scene: Scene, where: Layout, x: NDArray[np.float64], rng: Rng, bow_mm: float = 0.0) -> Scene:
    """The scene with its pixels as they would be seen at the parameters x, with fresh noise."""
    planes, points, outlines = [], [], []
    for view in scene.planes:
        (flat, slope), at = plane_points(scene, where, x, view)
        world = _bowed(view, flat, bow_mm), slope
        px, _ = project_world(scene, where, x, view.photo, world, at)
        planes.append(replace(view, px=px + rng.normal(size=px.shape) * view.sigma_px[:, None]))
    for point in scene.points:
        at = where.at(*scene.names(CENTRE, before=point.before))
        px, _ = project_world(scene, where, x, point.photo, (x[at][None], np.eye(3)[None]), at)
        points.append(replace(point, px=px[0] + rng.normal(0.0, point.sigma_px, 2)))
    for outline in scene.outlines:
        at = where.at(*scene.names(CENTRE, before=outline.before))
        rotation, translation = cam_from_world(where, x, outline.photo)
        camera = intrinsics_of(scene, where, x, outline.photo)
        edge = outline_px(camera, rotation @ x[at] + translation, x[where.index["ball.radius"]], len(outline.px))
        middle, _ = project_world(scene, where, x, outline.photo, (x[at][None], np.eye(3)[None]), at)
        outward = (edge - middle) / np.linalg.norm(edge - middle, axis=1, keepdims=True)
        shift = x[where.index[edge_of(outline.photo)]] + rng.normal(size=len(edge)) * outline.sigma_px
        outlines.append(replace(outline, px=edge + outward * shift[:, None]))
    return replace(scene, planes=tuple(planes), points=tuple(points), outlines=tuple(outlines))


def _in_each_photo(name: str, photos: int) -> list[str]:
    """A parameter of a harm: "photo*.q1" is that of every photograph."""
    return [name.replace("*", str(photo)) for photo in range(photos)] if "*" in name else [name]


@dataclass(frozen=True, slots=True, kw_only=True)
class Harm:
    """What users do that no prior speaks of: parameters set after the draw, and a wrong EXIF focal length.

    values: parameter name to a function of the generator; "*" stands for every photograph's number.
    focal_factor: true focal length over what EXIF says.
    bow_mm: how far the middle of the upright sheet stands behind its left and right sides.
    """

    values: Mapping[str, Callable[[Rng], float]] = field(default_factory=dict)
    focal_factor: float = 1.0
    bow_mm: float = 0.0


def simulate(shot: Shot, rng: Rng, harm: Harm | None = None) -> Simulated:
    """One simulated rig. Without harm everything is drawn from the very distributions that the priors claim."""
    aside_mm = float(rng.uniform(*shot.aside_mm))
    scene = blank(shot, aside_mm)
    where = layout(scene)
    x = _truth(scene, where, shot, aside_mm, rng)
    taken = scene
    if harm is not None:
        for name, draw in harm.values.items():
            value = draw(rng)
            for each in _in_each_photo(name, len(shot.lenses_mm)):
                x[where.index[each]] = value
        camera = scene.cameras[0]
        mean = camera.mean.copy()
        mean[:2] *= harm.focal_factor
        taken = replace(scene, cameras=(replace(camera, mean=mean),))
    seen = observed(taken, where, x, rng, 0.0 if harm is None else harm.bow_mm)
    height = float(measurand_gradient(scene, where) @ x)
    return Simulated(scene=replace(seen, cameras=scene.cameras), where=where, truth=x, height_mm=height)
