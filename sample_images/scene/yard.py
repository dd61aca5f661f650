"""The invented hire yard round the rig: slabs, and a clad workshop with a roller door and a sign."""

from __future__ import annotations

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from scene.mesh import Mesh, box, creased, grid_faces, rectangle, shift
from scene.noise import Bitmap, Surface, blend, concrete, dusty, fractal, plain, step
from scene.shapes import lathe, tube
from scene.stage import Stage, coated, matt, printed

SLAB_MM = 3000.0


def add_ground(stage: Stage, rng: np.random.Generator, *, slab_px: int = 4096, tint: float = 1.0) -> None:
    """The plane z = 0: one fine slab under the rig, coarser and larger ones all round, joints between them."""
    stage.define("slab", matt(concrete(rng, size=slab_px, tile_mm=SLAB_MM, joints=True, tint=tint)))
    stage.define(
        "slabs", matt(concrete(rng, size=slab_px, tile_mm=2 * SLAB_MM, joints=True, tint=tint * 0.97))
    )
    _pave(stage, "slab", (-SLAB_MM / 2, -SLAB_MM + 700, SLAB_MM / 2, 700), SLAB_MM)
    left, front, right, back = -SLAB_MM / 2, -SLAB_MM + 700, SLAB_MM / 2, 700.0
    far = 24_000.0
    _pave(stage, "slabs", (-far + left, back, far + left, back + far), 2 * SLAB_MM)
    _pave(stage, "slabs", (-far + left, back - far / 2, left, back), 2 * SLAB_MM)
    _pave(stage, "slabs", (right, back - far / 2, right + far, back), 2 * SLAB_MM)
    _pave(stage, "slabs", (left, back - far / 2, right, front), 2 * SLAB_MM)


def _pave(stage: Stage, material: str, area_mm: tuple[float, float, float, float], tile_mm: float) -> None:
    """A flat area whose texture starts at its left, back corner."""
    x0, y0, x1, y1 = area_mm
    corner = np.array([x0, y0, 0.0])
    low = (y0 - y1) % tile_mm
    uv = np.array([[0, low], [x1 - x0, low], [x1 - x0, low + y1 - y0], [0, low + y1 - y0]])
    stage.add(material, rectangle(corner, np.array([x1 - x0, 0, 0]), np.array([0, y1 - y0, 0]), uv_mm=uv))


def add_workshop(
    stage: Stage,
    rng: np.random.Generator,
    *,
    distance_mm: float,
    colour: tuple[float, float, float],
    door_x_mm: float,
) -> None:
    """A wall across the back: block plinth, ribbed cladding, a roller door, a sign, a downpipe."""
    y = distance_mm
    stage.define("cladding", coated(dusty(rng, colour, dust=0.35, tile_mm=5000), roughness=0.5))
    stage.define("plinth", matt(_blockwork(rng)))
    stage.define(
        "shutter",
        coated(dusty(rng, (0.42, 0.44, 0.45), dust=0.35, tile_mm=4000), roughness=0.45, metallic=0.2),
    )
    left, right, door = -16000.0, 16000.0, 1800.0
    for x0, x1 in ((left, door_x_mm - door), (door_x_mm + door, right)):
        stage.add("plinth", box((x0, y, -10), (x1, y + 250, 1000), radius_mm=6))
        stage.add("cladding", _ribbed(x0, x1, y + 20, 1000, 6200))
        stage.add("zinc", box((x0, y - 25, 985), (x1, y + 30, 1015), radius_mm=4))
    stage.add("cladding", _ribbed(door_x_mm - door, door_x_mm + door, y + 20, 3500, 6200))
    stage.add("shutter", _slats(door_x_mm - door, door_x_mm + door, y + 160, 3500))
    frame = [
        box(
            (door_x_mm + side * door - 70, y - 30, 0),
            (door_x_mm + side * door + 70, y + 180, 3560),
            radius_mm=8,
        )
        for side in (-1, 1)
    ]
    frame.append(
        box((door_x_mm - door - 70, y - 60, 3440), (door_x_mm + door + 70, y + 180, 3800), radius_mm=10)
    )
    stage.add("chassis", *frame)
    for side in (-1, 1):
        stage.add(
            "safety",
            lathe([(0, 0), (85, 0), (85, 960), (60, 1000), (0, 1010)], segments=40).moved(
                shift(door_x_mm + side * (door + 330), y - 420, 0)
            ),
        )
    stage.add(
        "zinc", tube([(door_x_mm + door + 2600, y - 60, 60), (door_x_mm + door + 2600, y - 60, 6200)], 50)
    )
    _sign(stage, door_x_mm + door + 480, y - 30)
    stage.add("chassis", box((left, y + 260, -10), (right, y + 400, 6100), radius_mm=5))


def _blockwork(rng: np.random.Generator) -> Surface:
    size, tile = 1024, 1600.0
    rgb = (
        plain((0.30, 0.285, 0.26), size)
        * (1 + 0.10 * fractal(rng, size, coarse=20, fine=1, slope=0.4))[..., None]
    )
    rows, columns = np.mgrid[0:size, 0:size] * (tile / size)
    course = (rows // 200).astype(int)
    along = columns + 200 * (course % 2)
    tone = rng.normal(1, 0.07, (8, 5))[course % 8, (along // 400).astype(int) % 4]
    rgb = rgb * tone[..., None].astype(np.float32)
    joint = ((rows % 200) < 11) | ((along % 400) < 11)
    rgb = blend(rgb.astype(np.float32), (0.36, 0.35, 0.33), 0.8 * joint.astype(np.float32))
    damp = step(fractal(rng, size, coarse=500, fine=8, slope=1.4), 0.5, 2.0)
    return Surface(
        rgb=np.clip(rgb * (1 - 0.35 * damp[..., None]), 0.02, 0.8).astype(np.float32), tile_mm=tile
    )


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
    stage.define(
        "sign", printed(lettering(["FERNCOMBE", "HIRE YARD"], "Returns: sound the horn, wait by the line"))
    )
    stage.add("plastic", box((x_mm, y_mm - 14, 1290), (x_mm + 1500, y_mm, 2090), radius_mm=6))
    uv = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], dtype=float)
    stage.add(
        "sign",
        rectangle(
            np.array([x_mm + 12, y_mm - 15, 1302]),
            np.array([1476, 0, 0.0]),
            np.array([0, 0, 776.0]),
            uv_mm=uv,
        ),
    )


def lettering(lines: list[str], small: str) -> Bitmap:
    """A painted board, linear reflectance (H, W, 3)."""
    picture = Image.new("RGB", (1476, 776), (24, 62, 52))
    draw = ImageDraw.Draw(picture)
    draw.rectangle((24, 24, 1452, 752), outline=(232, 226, 205), width=10)
    for number, line in enumerate(lines):
        draw.text(
            (738, 190 + 220 * number),
            line,
            font=ImageFont.load_default(200),
            fill=(240, 234, 214),
            anchor="mm",
        )
    draw.text((738, 640), small, font=ImageFont.load_default(60), fill=(240, 200, 110), anchor="mm")
    return ((np.asarray(picture, np.float32) / 255) ** 2.2 * 0.85).astype(np.float32)


def fleet_sticker(number: str) -> Bitmap:
    """The sticker on a vehicle of the yard, linear reflectance (H, W, 3)."""
    picture = Image.new("RGB", (520, 180), (24, 62, 52))
    draw = ImageDraw.Draw(picture)
    draw.rectangle((8, 8, 511, 171), outline=(232, 226, 205), width=4)
    draw.text((170, 90), "FERNCOMBE", font=ImageFont.load_default(42), fill=(240, 234, 214), anchor="mm")
    draw.text((420, 90), number, font=ImageFont.load_default(110), fill=(240, 200, 110), anchor="mm")
    return ((np.asarray(picture, np.float32) / 255) ** 2.2 * 0.85).astype(np.float32)
