"""Drawn scenes for the search of the bare ball: a tow bar among things that look like a ball and are none.

Only the part of the photograph where a ball can be is rendered, at the sensor's full resolution (a crop with the
principal point moved: the same pixels). Everything round that a yard offers is there to mislead: hub caps, wheel
nuts, lamps, reflectors, round holes, jockey wheels, a coupling head in place of the ball.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.seen.centre.ball.ball import view_of
from photomeasure.seen.centre.ball.search import SearchedPicture
from tests.scenes import (
    Backdrop,
    Ball,
    Box,
    Camera,
    Cylinder,
    Ground,
    Light,
    Look,
    Plane,
    Scene,
    ShadowEdge,
    frame,
    light_on_sensor,
    pose_looking_at,
    project,
)
from tests.scenes.sensor import develop
from tests.scenes.surfaces import Surface

METALS = ("steel", "painted", "body")
BALL_FINISHES = ("chrome", "black", "painted", "rusty", "greased")
LIGHTS = ("overcast", "sun", "shade", "edge")
DISTANCES_MM = (1500.0, 2200.0, 3000.0)
STATES = ("bare", "coupled", "absent")
SENSOR_PX = (4000, 3000)
CHAT_SENSOR_PX = (2400, 1800)  # drawn smaller where it is delivered at 1600 px: the same pixels at a third of the time
CHAT_SCALE = 2 / 3
SWAN_SHARE = 0.3
DRAWN_X_MM, DRAWN_Z_MM = (-400.0, 400.0), (170.0, 860.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class BallPicture:
    """A picture, what the solved sheet says about the camera, and the truth (centre_px None where no ball shows)."""

    grey: NDArray[np.uint8]
    intrinsics: NDArray[np.float64]
    rotation: NDArray[np.float64]
    translation: NDArray[np.float64]
    keep_out_px: tuple[NDArray[np.float64], ...]
    diameter_mm: float
    centre_mm: NDArray[np.float64] | None
    centre_px: NDArray[np.float64] | None
    true_intrinsics: NDArray[np.float64]
    true_pose: NDArray[np.float64]
    light: str
    finish: str
    distance_mm: float
    state: str
    chat: bool

    def view(self) -> SearchedPicture:
        """What the search is given."""
        return view_of(
            self.grey,
            intrinsics=self.intrinsics,
            rotation=self.rotation,
            translation=self.translation,
            diameter_mm=self.diameter_mm,
            keep_out_px=self.keep_out_px,
        )


def _chequer(rng: np.random.Generator) -> NDArray[np.uint8]:
    """A sheet at 1 mm per texel with black and white cells of 21 mm and some random modules."""
    sheet = np.full((258, 172), 255, dtype=np.uint8)
    y, x = np.indices(sheet.shape)
    sheet[((x // 21) + (y // 21)) % 2 == 0] = 0
    bits = rng.integers(0, 2, size=(7, 7)).astype(np.uint8) * 255
    sheet[40:110, 40:110] = np.kron(bits, np.ones((10, 10), dtype=np.uint8))
    return np.asarray(np.pad(sheet, ((19, 20), (19, 19)), constant_values=255), dtype=np.uint8)


def _upright(at: NDArray[np.float64]) -> NDArray[np.float64]:
    """World from a cylinder that stands."""
    return frame(at, [1.0, 0.0, 0.0], [0.0, 1.0, 0.0])


def _facing(at: NDArray[np.float64], rng: np.random.Generator, spread_rad: float = 0.15) -> NDArray[np.float64]:
    """World from a cylinder whose axis points at the viewer, more or less."""
    a, b = rng.normal(0.0, spread_rad, 2)
    right = np.array([np.cos(a), np.sin(a), 0.0])
    up = np.array([0.0, np.sin(b), np.cos(b)])
    return frame(at, right, up)


def _tow_bar(
    rng: np.random.Generator, centre: NDArray[np.float64], radius: float, finish: str, *, ball: bool
) -> list[Surface]:
    """Ball, neck, flange, tongue and the bar that carries them; or a bent round bar that ends in the ball."""
    if rng.random() < SWAN_SHARE:
        return _swan_neck(rng, centre, radius, finish, ball=ball)
    neck_finish = finish if rng.random() < 0.6 else str(rng.choice(["steel", "rusty", "black", "greased"]))
    bar_finish = str(rng.choice(["black", "painted", "rusty", "steel"]))
    neck_radius = rng.uniform(0.5, 0.64) * radius
    flange_top = rng.uniform(1.45, 2.3) * radius
    thick = rng.uniform(8.0, 16.0)
    plate = rng.uniform(12.0, 25.0)
    parts: list[Surface] = []
    if ball:
        parts.append(Ball(centre_mm=centre, diameter_mm=2 * radius, finish=finish))
        parts.append(
            Cylinder(
                world_from_cylinder=_upright(centre - np.array([0.0, 0.0, 0.5 * flange_top])),
                radius_mm=neck_radius,
                half_length_mm=0.5 * flange_top,
                finish=neck_finish,
            )
        )
        parts.append(
            Cylinder(
                world_from_cylinder=_upright(centre - np.array([0.0, 0.0, flange_top + 0.5 * thick])),
                radius_mm=rng.uniform(0.85, 1.3) * radius,
                half_length_mm=0.5 * thick,
                finish=neck_finish,
            )
        )
    turn = rng.choice([0.0, np.pi, 0.5 * np.pi]) + rng.normal(0.0, 0.15)  # which way the bar leads: side or rear view
    along = np.array([np.cos(turn), np.sin(turn), 0.0])
    bar_z = centre[2] - flange_top - thick - 0.5 * plate
    length = rng.uniform(120.0, 260.0)
    at = np.array([centre[0], centre[1], bar_z]) + along * (length - 35.0)
    parts.append(
        Box(
            world_from_box=frame(at, along, [-along[1], along[0], 0.0]),
            half_mm=(length, rng.uniform(25.0, 40.0), 0.5 * plate),
            finish=bar_finish,
        )
    )
    drop = rng.uniform(-90.0, 60.0)
    parts.append(
        Box(
            world_from_box=frame(at + along * (length + 25.0) + [0.0, 0.0, drop], along, [-along[1], along[0], 0.0]),
            half_mm=(25.0, 40.0, abs(drop) + 30.0),
            finish=bar_finish,
        )
    )
    return parts


def _swan_neck(
    rng: np.random.Generator, centre: NDArray[np.float64], radius: float, finish: str, *, ball: bool
) -> list[Surface]:
    """A round bar that stands under the ball and bends away below it: nothing level ends the neck."""
    thick = rng.uniform(0.5, 0.64) * radius
    below = rng.uniform(1.6, 3.2) * radius
    bar_finish = finish if rng.random() < 0.4 else str(rng.choice(["black", "painted", "rusty", "steel"]))
    parts: list[Surface] = []
    if ball:
        parts.append(Ball(centre_mm=centre, diameter_mm=2 * radius, finish=finish))
    turn = rng.choice([0.0, np.pi, 0.5 * np.pi]) + rng.normal(0.0, 0.3)
    at = centre - np.array([0.0, 0.0, 0.0 if ball else radius])
    for tilt, length in ((0.0, below), (rng.uniform(0.5, 0.9), 60.0), (rng.uniform(1.1, 1.7), 260.0)):
        along = np.array([np.sin(tilt) * np.cos(turn), np.sin(tilt) * np.sin(turn), -np.cos(tilt)])
        across = np.array([-np.sin(turn), np.cos(turn), 0.0])
        parts.append(
            Cylinder(
                world_from_cylinder=frame(at + 0.5 * length * along, across, np.cross(-along, across)),
                radius_mm=thick,
                half_length_mm=0.5 * length,
                finish=bar_finish,
            )
        )
        at = at + (length - 0.4 * thick) * along
    return parts


def _coupling_head(rng: np.random.Generator, centre: NDArray[np.float64]) -> list[Surface]:
    """A head over the ball, its drawbar leading off to one side."""
    side = float(rng.choice([-1.0, 1.0]))
    finish = str(rng.choice(["painted", "steel", "rusty", "black"]))
    cap = rng.uniform(29.0, 38.0)
    return [
        Ball(centre_mm=centre + np.array([0.0, 0.0, 4.0]), diameter_mm=2 * cap, finish=finish, exact=False),
        Cylinder(
            world_from_cylinder=_upright(centre - np.array([0.0, 0.0, 8.0])),
            radius_mm=cap,
            half_length_mm=14.0,
            finish=finish,
        ),
        Box(
            world_from_box=frame(centre + np.array([side * 120.0, 0.0, 15.0]), [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]),
            half_mm=(110.0, 30.0, 22.0),
            finish=finish,
        ),
        Cylinder(
            world_from_cylinder=_upright(centre - np.array([0.0, 0.0, 45.0])),
            radius_mm=14.0,
            half_length_mm=25.0,
            finish="steel",
        ),
    ]


def _disc(rng: np.random.Generator, at: NDArray[np.float64], radius: float, finish: str, tint: float = 1.0) -> Cylinder:
    return Cylinder(
        world_from_cylinder=_facing(at, rng),
        radius_mm=radius,
        half_length_mm=rng.uniform(3.0, 15.0),
        finish=finish,
        tint_bgr=(tint, tint, tint),
    )


def _misleading(rng: np.random.Generator, centre: NDArray[np.float64], count: int) -> list[Surface]:
    """Round things away from the ball, many of a ball's very size."""
    parts: list[Surface] = []
    finishes = ("chrome", "body", "black", "painted", "rubber", "steel", "matt")
    for _ in range(count):
        x = centre[0] + float(rng.choice([-1.0, 1.0])) * rng.uniform(95.0, 330.0)
        at = np.array([x, rng.uniform(-30.0, 200.0), rng.uniform(200.0, 800.0)])
        radius = 25.0 * (rng.uniform(0.93, 1.08) if rng.random() < 0.6 else rng.uniform(0.4, 2.0))
        kind = rng.choice(["lamp", "hub", "hole", "ball", "nuts", "peg"])
        if kind == "lamp":
            parts += [
                Box(
                    world_from_box=_facing(at + np.array([0.0, 25.0, 0.0]), rng),
                    half_mm=(rng.uniform(30, 120), rng.uniform(30, 60), 10.0),
                    finish=str(rng.choice(finishes)),
                ),
                _disc(rng, at, radius, str(rng.choice(finishes))),
            ]
        elif kind == "hub":
            parts += [
                _disc(rng, at + np.array([0.0, 60.0, 0.0]), rng.uniform(150.0, 320.0), "rubber"),
                _disc(rng, at + np.array([0.0, 40.0, 0.0]), rng.uniform(80.0, 140.0), str(rng.choice(METALS))),
                _disc(rng, at + np.array([0.0, 20.0, 0.0]), radius, str(rng.choice(finishes))),
            ]
        elif kind == "hole":
            parts += [
                Box(
                    world_from_box=_facing(at + np.array([0.0, 22.0, 0.0]), rng, 0.03),
                    half_mm=(rng.uniform(50, 140), rng.uniform(40, 120), 6.0),
                    finish=str(rng.choice(["steel", "painted", "rusty"])),
                ),
                replace(_disc(rng, at, radius, "rubber", 0.3), half_length_mm=12.0),
            ]
        elif kind == "ball":  # a buoy, a knob: round, but nothing below
            parts.append(Ball(centre_mm=at, diameter_mm=2 * radius, finish=str(rng.choice(finishes)), exact=False))
        elif kind == "nuts":
            back = at + np.array([0.0, 40.0, 0.0])
            parts.append(_disc(rng, back, 90.0, str(rng.choice(["steel", "painted", "rusty"]))))
            for k in range(6):
                a = k * np.pi / 3
                nut = at + np.array([60 * np.cos(a), 20.0, 60 * np.sin(a)])
                parts.append(_disc(rng, nut, rng.uniform(9.0, 14.0), "chrome"))
        else:  # a reflector on a stake much thinner or thicker than a neck
            width = radius * float(rng.choice([0.15, 1.0, 1.2]))
            parts += [
                _disc(rng, at, radius, str(rng.choice(finishes))),
                Box(
                    world_from_box=frame(at + np.array([0.0, 12.0, -150.0]), [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]),
                    half_mm=(width, 150.0, 4.0),
                    finish=str(rng.choice(["painted", "timber", "steel"])),
                ),
            ]
    return parts


def _vehicle(rng: np.random.Generator, centre: NDArray[np.float64]) -> list[Surface]:
    """Body, bumper and the dark underneath, at one side or behind."""
    y = rng.uniform(180.0, 700.0)
    z = centre[2] + rng.uniform(-60.0, 220.0)
    tint = rng.uniform(0.15, 1.6)
    body = Box(
        world_from_box=frame([rng.uniform(-500, 500), y + 300.0, z + 450.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]),
        half_mm=(rng.uniform(500.0, 1000.0), 300.0, 450.0),
        finish="body",
        tint_bgr=(tint, tint, tint),
    )
    under = Box(
        world_from_box=frame([rng.uniform(-400, 400), y + 500.0, z - 90.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]),
        half_mm=(700.0, 300.0, 90.0),
        finish="rubber",
    )
    wheel = _disc(rng, np.array([rng.choice([-1, 1]) * rng.uniform(250, 700), y + 300.0, 310.0]), 310.0, "rubber")
    return [body, under, wheel]


def _light(rng: np.random.Generator, kind: str, centre: NDArray[np.float64]) -> tuple[Light, float]:
    """Light and the exposure that a phone would choose for it."""
    azimuth, height = rng.uniform(0, 2 * np.pi), rng.uniform(0.4, 1.2)
    sun = np.array([np.cos(azimuth) * np.cos(height), np.sin(azimuth) * np.cos(height), np.sin(height)])
    away = rng.normal(size=3)
    away[1] = -abs(away[1])
    dark = away / np.linalg.norm(away) if rng.random() < 0.7 else None
    light = Light(
        sun_direction=sun,
        sun={"overcast": 0.0, "sun": 1.6, "shade": 0.0, "edge": 1.6}[kind],
        sky={"overcast": 1.0, "sun": 0.35, "shade": 0.3, "edge": 0.4}[kind],
        ground_albedo=rng.uniform(0.15, 0.4),
        dark_direction=dark,
    )
    if kind == "edge":
        normal = np.cross(sun, rng.normal(size=3))
        normal /= np.linalg.norm(normal)
        light = replace(
            light,
            shadow=ShadowEdge(
                point_mm=centre + normal * rng.uniform(-20, 20), normal=normal, softness_mm=rng.uniform(2, 25)
            ),
        )
    level = {"overcast": 1.0, "sun": 1.4, "shade": 0.3, "edge": 1.2}[kind]
    return light, float(rng.uniform(0.75, 1.35) / level)


def draw_ball_picture(
    rng: np.random.Generator,
    *,
    finish: str,
    light: str,
    distance_mm: float,
    state: str = "bare",
    chat: bool = False,
    lens_mm: tuple[float, float] = (-150.0, 150.0),
    misleading: int | None = None,
) -> BallPicture:
    """Draw one picture; `lens_mm`: the lens above the coupling's centre, from and to."""
    diameter = 50.0
    radius = 0.5 * (diameter - rng.uniform(0.0, 1.0))
    centre = np.array([rng.uniform(-130, 130), rng.uniform(-20, 20), rng.uniform(345, 640)])
    lean, roll = rng.normal(0.0, 0.006, 2)
    bare = state == "bare"
    surfaces: list[Surface] = _tow_bar(rng, centre, radius, finish, ball=state != "absent")
    if state == "coupled":
        surfaces += _coupling_head(rng, centre)
    surfaces += _misleading(rng, centre, int(rng.integers(1, 6)) if misleading is None else misleading)
    if rng.random() < 0.75:
        surfaces += _vehicle(rng, centre)
    sheet_x = rng.uniform(-15, 15) if centre[2] > 330 else 0.0
    sheet = Plane(
        texture=_chequer(rng),
        mm_per_texel=(1.0, 1.0),
        world_from_plane=frame([sheet_x - 105.0, 0.0, 0.0], [1.0, 0.0, roll], [0.0, np.sin(lean), np.cos(lean)]),
        exact=False,
    )
    surfaces.append(sheet)
    scene_light, exposure = _light(rng, light, centre)
    camera = _cropped(*_phone(rng, centre, distance_mm, lens_mm, CHAT_SENSOR_PX if chat else SENSOR_PX))
    scene = Scene(
        cameras=(camera,),
        surfaces=tuple(surfaces),
        light=scene_light,
        ground=Ground(kind=str(rng.choice(["concrete", "gravel", "grass"]))),
        backdrop=Backdrop(
            kind=str(rng.choice(["brick", "cladding", "hedge"])),
            wall_y_mm=rng.uniform(900, 6000),
            wall_height_mm=rng.uniform(300, 2600),
            albedo=rng.uniform(0.1, 0.6),
        ),
    )
    look = Look(
        exposure=exposure,
        blur_px=rng.uniform(0.5, 1.3),
        halo=rng.uniform(0.0, 0.08),
        halo_px=8.0,
        motion_px=rng.choice([0.0, rng.uniform(0.5, 2.0)]),
        motion_rad=rng.uniform(0, np.pi),
        shot=rng.uniform(1e-4, 8e-4),
        read=rng.uniform(0.001, 0.004),
        gamma=2.2,
        contrast=rng.uniform(0.0, 0.4),
        sharpen=rng.uniform(0.0, 1.0),
        long_side_px=round(CHAT_SCALE * max(camera.size_px)) if chat else None,
        grey=True,
    )
    return picture_of(
        rng,
        scene,
        look,
        scale=CHAT_SCALE if chat else 1.0,
        quality=70 if chat else int(rng.integers(85, 96)),
        centre_mm=centre if bare else None,
        keep_out_mm=sheet.corners_mm(),
        diameter_mm=diameter,
        finish=finish,
        light=light,
        state=state,
    )


def picture_of(
    rng: np.random.Generator,
    scene: Scene,
    look: Look,
    *,
    scale: float,
    quality: int,
    centre_mm: NDArray[np.float64] | None,
    finish: str,
    light: str,
    state: str,
    keep_out_mm: NDArray[np.float64] | None = None,
    diameter_mm: float = 50.0,
) -> BallPicture:
    """Render, compress, decode; the truth in the delivered picture's pixels, and the camera as a sheet would tell
    it."""
    camera = scene.cameras[0]
    picture = develop(light_on_sensor(scene, samples=16), look, rng)
    packed = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, quality])[1]
    grey = np.asarray(cv2.imdecode(packed, cv2.IMREAD_GRAYSCALE), dtype=np.uint8)
    intrinsics = camera.intrinsics.copy()
    intrinsics[:2] *= scale
    intrinsics[2:4] = (intrinsics[2:4] + 0.5) * scale - 0.5
    pose = np.asarray(camera.cam_from_world)
    solved, rotation, translation = solved_as(rng, intrinsics, pose)

    def delivered(points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.asarray((project(camera, points_mm) + 0.5) * scale - 0.5)

    return BallPicture(
        grey=grey,
        intrinsics=solved,
        rotation=rotation,
        translation=translation,
        keep_out_px=() if keep_out_mm is None else (delivered(keep_out_mm),),
        diameter_mm=diameter_mm,
        centre_mm=centre_mm,
        centre_px=None if centre_mm is None else delivered(centre_mm)[0],
        true_intrinsics=intrinsics,
        true_pose=pose,
        light=light,
        finish=finish,
        distance_mm=float(np.linalg.norm(camera.position_mm)),
        state=state,
        chat=scale < 1.0,
    )


def _phone(
    rng: np.random.Generator,
    centre: NDArray[np.float64],
    distance_mm: float,
    lens_mm: tuple[float, float],
    sensor_px: tuple[int, int],
) -> tuple[NDArray[np.float64], NDArray[np.float64], tuple[int, int]]:
    width, height = sensor_px
    focal = width / 36.0 * rng.uniform(24.0, 28.0)
    k1, k2 = rng.normal(0.0, 0.007, 2)
    intrinsics = np.array([
        focal, focal, width * rng.normal(0.5, 0.004), height * rng.normal(0.5, 0.005), k1, k2, 0.0, 0.0, 0.0
    ])  # fmt: skip
    yaw = rng.uniform(-0.5, 0.5)
    position = np.array([
        centre[0] + distance_mm * np.sin(yaw), -distance_mm * np.cos(yaw), max(centre[2] + rng.uniform(*lens_mm), 150.0)
    ])  # fmt: skip
    look_at = np.array([rng.uniform(-300, 300), 0.0, rng.uniform(150, 600)])
    return intrinsics, pose_looking_at(position, look_at, roll_rad=rng.normal(0, 0.04)), sensor_px


def _cropped(intrinsics: NDArray[np.float64], pose: NDArray[np.float64], sensor_px: tuple[int, int]) -> Camera:
    """The part of the photograph where a ball can be, in whole blocks of the chat program's scaling."""
    whole = Camera(intrinsics=intrinsics, size_px=sensor_px, cam_from_world=pose)
    px = project(whole, np.array([[x, y, z] for x in DRAWN_X_MM for y in (-60.0, 60.0) for z in DRAWN_Z_MM]))
    low = np.floor(np.clip(px.min(axis=0), 0, sensor_px) / 12).astype(int) * 12
    high = np.ceil(np.clip(px.max(axis=0), 0, sensor_px) / 12).astype(int) * 12
    cropped = intrinsics.copy()
    cropped[2:4] -= low
    return Camera(intrinsics=cropped, size_px=(int(high[0] - low[0]), int(high[1] - low[1])), cam_from_world=pose)


def solved_as(
    rng: np.random.Generator, intrinsics: NDArray[np.float64], pose: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Camera and pose as a solved sheet gives them: focal length and distance off together, small turns."""
    error = rng.normal(0.0, 0.015)
    solved = intrinsics.copy()
    solved[:2] *= 1.0 + error
    solved[4:6] = 0.0
    turn = cv2.Rodrigues(rng.normal(0.0, 0.0006, 3))[0]
    rotation = turn @ pose[:3, :3]
    translation = pose[:3, 3] * np.array([1.0, 1.0, 1.0 + error]) + rng.normal(0.0, 0.5, 3)
    return solved, rotation, translation
