"""The annotated picture: what was measured drawn where it is, the verdict above it, the prompt to confirm below it."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image

from calib.codes import find_codes
from calib.finder import Finding, apply_homography, shrink
from photomeasure import words
from photomeasure.image import Photo
from photomeasure.model import cam_from_world, intrinsics_of
from photomeasure.overlay_caption import BAND, foot, head
from photomeasure.overlay_geometry import Eye, Heights, Marks, marks
from photomeasure.overlay_ink import PLATE, WHITE, Array, Colour, Ink, font, text_size
from photomeasure.overlay_layout import FORBIDDEN, Box, Obstacle, along, box_around, overlap, place
from photomeasure.overlay_window import Window, choose, cut
from photomeasure.pipeline import Refused, Result, View
from photomeasure.record import Record

QUALITY = 88
RULE: Colour = (255, 214, 0, 255)
_STRIP: Colour = (64, 196, 255, 84)
_INTERVAL: Colour = (255, 214, 0, 150)
_GROUND: Colour = (255, 255, 255, 255)
_POINT: Colour = (64, 196, 255, 255)


def pictures(record: Record, outcome: Result | Refused) -> list[tuple[str, bytes]]:
    """JPEG name and bytes, one a photograph that could be decoded: `<photo's stem>-height.jpg`."""
    photos = [view.photo for view in outcome.views] if isinstance(outcome, Result) else list(outcome.photos)
    drawn = []
    for number, (photo, name) in enumerate(zip(photos, _names(photos), strict=True)):
        drawing = _measured(record, outcome, number) if isinstance(outcome, Result) else _refused(outcome, photo)
        drawn.append((name, _jpeg(_framed(record, drawing, photo, number, len(record.photos)))))
    return drawn


def _names(photos: Sequence[Photo]) -> list[str]:
    """One name each, also where two photographs of different folders are called the same."""
    names: list[str] = []
    for photo in photos:
        stem, copy = photo.path.stem, 1
        name = f"{stem}-height.jpg"
        while name in names:
            copy += 1
            name = f"{stem}-{copy}-height.jpg"
        names.append(name)
    return names


def _framed(record: Record, drawing: Image.Image, photo: Photo, number: int, count: int) -> Image.Image:
    """The drawing between its two strips."""
    width = drawing.width
    parts = [head(record, width), drawing, foot(record, Path(photo.path).name, number + 1, count, width)]
    whole = Image.new("RGB", (width, sum(part.height for part in parts)))
    top = 0
    for part in parts:
        whole.paste(part, (0, top))
        top += part.height
    return whole


def _jpeg(picture: Image.Image) -> bytes:
    stream = io.BytesIO()
    picture.save(stream, "JPEG", quality=QUALITY, optimize=True)
    return stream.getvalue()


# -- a measurement -------------------------------------------------------------------------------------------------


def _measured(record: Record, result: Result, number: int) -> Image.Image:
    view = result.views[number]
    drawn = marks(_eye(result, number), _heights(record, result))
    points = _points(view)
    outline = _sheet_outlines(view.finding)
    window = choose(view.photo.size_px, np.concatenate([drawn.interest_px(), *outline, points]))
    layout = lay_out(record, drawn, window, outline)
    ink = Ink(window.size)
    _draw_marks(ink, drawn, window)
    for px in points:
        ink.dot(window.at(px), 0.0019 * window.size[0], _POINT)
    _draw_labels(ink, record, layout, window.size[0])
    return ink.onto(Image.fromarray(cut(view.photo, window)))


def _eye(result: Result, number: int) -> Eye:
    solved = result.estimate
    rotation, translation = cam_from_world(solved.where, solved.x, number)
    return Eye(
        intrinsics=intrinsics_of(solved.scene, solved.where, solved.x, number),
        rotation=rotation,
        translation=translation,
        size_px=result.views[number].photo.size_px,
    )


def _heights(record: Record, result: Result) -> Heights:
    solved = result.estimate
    centre = np.array([solved.value(f"centre.{axis}") for axis in "xyz"])
    rule = record.rule
    has_band = rule is not None and (rule.low_mm is not None or rule.high_mm is not None)
    return Heights(
        centre_mm=centre,
        base_z_mm=float(centre[2]) - solved.height_mm,
        interval_mm=record.interval_mm or (solved.height_mm, solved.height_mm),
        band_mm=(rule.low_mm, rule.high_mm) if has_band and rule is not None else None,
        foot_y_mm=0.0 if any(plane.plane == "upright" for plane in solved.scene.planes) else None,
    )


def _points(view: View) -> Array:
    """(N, 2) corners of the kit, and of a bay's markers, that were measured."""
    found = [sheet.points_px for sheet in view.finding.sheets]
    if view.markers is not None:
        found.append(np.asarray(view.markers.px, dtype=np.float64).reshape(-1, 2))
    return np.concatenate([np.empty((0, 2)), *found])


def _sheet_outlines(finding: Finding) -> list[Array]:
    """(4, 2) the printed board of each sheet."""
    return [apply_homography(found.px_from_page, found.sheet.extent_mm()) for found in finding.sheets]


def _draw_marks(ink: Ink, drawn: Marks, window: Window) -> None:
    thin = 0.0026 * window.size[0]
    at = window.at
    ink.fill(at(drawn.band_px), _STRIP)
    for end in drawn.band_ends_px:
        ink.line(at(end), thin, BAND, halo=0.5)
    ink.dashes(at(drawn.ground_px), 0.8 * thin, _GROUND, 9.0 * thin)
    for strip in drawn.interval_px:
        ink.fill(at(strip), _INTERVAL)
    for level in drawn.levels_px:
        ink.line(at(level), 0.7 * thin, RULE, halo=0.7)
    ink.line(at(drawn.foot_tick_px), 1.6 * thin, RULE, halo=0.6)
    if drawn.centre_px is None:
        ink.line(at(drawn.height_px), 1.6 * thin, RULE, halo=0.6)
        return
    centre, ring = at(drawn.centre_px), _ring(drawn, window)
    stem = at(drawn.height_px)
    outside = np.linalg.norm(stem - centre, axis=1) >= ring
    if outside.any():  # from the ground up to the ring, so that the coupling itself stays in sight
        ink.line(
            np.concatenate([stem[outside], [_onto_ring(stem[outside][-1], centre, ring)]]), 1.6 * thin, RULE, halo=0.6
        )
    ink.ring(centre, ring, 1.2 * thin, RULE)
    arm = 0.28 * ring
    for step in (np.array([arm, 0.0]), np.array([0.0, arm])):
        ink.line(np.array([centre - step, centre + step]), 0.6 * thin, RULE, halo=0.5)


def _onto_ring(start: Array, centre: Array, ring: float) -> Array:
    way = start - centre
    return np.asarray(centre + way * ring / max(float(np.linalg.norm(way)), 1e-9))


def _ring(drawn: Marks, window: Window) -> float:
    """The ring's radius in the drawing, never too small to see."""
    return max(drawn.ring_px * window.scale, 0.016 * window.size[0])


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """Boxes of the labels in the drawing; figure None where there is no room. leader: (2, 2) from the line to the figure."""

    coupling: Box | None
    figure: Box | None
    leader: Array
    ends: tuple[tuple[str, Box], ...]


def lay_out(record: Record, drawn: Marks, window: Window, sheets: Sequence[Array] = ()) -> Layout:
    """Find places for the labels. sheets: outlines (4, 2) in pixels of the photograph, covered only where it must be."""
    width, height = window.size
    em = width / 100
    room = (em, em, width - em, height - em)
    coupling = None
    keep: list[Obstacle] = []
    if drawn.centre_px is not None:
        middle = window.at(drawn.centre_px)
        coupling = box_around(middle[None], _ring(drawn, window) + 0.8 * em)
        keep.append(Obstacle(box=coupling, cost=FORBIDDEN))
    stem = window.at(drawn.height_px)
    keep += along(stem, 2.0 * em, 6.0)
    keep += [obstacle for level in drawn.levels_px for obstacle in along(window.at(level), em, 3.0)]
    keep += [obstacle for end in drawn.band_ends_px for obstacle in along(window.at(end), em, 1.5)]
    ends = _place_ends(record, drawn, window, room, keep)
    keep += [Obstacle(box=box, cost=FORBIDDEN) for _, box in ends]
    keep += [Obstacle(box=box_around(window.at(sheet)), cost=2.0) for sheet in sheets]
    keep += along(window.at(drawn.ground_px), em, 1.0)
    if len(drawn.band_px):
        keep.append(Obstacle(box=box_around(window.at(drawn.band_px)), cost=2.0))
    if len(stem) < 2:
        return Layout(coupling=coupling, figure=None, leader=np.empty((0, 2)), ends=ends)
    aim = stem[len(stem) // 2]
    figure = place(_figure_size(record, em), aim, room, keep)
    leader = np.empty((0, 2)) if figure is None else _leader(figure, stem)
    return Layout(coupling=coupling, figure=figure, leader=leader, ends=ends)


def _place_ends(
    record: Record, drawn: Marks, window: Window, room: Box, keep: Sequence[Obstacle]
) -> tuple[tuple[str, Box], ...]:
    """Labels of the band's ends, beside the strip on the side with more room."""
    if record.rule is None:
        return ()
    em = window.size[0] / 100
    face = font(2.9 * em, bold=True)
    placed: list[tuple[str, Box]] = []
    lines = [
        (value, window.at(line))
        for value, line in zip((record.rule.low_mm, record.rule.high_mm), drawn.band_ends_px, strict=True)
        if value is not None and len(line)
    ]
    if not lines:
        return ()
    left, right = min(float(line[0, 0]) for _, line in lines), max(float(line[-1, 0]) for _, line in lines)
    to_right = window.size[0] - right >= left
    for value, line in lines:
        text = f"{value:g} mm"
        wide, high = text_size(text, face)
        size = (wide + 1.6 * em, high + 1.4 * em)
        tip = line[-1 if to_right else 0]
        near = tip + [(1.0 if to_right else -1.0) * (size[0] / 2 + 0.8 * em), 0.0]
        obstacles = [*keep, *(Obstacle(box=box, cost=FORBIDDEN) for _, box in placed)]
        box = _beside(near, size, room, obstacles) or place(size, near, room, obstacles)
        if box is not None:
            placed.append((text, box))
    return tuple(placed)


def _beside(middle: Array, size: tuple[float, float], room: Box, obstacles: Sequence[Obstacle]) -> Box | None:
    """The box around a point, where it is inside the room and covers nothing that is forbidden."""
    half = np.array(size) / 2
    box = (*(middle - half).tolist(), *(middle + half).tolist())
    left, top, right, bottom = box
    inside = left >= room[0] and top >= room[1] and right <= room[2] and bottom <= room[3]
    free = all(overlap((left, top, right, bottom), o.box) == 0.0 for o in obstacles if o.cost >= FORBIDDEN)
    return (left, top, right, bottom) if inside and free else None


def _figure_texts(record: Record) -> tuple[str, str]:
    return words.height(record) or "", f"{words.plus_minus(record) or ''} (95 %)"


def _figure_size(record: Record, em: float) -> tuple[float, float]:
    first, second = _figure_texts(record)
    wide = max(text_size(first, font(5.6 * em, bold=True))[0], text_size(second, font(3.2 * em))[0])
    return wide + 3.0 * em, 5.6 * em + 3.2 * em + 3.2 * em


def _leader(box: Box, stem: Array) -> Array:
    """The shortest way from the height line's middle half to the box."""
    part = stem[len(stem) // 4 : max(len(stem) // 4 + 1, 3 * len(stem) // 4)]
    edge = np.stack([np.clip(part[:, 0], box[0], box[2]), np.clip(part[:, 1], box[1], box[3])], axis=1)
    nearest = int(np.argmin(np.linalg.norm(part - edge, axis=1)))
    return np.stack([part[nearest], edge[nearest]])


def _draw_labels(ink: Ink, record: Record, layout: Layout, width: int) -> None:
    em = width / 100
    for text, box in layout.ends:
        ink.plate(box, radius=0.6 * em)
        ink.text(((box[0] + box[2]) / 2, (box[1] + box[3]) / 2), text, font(2.9 * em, bold=True), BAND, anchor="mm")
    if layout.figure is None:
        return
    left, top, right, _ = layout.figure
    first, second = _figure_texts(record)
    ink.line(layout.leader, 0.2 * em, RULE, halo=0.6)
    ink.plate(layout.figure, PLATE, outline=RULE, radius=1.0 * em)
    middle = (left + right) / 2
    ink.text((middle, top + 4.2 * em), first, font(5.6 * em, bold=True), RULE, anchor="mm")
    ink.text((middle, top + 8.9 * em), second, font(3.2 * em), WHITE, anchor="mm")


# -- a refusal -----------------------------------------------------------------------------------------------------


def _refused(refused: Refused, photo: Photo) -> Image.Image:
    """What was seen before it stopped: sheets, codes, candidates with letters."""
    view = next((view for view in refused.views if view.photo is photo), None)
    sheets = [] if view is None else _sheet_outlines(view.finding)
    codes = _codes(photo) if view is None else []
    candidates = [np.asarray(px, dtype=np.float64).reshape(2) for px in refused.candidates_px]
    seen = [*sheets, *codes, *(px[None] for px in candidates)]
    window = choose(
        photo.size_px, np.concatenate([np.empty((0, 2)), *seen]) if sheets or candidates else np.empty((0, 2))
    )
    ink, em = Ink(window.size), window.size[0] / 100
    for quad in (*sheets, *codes):
        ink.line(window.at(np.concatenate([quad, quad[:1]])), 0.3 * em, BAND, halo=0.6)
    if view is not None:
        for px in _points(view):
            ink.dot(window.at(px), 0.19 * em, _POINT)
    _draw_candidates(ink, [window.at(px) for px in candidates], em)
    return ink.onto(Image.fromarray(cut(photo, window)))


def _codes(photo: Photo) -> list[Array]:
    """Codes that can be read where no whole sheet was measured."""
    small, back = shrink(photo.grey, 1600)
    return [(code.corners_px + 0.5) * back - 0.5 for code in find_codes(small)]


def _draw_candidates(ink: Ink, centres: Sequence[Array], em: float) -> None:
    """Each possible centre ringed, with a letter in a place that covers none of them."""
    face, ring = font(4.2 * em, bold=True), 3.0 * em
    taken = [Obstacle(box=box_around(centre[None], ring + 0.4 * em), cost=FORBIDDEN) for centre in centres]
    room = (em, em, ink.size[0] - em, ink.size[1] - em)
    for i, centre in enumerate(centres):
        ink.ring(centre, ring, 0.35 * em, RULE)
        box = place((6.0 * em, 6.0 * em), centre + [5.0 * em, -5.0 * em], room, taken)
        if box is None:
            continue
        taken.append(Obstacle(box=box, cost=FORBIDDEN))
        ink.plate(box, PLATE, outline=RULE, radius=1.0 * em)
        ink.text(((box[0] + box[2]) / 2, (box[1] + box[3]) / 2), chr(ord("A") + i % 26), face, RULE, anchor="mm")
