"""The invented hire yard round the rig: slabs, a clad workshop with a roller door, and what lies about."""

from __future__ import annotations

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from scene.mesh import Array, Mesh, box, creased, grid_faces, joined, rectangle, shift, turn
from scene.noise import Bitmap, blend, concrete, dusty, fractal, plain, step
from scene.shapes import cylinder, extruded, lathe, rounded_outline, tube
from scene.stage import Stage, coated, matt, printed

SLAB_MM = 6000.0


def add_ground(stage: Stage, rng: np.random.Generator, *, slab_px: int = 4096, tint: float = 1.0) -> None:
    """The plane z = 0: one fine slab under the rig, coarser ones all round, joints between them."""
    stage.define("slab", matt(concrete(rng, size=slab_px, tile_mm=SLAB_MM, joints=True, tint=tint)))
    stage.define("slabs", matt(concrete(rng, size=2048, tile_mm=SLAB_MM, joints=True, tint=tint * 0.97)))
    low = np.array([-2300.0, -3600.0])
    for column in range(-4, 5):
        for row in range(-1, 5):
            corner = np.array([*(low + SLAB_MM * np.array([column, row])), 0.0])
            uv = np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * SLAB_MM
            mesh = rectangle(corner, np.array([SLAB_MM, 0, 0]), np.array([0, SLAB_MM, 0]), uv_mm=uv)
            stage.add("slab" if (column, row) == (0, 0) else "slabs", mesh)


def add_workshop(stage: Stage, rng: np.random.Generator, *, distance_mm: float, colour: tuple[float, float, float], door_x_mm: float) -> None:
    """A wall across the back: block plinth, ribbed cladding, a roller door, a sign, a downpipe."""
    y = distance_mm
    stage.define("cladding", coated(dusty(rng, colour, dust=0.35, tile_mm=5000), roughness=0.5))
    stage.define("plinth", matt(_blockwork(rng)))
    stage.define("shutter", coated(dusty(rng, (0.42, 0.44, 0.45), dust=0.35, tile_mm=4000), roughness=0.45, metallic=0.2))
    left, right, door = -16000.0, 16000.0, 1800.0
    for x0, x1 in ((left, door_x_mm - door), (door_x_mm + door, right)):
        stage.add("plinth", box((x0, y, -10), (x1, y + 250, 1000), radius_mm=6))
        stage.add("cladding", _ribbed(x0, x1, y + 20, 1000, 6200))
        stage.add("zinc", box((x0, y - 25, 985), (x1, y + 30, 1015), radius_mm=4))
    stage.add("cladding", _ribbed(door_x_mm - door, door_x_mm + door, y + 20, 3500, 6200))
    stage.add("shutter", _slats(door_x_mm - door, door_x_mm + door, y + 160, 3500))
    frame = [box((door_x_mm + side * door - 70, y - 30, 0), (door_x_mm + side * door + 70, y + 180, 3560), radius_mm=8) for side in (-1, 1)]
    frame.append(box((door_x_mm - door - 70, y - 60, 3440), (door_x_mm + door + 70, y + 180, 3800), radius_mm=10))
    stage.add("chassis", *frame)
    for side in (-1, 1):
        stage.add("safety", lathe([(0, 0), (85, 0), (85, 960), (60, 1000), (0, 1010)], segments=40).moved(shift(door_x_mm + side * (door + 330), y - 420, 0)))
    stage.add("zinc", tube([(door_x_mm + door + 2600, y - 60, 60), (door_x_mm + door + 2600, y - 60, 6200)], 50))
    _sign(stage, door_x_mm + door + 480, y - 30)
    stage.add("chassis", box((left, y + 260, -10), (right, y + 400, 6100), radius_mm=5))


def _blockwork(rng: np.random.Generator) -> object:
    from scene.noise import Surface

    size, tile = 1024, 1600.0
    rgb = plain((0.30, 0.285, 0.26), size) * (1 + 0.10 * fractal(rng, size, coarse=20, fine=1, slope=0.4))[..., None]
    rows, columns = np.mgrid[0:size, 0:size] * (tile / size)
    course = (rows // 200).astype(int)
    along = columns + 200 * (course % 2)
    tone = rng.normal(1, 0.07, (8, 5))[course % 8, (along // 400).astype(int) % 4]
    rgb = rgb * tone[..., None].astype(np.float32)
    joint = ((rows % 200) < 11) | ((along % 400) < 11)
    rgb = blend(rgb.astype(np.float32), (0.36, 0.35, 0.33), 0.8 * joint.astype(np.float32))
    damp = step(fractal(rng, size, coarse=500, fine=8, slope=1.4), 0.5, 2.0)
    return Surface(rgb=np.clip(rgb * (1 - 0.35 * damp[..., None]), 0.02, 0.8).astype(np.float32), tile_mm=tile)


def _ribbed(x0_mm: float, x1_mm: float, y_mm: float, z0_mm: float, z1_mm: float) -> Mesh:
    """Sheet with trapezoidal ribs every 190 mm."""
    pitch = 190.0
    xs, ys = [], []
    for number in range(int((x1_mm - x0_mm) / pitch) + 1):
        base = x0_mm + number * pitch
        for dx, dy in ((0, 0), (110, 0), (128, -29), (172, -29), (190, 0)):
            xs.append(min(base + dx, x1_mm))
            ys.append(y_mm + dy)
    line = np.column_stack([xs, ys])
    points = np.vstack([np.column_stack([line, np.full(len(line), z)]) for z in (z0_mm, z1_mm)])
    return creased(points, grid_faces(2, len(line)), crease_deg=20)


def _slats(x0_mm: float, x1_mm: float, y_mm: float, top_mm: float) -> Mesh:
    """A roller shutter: curved slats, 75 mm each."""
    z = np.arange(0, top_mm, 75.0 / 8)
    y = y_mm - 14 * np.abs(np.sin(np.pi * z / 75.0)) ** 0.6
    points = np.vstack([np.column_stack([np.full(len(z), x), y, z]) for x in (x0_mm, x1_mm)])
    return creased(points, grid_faces(2, len(z))[:, ::-1], crease_deg=50)


def _sign(stage: Stage, x_mm: float, y_mm: float) -> None:
    stage.define("sign", printed(_lettering(["FERNCOMBE", "HIRE YARD"], "Returns: sound the horn, wait by the line")))
    stage.add("plastic", box((x_mm, y_mm - 14, 1290), (x_mm + 1500, y_mm, 2090), radius_mm=6))
    uv = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], dtype=float)
    stage.add("sign", rectangle(np.array([x_mm + 12, y_mm - 15, 1302]), np.array([1476, 0, 0.0]), np.array([0, 0, 776.0]), uv_mm=uv))


def _lettering(lines: list[str], small: str) -> Bitmap:
    """A painted board, linear reflectance (H, W, 3)."""
    picture = Image.new("RGB", (1476, 776), (24, 62, 52))
    draw = ImageDraw.Draw(picture)
    draw.rectangle((24, 24, 1452, 752), outline=(232, 226, 205), width=10)
    for number, line in enumerate(lines):
        draw.text((738, 190 + 220 * number), line, font=ImageFont.load_default(200), fill=(240, 234, 214), anchor="mm")
    draw.text((738, 640), small, font=ImageFont.load_default(60), fill=(240, 200, 110), anchor="mm")
    return ((np.asarray(picture, np.float32) / 255) ** 2.2 * 0.85).astype(np.float32)


def add_clutter(stage: Stage, rng: np.random.Generator, *, distance_mm: float, sides: tuple[int, ...] = (-1, 1)) -> None:
    """Pallets, drums, cones, a stack of tyres and a painted line, along the wall and out of the rig's way."""
    for side in sides:
        x = side * rng.uniform(3000, 4200)
        y = distance_mm - rng.uniform(1100, 1500)
        stage.add("timber", _pallets(int(rng.integers(4, 9))).moved(shift(x, y, 0) @ turn("z", rng.uniform(-12, 12))))
        for number in range(3):
            at = shift(x + side * (1300 + 640 * number), y + rng.uniform(-150, 250), 0) @ turn("z", rng.uniform(0, 360))
            stage.add(("drum-blue", "drum-rust", "drum-blue")[number], _drum().moved(at))
        stage.add("rubber", _tyre_stack(int(rng.integers(3, 6))).moved(shift(x - side * 1350, y + 300, 0)))
    for x, y in ((-1750.0, 1750.0), (2050.0, 2500.0)):
        cone, bands, foot = _cone()
        at = shift(x + rng.uniform(-250, 250), y + rng.uniform(-300, 300), 0) @ turn("z", rng.uniform(0, 90))
        stage.add("orange", cone.moved(at), foot.moved(at))
        stage.add("band", bands.moved(at))
    line = box((-15000, distance_mm - 2300, -1), (15000, distance_mm - 2200, 0.4), radius_mm=0.2, steps=1)
    stage.add("line", line)


def define_clutter(stage: Stage, rng: np.random.Generator) -> None:
    """Materials that only the yard uses."""
    stage.define("drum-blue", coated(dusty(rng, (0.03, 0.12, 0.33), dust=0.4, tile_mm=900), roughness=0.45))
    from scene.noise import rusty

    stage.define("drum-rust", coated(rusty(rng, (0.28, 0.05, 0.03), rust=0.35, tile_mm=900), roughness=0.6))
    stage.define("safety", coated(dusty(rng, (0.74, 0.50, 0.03), dust=0.35, tile_mm=900), roughness=0.5))
    stage.define("line", matt(dusty(rng, (0.60, 0.45, 0.08), dust=0.8, tile_mm=1500)))


def _pallets(count: int) -> Mesh:
    parts = []
    for level in range(count):
        z = level * 144.0
        parts += [box((-600, y, z + 118), (600, y + 98, z + 140), radius_mm=2, steps=1) for y in np.linspace(-500, 402, 7)]
        parts += [box((x, -500, z + 96), (x + 98, 500, z + 118), radius_mm=2, steps=1) for x in (-600.0, -49.0, 502.0)]
        parts += [box((x, y, z + 22), (x + 98, y + 140, z + 96), radius_mm=2, steps=1) for x in (-600.0, -49.0, 502.0) for y in (-500.0, -70.0, 360.0)]
        parts += [box((-600, y, z), (600, y + 98, z + 22), radius_mm=2, steps=1) for y in (-480.0, -49.0, 382.0)]
    return joined(parts)


def _drum() -> Mesh:
    side = [(285, 0), (290, 6), (286, 14), (284, 280), (294, 292), (284, 304), (284, 570), (294, 582), (284, 594), (284, 866), (290, 874), (284, 880)]
    return lathe([(0.0, 0.0), *[(float(r), float(z)) for r, z in side], (276, 866), (0, 866)], segments=72)


def _tyre_stack(count: int) -> Mesh:
    ring = lathe([(190, 10), (230, 0), (300, 12), (335, 40), (338, 110), (335, 180), (300, 208), (230, 220), (190, 210), (190, 10)], segments=64, crease_deg=50)
    return joined([ring.moved(shift(9 * np.sin(3.1 * n), 9 * np.cos(2.3 * n), 221.0 * n)) for n in range(count)])


def _cone() -> tuple[Mesh, Mesh, Mesh]:
    cone = lathe([(150, 30), (140, 60), (30, 700), (24, 708), (0, 708)], segments=56)
    bands = joined([lathe([(140 - 110 * (z - 60) / 640 + 1.2, z), (140 - 110 * (z + h - 60) / 640 + 1.2, z + h)], segments=56) for z, h in ((240.0, 130.0), (470.0, 110.0))])
    foot = extruded(rounded_outline([(-190, -190), (190, -190), (190, 190), (-190, 190)], 30), 32, bevel_mm=5)
    return cone, bands, foot


def add_chocks(stage: Stage, world_from_rig: Array, *, wheel_x_mm: float, wheel_y_mm: float, wheel_mm: float) -> None:
    """A wedge before and behind a wheel."""
    wedge = extruded(rounded_outline([(0, 0), (230, 0), (70, 165), (0, 175)], [6, 14, 18, 10]), 150, bevel_mm=4).moved(turn("x", 90)).moved(shift(0, 75, 0))
    reach = float(np.sqrt(wheel_mm**2 - (wheel_mm - 130) ** 2)) + 30
    behind = wedge.moved(shift(wheel_x_mm - reach, wheel_y_mm, 0) @ turn("z", 180) @ shift(0, 0, 0))
    ahead = wedge.moved(shift(wheel_x_mm + reach, wheel_y_mm, 0))
    stage.add("orange", behind, ahead, world_from=world_from_rig)
