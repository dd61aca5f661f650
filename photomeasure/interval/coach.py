"""What would shrink the uncertainty most, worked out by the same estimator with that one change made.

Each change makes a scene that nobody has photographed yet: cameras moved, sheets added, bars measured. The covariance needs
only where things would be, so the promised U is what following the advice gives, noise of the corners as it was.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from calib.kit.kit import Paper, kit
from calib.words.said import said
from photomeasure.asked.bars import Bars
from photomeasure.interval.expanded import expanded
from photomeasure.scene.ground import ground_priors
from photomeasure.scene.print_scale import print_priors
from photomeasure.scene.priors import ball_edge_prior, depth_priors, ground_sheet_priors
from photomeasure.scene.scene import CENTRE, MarkerView, OutlineView, PlaneView, Prior, Scene, edge_of
from photomeasure.seen.camera_by_exif import UNIT_SPREAD
from photomeasure.solution.estimate import Estimate, finish, survey_px
from photomeasure.solution.geometry import lens_mm, outline_px, pose_looking
from photomeasure.solution.model import Layout, cam_from_world, camera_parameters, intrinsics_of, layout
from photomeasure.solution.starts import prior_means
from photomeasure.uncertainty.printed import rounded

CALIBRATED = 0.1  # of what is assumed of a phone's lens: what a calibration leaves of distortion and axis (judgement)
WORTH_IT = 0.85  # a change is worth saying when it leaves less than this of U
GOOD_DISTANCE_MM = 1900.0
LOW_RESOLUTION_PX = 2200
FULL_RESOLUTION_PX = 4000
WIDEST, LEAST_POINTS = float(np.tan(np.deg2rad(60.0))), 4  # off the axis; of markers that a planned picture needs
MAX_SENTENCES = 2
GOOD_ENOUGH_U_MM = 2.0
NEAR_MM = 20.0  # a sheet right under the coupling stands so near
NEAR_GROUND = tuple(ground_priors(NEAR_MM, flat=True))

_World = tuple[Scene, dict[str, float]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Suggestion:
    """One change: what to do, and the expanded uncertainty that it would give."""

    key: str
    sentence: str
    U_mm: float


class _Planner:
    """Changed copies of a solved scene, and the uncertainty each would have."""

    def __init__(self, solved: Estimate, paper: Paper | None, near_ground: tuple[Prior, ...]) -> None:
        self.solved, self.paper, self.near_ground = solved, paper, near_ground
        self.values = dict(zip(solved.where.names, solved.x.tolist(), strict=True))
        self.centre = np.array([solved.value(name) for name in CENTRE])

    def expanded_mm(self, scene: Scene, values: dict[str, float]) -> float:
        where, x = self._at(scene, values)
        if scene.markers:
            scene = replace(scene, markers=tuple(_ahead(view, where, x) for view in scene.markers))
            where, x = self._at(scene, values)
        outlines = []
        for view in scene.outlines:
            rotation, translation = cam_from_world(where, x, view.photo)
            centre = rotation @ x[where.at(*CENTRE)] + translation
            px = outline_px(intrinsics_of(scene, where, x, view.photo), centre, values["ball.radius"], len(view.px))
            outlines.append(replace(view, px=px))
        scene = replace(scene, outlines=tuple(outlines), markers=self._surveyed(scene, where, x))
        return expanded(finish(scene, where, x)).U_mm

    def _at(self, scene: Scene, values: dict[str, float]) -> tuple[Layout, NDArray[np.float64]]:
        where = layout(scene)
        if values.keys() >= where.index.keys():
            return where, np.array([values[name] for name in where.names])
        x = prior_means(scene, where)
        for name, value in values.items():
            if name in where.index:
                x[where.index[name]] = value
        return where, x

    def _surveyed(self, scene: Scene, where: Layout, x: NDArray[np.float64]) -> tuple[MarkerView, ...]:
        """A bay's markers with what their survey is worth from where the camera would stand."""
        scale = self.solved.noise_scale
        return tuple(
            replace(
                view,
                survey_px=scale
                * survey_px(
                    view, where, float(intrinsics_of(scene, where, x, view.photo)[0]), x[where.pose(view.photo)]
                ),
            )
            for view in scene.markers
        )

    def moved(self, lens: Callable[[NDArray[np.float64]], NDArray[np.float64]]) -> _World:
        values = dict(self.values)
        for photo in range(self.solved.scene.n_photos):
            values.update(self._pose(photo, lens(lens_mm(self.solved, photo))))
        return self.solved.scene, values

    def _pose(self, photo: int, lens: NDArray[np.float64]) -> dict[str, float]:
        target = np.array([self.centre[0] / 2, 0.0, (self.centre[2] + 140.0) / 2])
        if self.solved.scene.markers:
            target = self.centre
        pose = pose_looking(lens, target)
        return {
            f"photo{photo}.{axis}": float(v) for axis, v in zip(("rx", "ry", "rz", "tx", "ty", "tz"), pose, strict=True)
        }

    def bars(self) -> _World:
        """Both bars measured: what those that were measured read stays."""
        bars_mm = self.solved.scene.bars_mm
        of_print = {prior.quantity: prior for prior in print_priors(Bars(x_mm=bars_mm[0], y_mm=bars_mm[1]), bars_mm)}
        have = {prior.quantity: prior for prior in self.solved.scene.priors}
        replaced = {prior.quantity for prior in print_priors(Bars())} | of_print.keys()
        others = [prior for prior in self.solved.scene.priors if prior.quantity not in replaced]
        priors = (*others, *(have.get(quantity, prior) for quantity, prior in of_print.items()))
        return replace(self.solved.scene, priors=priors), self.values

    def right(self) -> NDArray[np.float64]:
        """(3,) the viewer's right: along the foot line, or in a bay along the ground and across the first view."""
        if not self.solved.scene.markers:
            return np.array([1.0, 0.0, 0.0])
        ahead = self.centre - lens_mm(self.solved, 0)
        return np.array([ahead[1], -ahead[0], 0.0]) / float(np.hypot(ahead[0], ahead[1]))

    def aside_mm(self) -> float:
        """How far to the right of the sheet, or of the markers' middle, the first photograph was taken."""
        seen = [view.world_mm for view in self.solved.scene.markers]
        middle = np.concatenate(seen).mean(axis=0) if seen else np.zeros(3)
        return float((lens_mm(self.solved, 0) - middle) @ self.right())

    def calibrated(self) -> _World:
        """The camera calibrated at another time: its focal length to what sessions differ by, the rest well known."""
        scene = self.solved.scene
        cameras = []
        for camera in scene.cameras:
            own = np.abs(camera.basis[0]).max() / camera.mean[0]
            scale = [
                min(1.0, UNIT_SPREAD / own) if quantity == "focal length" else CALIBRATED
                for quantity in camera.quantities
            ]
            cameras.append(replace(camera, basis=camera.basis * np.array(scale)))
        return replace(scene, cameras=tuple(cameras)), self.values

    def second_photo(self, sideways_mm: float) -> _World:
        """Another photograph from further to one side and at the coupling's height, of the same sheets and markers."""
        scene, number = self.solved.scene, self.solved.scene.n_photos
        lens = lens_mm(self.solved, 0) + sideways_mm * self.right()
        lens[2] = self.centre[2]
        outlines = tuple(replace(v, photo=number) for v in scene.outlines if v.photo == 0)
        more = replace(
            scene,
            camera_of=(*scene.camera_of, scene.camera_of[0]),
            planes=(*scene.planes, *(replace(v, photo=number) for v in scene.planes if v.photo == 0)),
            points=(*scene.points, *(replace(v, photo=number) for v in scene.points if v.photo == 0)),
            outlines=(*scene.outlines, *outlines),
            markers=(*scene.markers, *(replace(v, photo=number) for v in scene.markers if v.photo == 0)),
            priors=(*scene.priors, *(ball_edge_prior(number) for _ in outlines)),
        )
        own = [one.name for one in camera_parameters(more) if one.photo == number]
        own += [edge_of(view.photo) for view in outlines]
        return more, {**self.values, **self._pose(number, lens), **dict.fromkeys(own, 0.0)}

    def ground_sheet(self) -> _World:
        assert self.paper is not None  # a photograph that shows the kit tells its paper
        scene, sheet = self.solved.scene, kit(self.paper).ground
        local = sheet.local_mm(sheet.points_mm)
        views = []
        for photo in range(scene.n_photos):
            own = next(v for v in scene.planes if v.photo == photo and v.plane == "upright")
            sigma = 2.0 * float(np.median(own.sigma_px))  # seen at a low angle
            views.append(
                PlaneView(
                    photo=photo,
                    plane="ground",
                    local_mm=local,
                    px=np.zeros((len(local), 2)),
                    sigma_px=np.full(len(local), sigma),
                )
            )
        more = replace(scene, planes=(*scene.planes, *views), priors=(*scene.priors, *ground_sheet_priors()))
        place = {"flat.x": 0.0, "flat.y": 0.0, "flat.yaw": float(np.pi), "flat.lift": 0.1}
        return more, {**self.values, **place, "flat.tilt_x": 0.0, "flat.tilt_y": 0.0}

    def sheet_under_coupling(self) -> _World:
        replaced = {prior.quantity for prior in self.near_ground}
        others = (prior for prior in self.solved.scene.priors if prior.quantity not in replaced)
        in_plane = depth_priors(NEAR_MM)[0].coefficients
        near = (
            replace(prior, coefficients=in_plane)
            if "rig.turn" in prior.coefficients and prior.quantity == "depth"
            else prior
            for prior in others
        )
        priors = (*near, *self.near_ground)
        shift = self.values["centre.x"]
        values = {**self.values, "centre.x": 0.0}
        for photo in range(self.solved.scene.n_photos):
            lens = lens_mm(self.solved, photo) - [shift, 0.0, 0.0]
            values.update(self._pose(photo, lens))
        return replace(self.solved.scene, priors=priors), values

    def full_size(self) -> _World:
        """The same photograph at its full size: corners keep their pixel noise, and pixels are smaller."""
        scene = self.solved.scene
        factor = FULL_RESOLUTION_PX / max(scene.cameras[0].size_px)
        planes = tuple(replace(v, sigma_px=v.sigma_px / factor) for v in scene.planes)
        markers = tuple(replace(v, sigma_px=v.sigma_px / factor) for v in scene.markers)
        points = tuple(replace(v, sigma_px=v.sigma_px / factor) for v in scene.points)
        outlines: tuple[OutlineView, ...] = tuple(replace(v, sigma_px=v.sigma_px / factor) for v in scene.outlines)
        return replace(scene, planes=planes, points=points, outlines=outlines, markers=markers), self.values


def _ahead(view: MarkerView, where: Layout, x: NDArray[np.float64]) -> MarkerView:
    """Without the markers that no lens would see from there: behind it, or far to its sides, where its bending is no more known."""
    rotation, translation = cam_from_world(where, x, view.photo)
    in_cam = view.world_mm @ rotation.T + translation
    seen = in_cam[:, 2] * WIDEST > np.linalg.norm(in_cam[:, :2], axis=1)
    if seen.all() or seen.sum() < LEAST_POINTS:
        return view
    return view.only(seen)


def _changes(planner: _Planner) -> Iterator[tuple[str, str, _World]]:
    """Every change that the scene leaves room for, with its sentence."""
    solved, scene = planner.solved, planner.solved.scene
    lenses = [lens_mm(solved, photo) for photo in range(scene.n_photos)]
    above = float(np.mean([lens[2] - planner.centre[2] for lens in lenses]))
    away = float(np.mean([np.linalg.norm((lens - planner.centre)[:2]) for lens in lenses]))
    quantities = {prior.quantity for prior in scene.priors}
    if abs(above) > 120.0:
        if above > 0:
            how = said(
                "Hold the phone about {m:.1f} m lower, with the lens level with the coupling", m=abs(above) / 1000
            )
        else:
            how = said(
                "Hold the phone about {m:.1f} m higher, with the lens level with the coupling", m=abs(above) / 1000
            )
        yield "lens-height", how, planner.moved(lambda lens: np.array([lens[0], lens[1], planner.centre[2]]))
    in_bay, sheets = bool(scene.markers), planner.paper is not None
    if away > 2600.0 and not in_bay:
        scale = GOOD_DISTANCE_MM / away
        yield (
            "closer",
            said(
                "Go nearer: photograph from about {good_distance_mm:.1f} m instead of {away:.1f} m",
                good_distance_mm=GOOD_DISTANCE_MM / 1000,
                away=away / 1000,
            ),
            planner.moved(lambda lens: planner.centre + (lens - planner.centre) * [scale, scale, 1.0]),
        )
    if "print.x" in solved.where.index and not {"check bar x", "check bar y"} <= quantities:
        yield "bars", said("Measure both printed check bars with a ruler and state what it reads"), planner.bars()
    if scene.n_photos < 3:
        side = 900.0 if planner.aside_mm() <= 0 else -900.0
        way = said("right") if side > 0 else said("left")
        if in_bay:
            how = said(
                "Take another photograph from about 0.9 m further {way}, with the lens at the coupling's height, the same markers "
                "in view and nothing moved",
                way=way,
            )
        else:
            how = said(
                "Take another photograph from about 0.9 m further {way}, with the lens at the coupling's height, nothing else moved",
                way=way,
            )
        yield "second-photo", how, planner.second_photo(side)
    if in_bay and any(camera.kind != "profile" for camera in scene.cameras):
        yield "camera", said("Calibrate the camera and use its profile"), planner.calibrated()
    if sheets and not any(view.plane == "ground" for view in scene.planes):
        yield "ground-sheet", said("Lay the ground sheet flat in front of the upright sheet"), planner.ground_sheet()
    if sheets and abs(planner.centre[0]) > 2.0 * NEAR_MM:
        yield (
            "sheet-place",
            said(
                "Stand the sheet right under the coupling (it is {centre:.0f} cm to the side)",
                centre=abs(planner.centre[0]) / 10,
            ),
            planner.sheet_under_coupling(),
        )
    if max(scene.cameras[0].size_px) < LOW_RESOLUTION_PX:
        yield (
            "full-size",
            said("Send the photograph as a file at its full size, not through a chat program"),
            planner.full_size(),
        )


def suggestions(
    solved: Estimate,
    paper: Paper | None,
    near_ground: tuple[Prior, ...] = NEAR_GROUND,
    now_mm: float | None = None,
) -> tuple[Suggestion, ...]:
    """Changes worth making, the best first; empty where none helps much. near_ground, now_mm: as for `coach`."""
    planner = _Planner(solved, paper, near_ground)
    now = expanded(solved).U_mm if now_mm is None else now_mm
    found = []
    for key, sentence, (scene, values) in _changes(planner):
        U_mm = planner.expanded_mm(scene, values)
        if U_mm < WORTH_IT * now:
            found.append(Suggestion(key=key, sentence=sentence, U_mm=U_mm))
    return tuple(sorted(found, key=lambda suggestion: suggestion.U_mm))


def coach(
    solved: Estimate,
    paper: Paper | None,
    *,
    decided: bool = False,
    near_ground: tuple[Prior, ...] = NEAR_GROUND,
    now_mm: float | None = None,
) -> tuple[str, ...]:
    """At most two sentences for the person with the phone, each with the U that it would give.

    paper: of the kit that was photographed; None where a bay's markers take its place.
    near_ground: what would be known of the ground with the sheet right under the coupling.
    now_mm: the expanded uncertainty of the solution; None: it is worked out.
    Nothing is said of a picture that is good enough (U to `GOOD_ENOUGH_U_MM`) where the verdict is decided already.
    """
    now = expanded(solved).U_mm if now_mm is None else now_mm
    if decided and now <= GOOD_ENOUGH_U_MM:
        return ()
    return tuple(
        said(
            "{sentence}: the height would then be known to \N{PLUS-MINUS SIGN} {u_mm} mm instead of {now} mm.",
            sentence=s.sentence,
            u_mm=rounded(s.U_mm),
            now=rounded(now),
        )
        for s in suggestions(solved, paper, near_ground, now)[:MAX_SENTENCES]
    )
