"""Rigs as people photograph them: drawn with their truth, one group of conditions at a time."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from . import conditions as c
from .camera import Camera, FloatArray, pose_looking_at
from .conditions import CONDITIONS, Condition
from .ground import Backdrop, Ground, footprint_normal, ground_albedo
from .light import Light, ShadowEdge
from .phone import draw_lens, draw_light, draw_look
from .printed import PrintedKit, PrintedSheet
from .rig import HEAD_HALF_WIDTH_MM, backing, clutter, coupled_head, tow_bar, vehicle
from .scene import PlacedSheet, Scene, Truth
from .surfaces import Plane, Surface
from .texture import noise

DEG = np.pi / 180.0
BALL_FINISHES = ("chrome", "black", "painted", "rusty", "greased")
TOW_BAR_BELOW_MM = 130.0  # ball centre to whatever is lowest on the tow bar, and air


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Sheets:
    surfaces: tuple[Surface, ...]
    placed: tuple[PlacedSheet, ...]


def draw_rig_scene(
    rng: np.random.Generator,
    *,
    condition: str,
    kit: PrintedKit | None,
    coupled: bool = False,
    size_px: tuple[int, int] = (4000, 3000),
) -> Scene:
    """One rig in the invented Ferncombe hire yard, its photographs' cameras and everything that is true about it.

    World: the upright sheet faces -y, the middle of its foot line stands near the origin. Without a kit the same yard
    has no sheet. coupled puts a coupling head over the ball and, if the kit has tags, one on its side.
    ValueError for a condition that CONDITIONS does not name.
    """
    if condition not in CONDITIONS:
        raise ValueError(f"condition {condition!r}: one of {', '.join(CONDITIONS)} expected")
    group = CONDITIONS[condition]
    toward = _heading(rng, coupled)
    open_side = -float(np.sign(toward[0])) if coupled else 0.0  # where the vehicle is not in the way
    heights = c.COUPLED_HEIGHT_MM if coupled else c.HEIGHT_MM
    if group.under:
        heights = (max(heights[0], 290.0 + TOW_BAR_BELOW_MM), heights[1])
    n: dict[str, float] = _draw_nuisances(rng, heights, open_side, (150.0, 150.0) if kit is None else kit.bars_mm)
    if group.under:
        n["lateral_mm"] = c.UNDER_LATERAL_MM * rng.standard_normal()
    ground = Ground(
        kind=str(rng.choice(["concrete", "gravel", "grass"], p=[0.7, 0.2, 0.1])),
        slope_x=n["ground_slope_x"],
        slope_y=n["ground_slope_y"],
        bump_mm=n["ground_bump_mm"],
        bump_at_mm=(n["lateral_mm"], n["depth_mm"]),
        bump_radius_mm=120.0,
    )
    below = float(ground.z_mm(n["lateral_mm"], n["depth_mm"]))
    centre = np.array([n["lateral_mm"], n["depth_mm"], below + n["height_mm"]])
    light = replace(draw_light(rng, group), ground_albedo=ground_albedo(ground.kind), dark_direction=toward)
    if group.shadow:
        light = replace(light, shadow=_edge_across_sheet(rng, light))
    surfaces = _rig(rng, centre, toward, n, coupled=coupled, below_mm=below)
    sheets = _sheets(rng, kit, group, n, ground, centre, toward, coupled=coupled)
    lens, exif = draw_lens(rng, size_px)
    n |= {"focal_px": lens[0], "cx_px": lens[2], "cy_px": lens[3], "k1": lens[4], "k2": lens[5]}
    wall_y = rng.uniform(4500.0, 8000.0)
    return Scene(
        cameras=tuple(_cameras(rng, group, lens, size_px, centre, n, open_side)),
        surfaces=(*sheets.surfaces, *surfaces, *clutter(rng, near_y_mm=2800.0, far_y_mm=wall_y - 500.0)),
        light=light,
        ground=ground,
        backdrop=Backdrop(
            kind=str(rng.choice(["brick", "cladding", "hedge"])),
            wall_y_mm=wall_y,
            wall_height_mm=rng.uniform(1200.0, 3500.0),
            albedo=rng.uniform(0.15, 0.5),
        ),
        sheets=sheets.placed,
        truth=Truth(height_mm=n["height_mm"], centre_mm=centre, coupled=coupled, condition=condition, nuisance=n),
        look=draw_look(rng, group, light, size_px),
        exif=None if group.shrunk else exif,
    )


def _draw_nuisances(
    rng: np.random.Generator, height_mm: tuple[float, float], open_side: float, bars_mm: tuple[float, float]
) -> dict[str, float]:
    """Everything about the rig, the print and the yard that a measurement does not know; see `conditions`."""
    height = rng.uniform(*height_mm)
    under = height > 285.0 + TOW_BAR_BELOW_MM and rng.random() < 0.5
    side = -open_side or rng.choice([-1.0, 1.0])
    feed = rng.uniform(-c.PRINT_FEED_HALF_WIDTH, c.PRINT_FEED_HALF_WIDTH)
    scale = 1.0 + c.PRINT_SCALE * rng.standard_normal()
    n = {
        "height_mm": height,
        "lateral_mm": 50.0 * rng.standard_normal() if under else side * rng.uniform(170.0, 330.0),
        "depth_mm": rng.uniform(-c.DEPTH_HALF_WIDTH_MM, c.DEPTH_HALF_WIDTH_MM),
        "lean_rad": c.LEAN_DEG * DEG * rng.standard_normal(),
        "roll_rad": c.ROLL_DEG * DEG * rng.standard_normal(),
        "gap_mm": rng.uniform(-c.CUT_HALF_WIDTH_MM, c.CUT_HALF_WIDTH_MM),
        "print_scale_x": scale + 0.5 * feed,
        "print_scale_y": scale - 0.5 * feed,
        "ball_diameter_mm": rng.uniform(*c.BALL_MM),
        "ground_slope_x": c.GROUND_SLOPE * rng.standard_normal(),
        "ground_slope_y": c.GROUND_SLOPE * rng.standard_normal(),
        "ground_bump_mm": c.GROUND_BUMP_MM * rng.standard_normal(),
    }
    for axis, bar_mm in zip("xy", bars_mm, strict=True):
        step = c.BAR_READING_STEP_MM
        n[f"bar_{axis}_mm"] = round(bar_mm * n[f"print_scale_{axis}"] / step) * step
    return n


def _heading(rng: np.random.Generator, coupled: bool) -> FloatArray:
    """Horizontal unit vector from the ball to the vehicle: away from the viewer, or to a side where it is coupled."""
    turn = 8.0 * DEG * rng.standard_normal()
    if coupled:  # seen from the side
        turn += 0.5 * np.pi * rng.choice([-1.0, 1.0])
    return np.array([np.sin(turn), np.cos(turn), 0.0])


def _rig(
    rng: np.random.Generator,
    centre: FloatArray,
    toward: FloatArray,
    n: dict[str, float],
    *,
    coupled: bool,
    below_mm: float,
) -> tuple[Surface, ...]:
    finish = str(rng.choice(BALL_FINISHES))
    parts: tuple[Surface, ...] = tow_bar(
        centre,
        toward,
        diameter_mm=n["ball_diameter_mm"],
        finish=finish,
        bar_finish=str(rng.choice(["steel", "black", "rusty"])),
    )
    clearance = rng.uniform(300.0, 450.0) if coupled else rng.uniform(180.0, 320.0)
    parts += vehicle(centre, toward, rng, ground_z_mm=below_mm, clearance_mm=clearance)
    if coupled:
        parts += coupled_head(centre, toward, rng, ground_z_mm=below_mm)
    return parts


def _sheets(
    rng: np.random.Generator,
    kit: PrintedKit | None,
    group: Condition,
    n: dict[str, float],
    ground: Ground,
    centre: FloatArray,
    toward: FloatArray,
    *,
    coupled: bool,
) -> _Sheets:
    if kit is None:
        return _Sheets(surfaces=(), placed=())
    scale = (n["print_scale_x"], n["print_scale_y"])
    lean, roll = n["lean_rad"], n["roll_rad"]
    right = np.array([np.cos(roll), 0.0, -np.sin(roll)])
    up = np.array([np.sin(roll) * np.cos(lean), np.sin(lean), np.cos(roll) * np.cos(lean)])
    foot = np.array([0.0, 0.0, float(ground.z_mm(0.0, 0.0)) + n["gap_mm"]])
    upright, placed = kit.upright.placed("upright", foot, right, up, print_scale=scale)
    width, height = upright.size_mm
    block_gap = 3.0 + abs(np.sin(lean)) * height
    surfaces: list[Surface] = [upright, backing(0.94 * width, rng.uniform(0.8, 0.98) * height, block_gap)]
    sheets = [placed]
    if group.hidden_share:
        surfaces.append(_cover(rng, upright, group.hidden_share))
    if group.photos > 1 and kit.ground is not None:
        plane, flat = _lay(rng, kit.ground, ground, scale)
        surfaces.append(plane)
        sheets.append(flat)
    if coupled and kit.centre_tags:
        plane, tag = _stick_tag(rng, kit, centre, toward, scale, n)
        surfaces.append(plane)
        sheets.append(tag)
    return _Sheets(surfaces=tuple(surfaces), placed=tuple(sheets))


def _lay(
    rng: np.random.Generator, sheet: PrintedSheet, ground: Ground, scale: tuple[float, float]
) -> tuple[Plane, PlacedSheet]:
    """The ground sheet flat before the upright one, its cut edge against it, its top towards the viewer."""
    turn = 2.0 * DEG * rng.standard_normal()
    x, y = 6.0 * rng.standard_normal(), -rng.uniform(6.0, 20.0)
    normal = footprint_normal(ground, x, y - 0.5 * sheet.size_mm[1])
    up = np.array([np.sin(turn), -np.cos(turn), 0.0])
    up -= (up @ normal) * normal
    lift = rng.uniform(0.1, 0.3)  # paper's own thickness, and not quite flat
    anchor = np.array([x, y, float(ground.z_mm(x, y)) + lift])
    return sheet.placed("ground", anchor, np.cross(up, normal), up, print_scale=scale)


def _stick_tag(
    rng: np.random.Generator,
    kit: PrintedKit,
    centre: FloatArray,
    toward: FloatArray,
    scale: tuple[float, float],
    n: dict[str, float],
) -> tuple[Plane, PlacedSheet]:
    """A tag on the head's side that faces the viewer, its middle exactly at the height of the ball's centre."""
    index = int(rng.integers(len(kit.centre_tags)))
    right = toward * np.sign(toward[0])  # to the right in the picture
    outward = np.cross(right, [0.0, 0.0, 1.0])
    anchor = centre + (HEAD_HALF_WIDTH_MM + 0.3) * outward
    turn = 2.0 * DEG * rng.standard_normal()
    up = np.array([0.0, 0.0, 1.0]) * np.cos(turn) + right * np.sin(turn)
    n |= {"tag_index": float(index), "tag_y_mm": float(anchor[1]), "tag_roll_rad": float(turn)}
    return kit.centre_tags[index].placed(
        "centre-tag", anchor, right * np.cos(turn) - np.array([0.0, 0.0, np.sin(turn)]), up, print_scale=scale
    )


def _cover(rng: np.random.Generator, sheet: Plane, share: float) -> Plane:
    """Something flat that hides a share of a sheet: over a corner, along a side, along the top, or a strap across."""
    w, h = sheet.size_mm
    kind = rng.integers(4)
    if kind == 0:
        size = (w * np.sqrt(share), h * np.sqrt(share))
        left, bottom = rng.choice([0.0, w - size[0]]), rng.choice([0.0, h - size[1]])
    elif kind == 1:
        size = (w * share, h)
        left, bottom = rng.choice([0.0, w - size[0]]), 0.0
    elif kind == 2:
        size = (w, h * share)
        left, bottom = 0.0, rng.choice([0.0, h - size[1]])
    else:
        size = (w, h * share)
        left, bottom = 0.0, rng.uniform(0.1, 0.9 - share) * h
    world = np.array(sheet.world_from_plane)
    world[:3, 3] += world[:3, :3] @ [left, bottom, 4.0]
    cloth = noise("clouds")[:256, :256]
    return Plane(
        texture=cloth,
        mm_per_texel=(size[0] / 256.0, size[1] / 256.0),
        world_from_plane=world,
        reflectance=(0.05, rng.uniform(0.15, 0.5)),
        tint_bgr=(0.7, 0.9, 1.1),
    )


def _edge_across_sheet(rng: np.random.Generator, light: Light) -> ShadowEdge:
    """A shadow's edge through the sheet's middle at any slope, with a penumbra of some millimetres."""
    slope = rng.uniform(0.0, np.pi)
    edge = np.array([np.cos(slope), 0.0, np.sin(slope)])
    normal = np.cross(light.sun_direction, edge)
    normal *= rng.choice([-1.0, 1.0]) / np.linalg.norm(normal)
    at = np.array([rng.uniform(-40.0, 40.0), 0.0, rng.uniform(100.0, 200.0)])
    return ShadowEdge(point_mm=at, normal=normal, softness_mm=rng.uniform(4.0, 25.0))


def _cameras(
    rng: np.random.Generator,
    group: Condition,
    lens: FloatArray,
    size_px: tuple[int, int],
    centre: FloatArray,
    n: dict[str, float],
    open_side: float,
) -> list[Camera]:
    """Held by hand, aimed between sheet and coupling.

    Several photographs are spread over left, middle and right, or from the middle to the open side.
    """
    cameras = []
    for photo in range(group.photos):
        yaw = _yaw_rad(rng, group, photo, open_side)
        distance = rng.uniform(*group.distance_mm)
        if group.above_mm is None:
            height = rng.uniform(*group.lens_mm)
        else:
            height = max(float(centre[2]) + rng.uniform(*group.above_mm), 150.0)
        position = np.array([-distance * np.sin(yaw), -distance * np.cos(yaw), height])
        target = np.array([0.5 * centre[0], 0.0, 0.5 * (centre[2] + 150.0)]) + 60.0 * rng.standard_normal(3)
        roll = 1.5 * DEG * rng.standard_normal()
        pose = pose_looking_at(position, target, roll_rad=roll)
        cameras.append(Camera(intrinsics=lens, size_px=size_px, cam_from_world=pose))
        suffix = "" if group.photos == 1 else f"_{photo + 1}"
        n |= {f"yaw_rad{suffix}": yaw, f"distance_mm{suffix}": distance, f"lens_height_mm{suffix}": height}
    return cameras


def _yaw_rad(rng: np.random.Generator, group: Condition, photo: int, open_side: float) -> float:
    """Where the camera stands about the sheet, from its normal, positive to the left."""
    if group.photos == 1:
        side = -open_side or rng.choice([-1.0, 1.0])
        return float(side * DEG * rng.uniform(*group.yaw_deg))
    spread = -open_side * 16.0 * photo if open_side else 25.0 * (photo - 0.5 * (group.photos - 1))
    return float(DEG * (spread + 4.0 * rng.standard_normal()))
