"""The one model behind every way of taking the picture: where things are and where they are seen, with exact derivatives.

`photomeasure.solution.rows` puts it together to residuals. Derivatives are analytic and proved against numeric ones in the tests.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.camera.camera import N_INTRINSICS, matrix
from photomeasure.scene.scene import (
    BAR_TURNS,
    CENTRE,
    OFFSET,
    SECOND_PRINT,
    SECOND_STANCE,
    LineName,
    LineView,
    OutlineView,
    PlaneName,
    PlaneView,
    Scene,
    edge_of,
    mount_of,
    offset_of,
)

_POSE = ("rx", "ry", "rz", "tx", "ty", "tz")
PLANE_PARAMETERS: dict[PlaneName, tuple[str, ...]] = {
    "upright": ("sheet.lean", "sheet.roll", "sheet.gap", "print.x", "print.y"),
    "upright-in-bay": (
        "stand.x",
        "stand.y",
        "stand.yaw",
        "sheet.lean",
        "sheet.roll",
        "sheet.gap",
        "print.x",
        "print.y",
    ),
    "second-upright": (*SECOND_STANCE, *SECOND_PRINT),
    "ground": ("flat.x", "flat.y", "flat.yaw", "flat.tilt_x", "flat.tilt_y", "flat.lift", "print.x", "print.y"),
    "tag": (*CENTRE, "tag.turn", "tag.lean", "tag.roll", "print.x", "print.y"),
    "bar-tag": (*CENTRE, *BAR_TURNS, "print.x", "print.y", *OFFSET),
    # the last six are each tag's own, see `parameters_of`
    "further-bar-tag": (*CENTRE, *BAR_TURNS, "print.x", "print.y", *offset_of(0), *mount_of(0)),
}

LINE_PARAMETERS: dict[LineName, tuple[str, ...]] = {
    "ground": ("side.turn", "side.depth", "side.slope", "side.rise"),
    "rail": ("side.turn", "side.depth", "side.slope", "side.step", "side.height", "side.pitch"),
}

Points = tuple[NDArray[np.float64], NDArray[np.float64]]  # world points (N, 3), derivative (N, 3, k)


@cache
def _pose_names(photo: int) -> tuple[str, ...]:
    return tuple(f"photo{photo}.{axis}" for axis in _POSE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """Where each parameter stands in the vector; points: surveyed points whose error is an unknown (name.x, .y, .z)."""

    names: tuple[str, ...]
    index: dict[str, int]
    points: tuple[str, ...] = ()
    _found: dict[tuple[str, ...], NDArray[np.int64]] = field(
        init=False, repr=False, compare=False, default_factory=dict
    )

    def at(self, *names: str) -> NDArray[np.int64]:
        """(n,) where the named parameters stand; read-only."""
        found = self._found.get(names)
        if found is None:
            found = self._found[names] = np.array([self.index[name] for name in names], dtype=np.int64)
            found.setflags(write=False)
        return found

    def pose(self, photo: int) -> NDArray[np.int64]:
        """(6,) where a photograph's pose stands: rotation vector, rad, then shift, mm; camera from world."""
        return self.at(*_pose_names(photo))

    def camera(self, scene: Scene, photo: int) -> NDArray[np.int64]:
        """The parameters of a photograph's camera, in the order of the columns of its basis."""
        number = scene.camera_of[photo]
        prior = scene.cameras[number]
        return self.at(*_camera_names(number, prior.basis.shape[1], prior.own, photo))


@dataclass(frozen=True, slots=True, kw_only=True)
class CameraParameter:
    """One unknown of a camera: its column in the basis; photo where that photograph has it for itself."""

    name: str
    camera: int
    column: int
    photo: int | None


def _camera_parameter(number: int, own: tuple[int, ...], column: int, photo: int) -> str:
    return f"photo{photo}.q{column}" if column in own else f"camera{number}.q{column}"


@cache
def _camera_names(number: int, columns: int, own: tuple[int, ...], photo: int) -> tuple[str, ...]:
    return tuple(_camera_parameter(number, own, column, photo) for column in range(columns))


def camera_parameters(scene: Scene) -> Iterator[CameraParameter]:
    """Every unknown of every camera, in the order of the rows of `prior_rows`."""
    for number, prior in enumerate(scene.cameras):
        photos = [photo for photo, camera in enumerate(scene.camera_of) if camera == number]
        for column in range(prior.basis.shape[1]):
            own = column in prior.own
            for photo in photos if own else photos[:1]:
                name = _camera_parameter(number, prior.own, column, photo)
                yield CameraParameter(name=name, camera=number, column=column, photo=photo if own else None)


def parameters_of(scene: Scene, view: PlaneView) -> tuple[str, ...]:
    """The parameters that a view of a printed plane is by."""
    names = PLANE_PARAMETERS[view.plane]
    if view.tag is not None:
        names = (*names[:-6], *offset_of(view.tag), *mount_of(view.tag))
    return scene.names(names, before=view.before)


def layout(scene: Scene) -> Layout:
    """Every parameter of a scene, in a fixed order: those that an observation, a prior or the measurand names."""
    names: dict[str, None] = {parameter.name: None for parameter in camera_parameters(scene)}
    for photo in range(scene.n_photos):
        names.update((f"photo{photo}.{axis}", None) for axis in _POSE)
    for view in scene.planes:
        names.update((name, None) for name in parameters_of(scene, view))
    shared = shared_markers(scene)
    names.update((f"{name}.{axis}", None) for name in shared for axis in "xyz")
    for _, before in scene.centre_sights:
        names.update((name, None) for name in scene.names(CENTRE, before=before))
    if scene.outlines:
        names.update({"ball.radius": None, **{edge_of(view.photo): None for view in scene.outlines}})
    for line in scene.lines:
        names.update((name, None) for name in (*LINE_PARAMETERS[line.line], *line.along))
    for prior in scene.priors:
        names.update((name, None) for name in prior.coefficients)
    names.update((name, None) for name in (*scene.measurand, *(scene.earlier or ())))
    ordered = tuple(names)
    return Layout(names=ordered, index={name: i for i, name in enumerate(ordered)}, points=shared)


def shared_markers(scene: Scene) -> tuple[str, ...]:
    """Surveyed points seen more than once: their survey error is one unknown, not a fresh one in each photograph."""
    seen: dict[str, int] = {}
    for view in scene.markers:
        for name in view.names:
            seen[name] = seen.get(name, 0) + 1
    return tuple(name for name, count in seen.items() if count > 1)


def _rotation(axis: int, angle: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Right-handed rotation about a world axis, and its derivative by the angle."""
    c, s = math.cos(angle), math.sin(angle)
    if axis == 0:
        turn, slope = ((1.0, 0.0, 0.0), (0.0, c, -s), (0.0, s, c)), ((0.0, 0.0, 0.0), (0.0, -s, -c), (0.0, c, -s))
    elif axis == 1:
        turn, slope = ((c, 0.0, s), (0.0, 1.0, 0.0), (-s, 0.0, c)), ((-s, 0.0, c), (0.0, 0.0, 0.0), (-c, 0.0, -s))
    else:
        turn, slope = ((c, -s, 0.0), (s, c, 0.0), (0.0, 0.0, 1.0)), ((-s, -c, 0.0), (c, -s, 0.0), (0.0, 0.0, 0.0))
    return np.array(turn), np.array(slope)


def _standing(local: NDArray[np.float64], sx: float, sy: float) -> NDArray[np.float64]:
    """(N, 3) printed points (N, 2) on the upright plane y = 0, with the print's scales."""
    flat = np.zeros((len(local), 3))
    flat[:, 0], flat[:, 2] = local[:, 0] * sx, local[:, 1] * sy
    return flat


def _upright(local: NDArray[np.float64], p: NDArray[np.float64]) -> Points:
    """Upright sheet: it leans away from the viewer by `lean`, turns in its own plane by `roll`, stands `gap` too high."""
    lean, roll, gap, sx, sy = p
    (about_x, d_about_x), (about_y, d_about_y) = _rotation(0, -lean), _rotation(1, roll)
    turn = about_x @ about_y
    flat = _standing(local, sx, sy)
    slope = np.empty((len(local), 3, 5))
    slope[:, :, 0] = -flat @ (d_about_x @ about_y).T
    slope[:, :, 1] = flat @ (about_x @ d_about_y).T
    slope[:, :, 2] = [0.0, 0.0, 1.0]
    slope[:, :, 3] = local[:, :1] * turn[:, 0]
    slope[:, :, 4] = local[:, 1:] * turn[:, 2]
    return flat @ turn.T + [0.0, 0.0, gap], slope


def _upright_in_bay(local: NDArray[np.float64], p: NDArray[np.float64]) -> Points:
    """The same sheet where surveyed markers make the world: it stands at (x, y) on the ground, turned by yaw."""
    base, base_slope = _upright(local, p[3:])
    turn, d_turn = _rotation(2, float(p[2]))
    slope = np.zeros((len(local), 3, 8))
    slope[:, 0, 0] = slope[:, 1, 1] = 1.0
    slope[:, :, 2] = base @ d_turn.T
    slope[:, :, 3:] = turn @ base_slope
    return base @ turn.T + [p[0], p[1], 0.0], slope


def _ground(local: NDArray[np.float64], p: NDArray[np.float64]) -> Points:
    """Ground sheet: lies at (x, y), turned by yaw, lifted, with the small slopes of the ground right under it."""
    x0, y0, yaw, tilt_x, tilt_y, lift, sx, sy = p
    turn, d_turn = _rotation(2, yaw)
    u, v = local[:, 0] * sx, local[:, 1] * sy
    flat = np.stack([u, v, lift + tilt_x * u + tilt_y * v], axis=1)
    slope = np.zeros((len(local), 3, 8))
    slope[:, 0, 0] = slope[:, 1, 1] = slope[:, 2, 5] = 1.0
    slope[:, :, 2] = flat @ d_turn.T
    slope[:, 2, 3], slope[:, 2, 4] = u, v
    slope[:, :, 6] = local[:, :1] * (turn[:, 0] + [0.0, 0.0, tilt_x])
    slope[:, :, 7] = local[:, 1:] * (turn[:, 1] + [0.0, 0.0, tilt_y])
    return flat @ turn.T + [x0, y0, 0.0], slope


def _tag(local: NDArray[np.float64], p: NDArray[np.float64]) -> Points:
    """Centre tag: its middle is the point that is measured; turned about the vertical, leaning, rolled."""
    turn_rad, lean, roll, sx, sy = p[3:]
    (about_z, dz), (about_x, dx), (about_y, dy) = _rotation(2, turn_rad), _rotation(0, -lean), _rotation(1, roll)
    turn = about_z @ about_x @ about_y
    flat = _standing(local, sx, sy)
    slope = np.empty((len(local), 3, 8))
    slope[:, :, :3] = np.eye(3)
    slope[:, :, 3] = flat @ (dz @ about_x @ about_y).T
    slope[:, :, 4] = -flat @ (about_z @ dx @ about_y).T
    slope[:, :, 5] = flat @ (about_z @ about_x @ dy).T
    slope[:, :, 6] = local[:, :1] * turn[:, 0]
    slope[:, :, 7] = local[:, 1:] * turn[:, 2]
    return flat @ turn.T + p[:3], slope


def bar_turn(turn_rad: float, lean: float, roll: float) -> NDArray[np.float64]:
    """(3, 3) world from a bar tag's frame: x right along the print, y into it, z up it."""
    turned: NDArray[np.float64] = _rotation(2, turn_rad)[0] @ _rotation(0, -lean)[0] @ _rotation(1, roll)[0]
    return turned


def _bar_tag(local: NDArray[np.float64], p: NDArray[np.float64]) -> Points:
    """Bar tag: the coupling's centre is at `offset` in its frame, so its middle is at the centre less the turned offset."""
    (about_z, dz), (about_x, dx), (about_y, dy) = _rotation(2, p[3]), _rotation(0, -p[4]), _rotation(1, p[5])
    turn = about_z @ about_x @ about_y
    flat = _standing(local, p[6], p[7])
    from_centre = flat - p[8:]
    slope = np.empty((len(local), 3, 11))
    slope[:, :, :3] = np.eye(3)
    slope[:, :, 3] = from_centre @ (dz @ about_x @ about_y).T
    slope[:, :, 4] = -from_centre @ (about_z @ dx @ about_y).T
    slope[:, :, 5] = from_centre @ (about_z @ about_x @ dy).T
    slope[:, :, 6] = local[:, :1] * turn[:, 0]
    slope[:, :, 7] = local[:, 1:] * turn[:, 2]
    slope[:, :, 8:] = -turn
    return from_centre @ turn.T + p[:3], slope


def _further_bar_tag(local: NDArray[np.float64], p: NDArray[np.float64]) -> Points:
    """A bar tag beside the first: turned against it by its mount, its middle at the centre less the turned offset."""
    (about_z, dz), (about_x, dx), (about_y, dy) = _rotation(2, p[3]), _rotation(0, -p[4]), _rotation(1, p[5])
    turn = about_z @ about_x @ about_y
    (on_z, mz), (on_x, mx), (on_y, my) = _rotation(2, p[11]), _rotation(0, -p[12]), _rotation(1, p[13])
    mount = on_z @ on_x @ on_y
    flat = _standing(local, p[6], p[7])
    on_bar = flat @ mount.T
    from_centre = on_bar - p[8:11]
    slope = np.empty((len(local), 3, 14))
    slope[:, :, :3] = np.eye(3)
    slope[:, :, 3] = from_centre @ (dz @ about_x @ about_y).T
    slope[:, :, 4] = -from_centre @ (about_z @ dx @ about_y).T
    slope[:, :, 5] = from_centre @ (about_z @ about_x @ dy).T
    whole = turn @ mount
    slope[:, :, 6] = local[:, :1] * whole[:, 0]
    slope[:, :, 7] = local[:, 1:] * whole[:, 2]
    slope[:, :, 8:11] = -turn
    slope[:, :, 11] = flat @ (turn @ mz @ on_x @ on_y).T
    slope[:, :, 12] = -flat @ (turn @ on_z @ mx @ on_y).T
    slope[:, :, 13] = flat @ (turn @ on_z @ on_x @ my).T
    return from_centre @ turn.T + p[:3], slope


def line_points(where: Layout, x: NDArray[np.float64], view: LineView) -> tuple[Points, NDArray[np.int64]]:
    """World points of a line along the trailer's side, their derivative, and the parameters that they are by.

    The side is upright and turned by `turn` against the foot line, `depth` behind its middle. The ground line rises by
    `slope` (radians) to the right from `rise`; the rail, `step` further back, by slope + pitch from `height`:
    (u cos turn, depth + u sin turn, rise + u tan slope) at the place u along it.
    """
    names = LINE_PARAMETERS[view.line]
    at = where.at(*names, *view.along)
    p, u = x[at[: len(names)]], x[at[len(names) :]]
    cos, sin = np.cos(p[0]), np.sin(p[0])
    rail = view.line == "rail"
    angle = p[2] + (p[5] if rail else 0.0)
    back, up = (p[1] + p[3], p[4]) if rail else (p[1], p[3])
    climb, d_climb = np.tan(angle), 1.0 + np.tan(angle) ** 2
    slope = np.zeros((len(u), 3, len(at)))
    slope[:, 0, 0], slope[:, 1, 0] = -u * sin, u * cos
    slope[:, 1, 1] = 1.0
    slope[:, 2, 2] = u * d_climb
    if rail:
        slope[:, 1, 3] = slope[:, 2, 4] = 1.0
        slope[:, 2, 5] = u * d_climb
    else:
        slope[:, 2, 3] = 1.0
    each = np.arange(len(u))
    slope[each, :, len(names) + each] = [cos, sin, climb]
    return (np.stack([u * cos, back + u * sin, up + u * climb], axis=1), slope), at


_PLANES = {
    "upright": _upright,
    "upright-in-bay": _upright_in_bay,
    "second-upright": _upright_in_bay,  # where the first sheet makes the world, as markers do in a bay
    "ground": _ground,
    "tag": _tag,
    "bar-tag": _bar_tag,
    "further-bar-tag": _further_bar_tag,
}


def intrinsics_of(scene: Scene, where: Layout, x: NDArray[np.float64], photo: int) -> NDArray[np.float64]:
    """(9,) intrinsics of a photograph at the parameters x."""
    camera = scene.cameras[scene.camera_of[photo]]
    result: NDArray[np.float64] = camera.mean + camera.basis @ x[where.camera(scene, photo)]
    return result


def rotation_matrix(rotation_vector: NDArray[np.float64]) -> NDArray[np.float64]:
    """(3, 3) of a rotation vector (3,)."""
    return np.asarray(cv2.Rodrigues(rotation_vector)[0], dtype=np.float64)


def rotation_vector(rotation: NDArray[np.float64]) -> NDArray[np.float64]:
    """(3,) of a rotation matrix (3, 3)."""
    return np.asarray(cv2.Rodrigues(rotation)[0], dtype=np.float64).ravel()


def cam_from_world(
    where: Layout, x: NDArray[np.float64], photo: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Rotation (3, 3) and translation (3,) of a photograph at the parameters x."""
    pose = x[where.pose(photo)]
    return rotation_matrix(pose[:3]), pose[3:]


@dataclass(frozen=True, slots=True, kw_only=True)
class Photographed:
    """One photograph's camera at some parameters: pinhole and lens (9,), how it stands, and d_turn (3, 3, 3) by its vector.

    vector (3,): of the rotation.
    """

    intrinsics: NDArray[np.float64]
    vector: NDArray[np.float64]
    turn: NDArray[np.float64]
    d_turn: NDArray[np.float64]
    move: NDArray[np.float64]

    def seen(self, world: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Pixels (N, 2) of world points (N, 3), and their derivative (2 N, 15): by vector, by move and by intrinsics."""
        if not len(world):
            return np.empty((0, 2)), np.empty((0, 6 + N_INTRINSICS))
        px, slopes = cv2.projectPoints(world, self.vector, self.move, matrix(self.intrinsics), self.intrinsics[4:])
        return np.asarray(px, dtype=np.float64).reshape(-1, 2), np.asarray(slopes, dtype=np.float64)


def photographed(scene: Scene, where: Layout, x: NDArray[np.float64], photo: int) -> Photographed:
    """The camera of a photograph at the parameters x (P,)."""
    pose = x[where.pose(photo)]
    turn, d_turn = cv2.Rodrigues(pose[:3])
    return Photographed(
        intrinsics=intrinsics_of(scene, where, x, photo),
        vector=pose[:3],
        turn=np.asarray(turn, dtype=np.float64),
        d_turn=np.asarray(d_turn, dtype=np.float64).reshape(3, 3, 3),
        move=pose[3:],
    )


def write_slopes(
    jacobian: NDArray[np.float64],
    where: Layout,
    scene: Scene,
    photo: int,
    turn: NDArray[np.float64],
    slope: NDArray[np.float64],
    at: NDArray[np.int64],
    slopes: NDArray[np.float64],
) -> None:
    """Write the derivative of pixels of world points into zeros (2 N, parameters).

    slope (N, 3, k): of the points, by the parameters `at` (k,); slopes (2 N, 15): of their pixels, as `Photographed.seen` has them.
    """
    jacobian[:, where.pose(photo)] = slopes[:, :6]
    jacobian[:, where.camera(scene, photo)] = slopes[:, 6:] @ scene.cameras[scene.camera_of[photo]].basis
    if len(at):
        by_world = (slopes[:, 3:6] @ turn).reshape(-1, 2, 3)  # what moves the world moves the camera's frame
        jacobian[:, at] = (by_world @ slope).reshape(-1, len(at))


def project_world(
    scene: Scene, where: Layout, x: NDArray[np.float64], photo: int, world: Points, at: NDArray[np.int64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Pixels (N, 2) of world points in a photograph, and their derivative (N, 2, parameters)."""
    camera = photographed(scene, where, x, photo)
    px, slopes = camera.seen(world[0])
    jacobian = np.zeros((2 * len(px), len(where.names)))
    write_slopes(jacobian, where, scene, photo, camera.turn, world[1], at, slopes)
    return px, jacobian.reshape(len(px), 2, -1)


def centre_px(scene: Scene, where: Layout, x: NDArray[np.float64], view: OutlineView) -> NDArray[np.float64]:
    """(2,) where the centre of the ball is in the photograph of an outline."""
    centre = x[where.at(*scene.names(CENTRE, before=view.before))]
    px: NDArray[np.float64] = photographed(scene, where, x, view.photo).seen(centre[None])[0][0]
    return px


def plane_points(
    scene: Scene, where: Layout, x: NDArray[np.float64], view: PlaneView
) -> tuple[Points, NDArray[np.int64]]:
    """World points (N, 3), mm, of a view's printed plane, their derivative (N, 3, k), and where the k parameters stand in x (P,)."""
    at = where.at(*parameters_of(scene, view))
    return _PLANES[view.plane](view.local_mm, x[at]), at
