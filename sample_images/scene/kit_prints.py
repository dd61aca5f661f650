"""The printed kit in the scene: pages of the target's PDF as textures, stood up, laid down or stuck on."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from scene.mesh import Array, Mesh, box, rectangle, shift, turn
from scene.noise import Bitmap
from scene.paper import INK, PAPER, Page, Print, Sheet, on_paper
from scene.stage import Stage, printed

PX_PER_MM = 20.0
PAPER_MM = 0.1
TAG_MM = 40.0  # of the tags on the page, the one nearest to this is cut out
BAR_TAG_MM = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Kit:
    """What is cut from the pages: the upright sheet down to its foot line, the ground sheet, one centre tag."""

    name: str
    upright: Print
    ground: Print | None
    tag: Print | None
    tag_id: int | None
    bar_tag: Print | None = None
    bar_tag_id: int | None = None
    second_bar_tag: Print | None = None
    second_upright: Print | None = None  # of a kit with another number
    bars_mm: tuple[float, float] = (150.0, 150.0)  # length of the check bars as drawn
    upright_page: Page | None = None
    ground_page: Page | None = None
    second_upright_page: Page | None = None


def load_kit(folder: Path) -> Kit:
    """Read target.pdf and target.json; raises FileNotFoundError or KeyError where they are not what they should be."""
    facts = json.loads((folder / "target.json").read_text(encoding="utf-8"))
    pages = {sheet["role"]: sheet for sheet in facts["sheets"]}
    upright = pages["upright"]
    whole = _raster(folder / "target.pdf", upright["page"])
    foot_mm = float(upright["foot_line_mm"])
    standing_page = _page(whole, upright, foot_mm)
    lying = pages.get("ground")
    ground_page = None if lying is None else _page(_raster(folder / "target.pdf", lying["page"]), lying, foot_mm)
    tag_sheet = pages.get("centre-tag")
    tag, tag_id = (None, None) if tag_sheet is None else _cut_tag(folder, tag_sheet)
    bar_sheet = pages.get("bar-tag")
    bar_tag, bar_tag_id = (None, None) if bar_sheet is None else _cut_tag(folder, bar_sheet, BAR_TAG_MM)
    second_bar_tag = None if bar_sheet is None else _cut_tag(folder, bar_sheet, BAR_TAG_MM, also=1)[0]
    bars = facts.get("bars", {"x_mm": 150.0, "y_mm": 150.0})
    return Kit(
        name=str(facts["kit"]),
        upright=on_paper(standing_page, _as_drawn(standing_page)),
        ground=None if ground_page is None else on_paper(ground_page, _as_drawn(ground_page)),
        tag=tag,
        tag_id=tag_id,
        bar_tag=bar_tag,
        bar_tag_id=bar_tag_id,
        second_bar_tag=second_bar_tag,
        bars_mm=(float(bars["x_mm"]), float(bars["y_mm"])),
        upright_page=standing_page,
        ground_page=ground_page,
    )


def with_second(kit: Kit, folder: Path) -> Kit:
    """With the upright sheet of another kit's folder as the second one."""
    other = load_kit(folder)
    return replace(kit, second_upright=other.upright, second_upright_page=other.upright_page)


def _page(white: Bitmap, sheet: dict[str, Any], cut_mm: float) -> Page:
    """The ground sheet is cut as far above its page's edge as the upright sheet's foot line is."""
    return Page(white=white, width_mm=float(sheet["width_mm"]), height_mm=float(sheet["height_mm"]), cut_mm=cut_mm)


def _as_drawn(page: Page) -> Sheet:
    return Sheet(width_mm=page.width_mm, height_mm=page.height_mm)


def _raster(pdf: Path, page: int) -> Bitmap:
    """(H, W) share of paper white, 0..1."""
    import pypdfium2

    document = pypdfium2.PdfDocument(str(pdf))
    picture = document[page - 1].render(scale=PX_PER_MM * 25.4 / 72, grayscale=True).to_numpy()
    document.close()
    return np.asarray(
        picture.reshape(picture.shape[0], picture.shape[1], -1)[..., 0] / np.float32(255), dtype=np.float32
    )


def _cropped(white: Bitmap, sheet: dict[str, Any], x0: float, y0: float, x1: float, y1: float) -> Print:
    """The piece between two corners in page millimetres (y up from the page's bottom edge)."""
    sx, sy = white.shape[1] / sheet["width_mm"], white.shape[0] / sheet["height_mm"]
    top, bottom = round((sheet["height_mm"] - y1) * sy), round((sheet["height_mm"] - y0) * sy)
    left, right = round(x0 * sx), round(x1 * sx)
    piece = white[max(top, 0) : bottom, max(left, 0) : right, None]
    return Print(ink=INK + (PAPER - INK) * piece, width_mm=piece.shape[1] / sx, height_mm=piece.shape[0] / sy)


def _cut_tag(
    folder: Path, sheet: dict[str, Any], wanted_mm: float = TAG_MM, *, also: int = 0
) -> tuple[Print, int]:
    """One tag of the page with its white surround, centred; also: the next one of that size."""
    tag = sorted(sheet["tags"], key=lambda tag: (abs(tag["size_mm"] - wanted_mm), tag["id"]))[also]
    (x, y), half = tag["centre_mm"], tag["size_mm"] / 2 + tag["quiet_mm"]
    piece = _cropped(
        _raster(folder / "target.pdf", sheet["page"]), sheet, x - half, y - half, x + half, y + half
    )
    return piece, int(tag["id"])


def chequer_kit() -> Kit:
    """A plain chequer in the kit's sizes, for looking at scenes before there is a kit; measures nothing."""
    rows, columns = 9, 7
    board = np.indices((rows, columns)).sum(axis=0) % 2
    white = cv2.resize(board.astype(np.float32), None, fx=480, fy=480, interpolation=cv2.INTER_NEAREST)
    full = np.ones((283 * 20, 210 * 20), np.float32)
    full[500 : 500 + white.shape[0], 420 : 420 + white.shape[1]] = white
    upright = Print(ink=INK + (PAPER - INK) * full[..., None], width_mm=210, height_mm=283)
    tag = np.ones((800, 800), np.float32)
    tag[150:650, 150:650] = cv2.resize(
        (np.indices((5, 5)).sum(axis=0) % 2).astype(np.float32), (500, 500), interpolation=cv2.INTER_NEAREST
    )
    small = Print(ink=INK + (PAPER - INK) * tag[..., None], width_mm=40, height_mm=40)
    return Kit(name="chequer", upright=upright, ground=upright, tag=small, tag_id=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """How the upright sheet stands: the middle of its foot line, and its small errors (lean > 0: top further away)."""

    x_mm: float = 0.0
    y_mm: float = 0.0
    gap_mm: float = 0.0
    lean_deg: float = 0.0
    roll_deg: float = 0.0
    turn_deg: float = 0.0

    def world_from_sheet(self) -> Array:
        """(4, 4); sheet x along the foot line, z up the sheet, y into it."""
        return (
            shift(self.x_mm, self.y_mm, self.gap_mm)
            @ turn("z", self.turn_deg)
            @ turn("x", -self.lean_deg)
            @ turn("y", self.roll_deg)
        )


def _quad(
    piece: Print,
    corner_mm: tuple[float, float, float],
    along: tuple[float, float, float],
    up: tuple[float, float, float],
) -> Mesh:
    uv = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], dtype=float)
    return rectangle(
        np.array(corner_mm), np.array(along) * piece.width_mm, np.array(up) * piece.height_mm, uv_mm=uv
    )


def add_upright(
    stage: Stage,
    upright: Print,
    standing: Standing,
    *,
    board_mm: tuple[float, float] = (228.0, 280.0),
    name: str = "upright-print",
) -> None:
    """The sheet taped to a squared board with a block behind it; the print is the plane y = 0 of the sheet's frame."""
    world_from_sheet = standing.world_from_sheet()
    half, tall = upright.width_mm / 2, upright.height_mm
    stage.define(name, printed(upright.ink))
    stage.add(name, _quad(upright, (-half, 0, 0), (1, 0, 0), (0, 0, 1)), world_from=world_from_sheet)
    stage.add(
        "paper",
        rectangle(np.array([-half, PAPER_MM / 2, 0]), np.array([2 * half, 0, 0]), np.array([0, 0, tall])),
        world_from=world_from_sheet,
    )
    wide, high = board_mm[0] / 2, board_mm[1]
    board = box((-wide, PAPER_MM, 0.2), (wide, PAPER_MM + 18, high), radius_mm=1.2)
    block = [box((side * 50, 18.2, 0.2), (side * 95, 150, 70), radius_mm=2) for side in (-1, 1)]
    stage.add("timber", board, *block, world_from=world_from_sheet)
    for side in (-1, 1):
        for z in (26.0, min(tall, high) - 34):
            strip = box(
                (side * (half - 5), -0.25, z - 10), (side * (wide - 1), -0.05, z + 10), radius_mm=0.09
            )
            stage.add(
                "tape",
                strip.moved(shift(side * half, 0, z) @ turn("y", side * 8.0) @ shift(-side * half, 0, -z)),
                world_from=world_from_sheet,
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Lying:
    """How the ground sheet lies: the middle of its cut edge, which is pushed against the foot line, its turn, and how flat.

    lift_mm: of its underside above the ground; tilt_deg: about the page's x and y.
    """

    x_mm: float = 0.0
    y_mm: float = -1.0
    turn_deg: float = 0.0
    lift_mm: float = 0.0
    tilt_deg: tuple[float, float] = (0.0, 0.0)

    def world_from_sheet(self) -> Array:
        """(4, 4); sheet x and y as printed, z up. The page's top points at the viewer."""
        return (
            shift(self.x_mm, self.y_mm, PAPER_MM + self.lift_mm)
            @ turn("z", 180.0 + self.turn_deg)
            @ turn("x", self.tilt_deg[0])
            @ turn("y", self.tilt_deg[1])
        )


def add_ground_sheet(stage: Stage, kit: Kit, lying: Lying) -> None:
    """The ground sheet flat on the ground, printed side up."""
    if kit.ground is None:
        raise ValueError("this kit has no ground sheet")
    stage.define("ground-print", printed(kit.ground.ink))
    corner = (-kit.ground.width_mm / 2, 0.0, 0.0)
    stage.add(
        "ground-print", _quad(kit.ground, corner, (1, 0, 0), (0, 1, 0)), world_from=lying.world_from_sheet()
    )


def add_tag(stage: Stage, kit: Kit, world_from_face: Array) -> None:
    """The centre tag on a vertical face: its middle at the frame's origin, x right, z up, y into the face."""
    if kit.tag is None:
        raise ValueError("this kit has no centre tag")
    _stick(stage, "tag-print", kit.tag, world_from_face)


def add_bar_tag(stage: Stage, tag: Print | None, world_from_face: Array, *, name: str = "bar-tag-print") -> None:
    """A bar tag in the same way, on a plate that carries it."""
    if tag is None:
        raise ValueError("this kit has no such bar tag")
    half_w, half_h = tag.width_mm / 2 + 2, tag.height_mm / 2 + 2
    plate = box((-half_w, 0.1, -half_h), (half_w, 4.0, half_h), radius_mm=1.0)
    stage.add("zinc", plate, world_from=world_from_face)
    _stick(stage, name, tag, world_from_face)


def _stick(stage: Stage, material: str, tag: Print, world_from_face: Array) -> None:
    half_w, half_h = tag.width_mm / 2, tag.height_mm / 2
    stage.define(material, printed(tag.ink))
    stage.add(
        material,
        _quad(tag, (-half_w, -PAPER_MM, -half_h), (1, 0, 0), (0, 0, 1)),
        world_from=world_from_face,
    )
    back = rectangle(
        np.array([-half_w, -PAPER_MM / 2, -half_h]),
        np.array([2 * half_w, 0, 0]),
        np.array([0, 0, 2 * half_h]),
    )
    stage.add("paper", back, world_from=world_from_face)
