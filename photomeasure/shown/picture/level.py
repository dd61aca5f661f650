"""The annotated picture of a trailer's level: both lines where they were solved, the angle between them, what was taken for the nose."""

from __future__ import annotations

import io

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from calib.outcome.files import mark
from calib.words.said import said, say
from photomeasure.levelling import LevelResult
from photomeasure.record.level import LevelRecord
from photomeasure.scene.scene import LineName
from photomeasure.shown.level import figure, nose_words
from photomeasure.shown.picture.ink import BAND, HALO, RULE, WHITE, Colour, Ink, font, text_size
from photomeasure.shown.words import NOT_A_CERTIFICATE
from photomeasure.solution.model import line_points, project_world

Array = NDArray[np.float64]
_WIDEST_PX = 2000
QUALITY = 88
_COLOURS: dict[LineName, Colour] = {"ground": BAND, "rail": RULE}
_NAMES: dict[LineName, str] = {"ground": said("ground line"), "rail": said("rail")}


def level_pictures(record: LevelRecord, level: LevelResult) -> list[tuple[str, bytes]]:
    """JPEG name and bytes, one a photograph: `<photo's stem>-level.jpg`."""
    found = []
    for number, view in enumerate(level.views):
        stream = io.BytesIO()
        _drawn(record, level, number).save(stream, "JPEG", quality=QUALITY, comment=mark("picture").encode())
        name = f"{view.photo.path.stem}-level.jpg" if number == 0 else f"{view.photo.path.stem}-level-{number + 1}.jpg"
        found.append((name, stream.getvalue()))
    return found


def _drawn(record: LevelRecord, level: LevelResult, number: int) -> Image.Image:
    photo = level.views[number].photo
    picture = Image.fromarray(np.ascontiguousarray(photo.colour(_WIDEST_PX)[:, :, ::-1]))
    shrink = picture.width / photo.size_px[0]
    ink, em = Ink(picture.size), picture.width / 100.0
    for line in level.estimate.scene.lines:
        if line.photo != number:
            continue
        colour = _COLOURS[line.line]
        solved = _solved_px(level, number, line.line) * shrink
        run = solved[1] - solved[0]
        ink.line(np.array([solved[0] - 0.08 * run, solved[1] + 0.08 * run]), 0.18 * em, colour)
        for px in line.px * shrink:
            ink.ring(px, 0.7 * em, 0.15 * em, colour)
        _label(ink, _NAMES[line.line], solved.mean(axis=0) - np.array([0.0, 1.8 * em]), em, colour)
    _headline(ink, record, level, em)
    return ink.onto(picture)


def _solved_px(level: LevelResult, number: int, name: LineName) -> Array:
    """(2, 2) pixels of the two marked points where the solution has them."""
    solved = level.estimate
    view = next(view for view in solved.scene.lines if view.photo == number and view.line == name)
    world, at = line_points(solved.where, solved.x, view)
    return project_world(solved.scene, solved.where, solved.x, number, world, at)[0]


def _label(ink: Ink, text: str, at: Array, em: float, colour: Colour) -> None:
    face = font(1.7 * em, bold=True)
    wide, high = text_size(text, face)
    ink.plate((at[0] - wide / 2 - em, at[1] - high / 2 - 0.4 * em, at[0] + wide / 2 + em, at[1] + high / 2 + 0.4 * em))
    ink.text((float(at[0]), float(at[1])), text, face, colour, anchor="mm")


def _headline(ink: Ink, record: LevelRecord, level: LevelResult, em: float) -> None:
    """The figure, and below it what it rests on."""
    lines = [
        (f"{figure(record)}  {nose_words(record)}", font(3.2 * em, bold=True)),
        (
            say("rail against the ground line; the nose is on the left")
            if level.nose_side == "left"
            else say("rail against the ground line; the nose is on the right"),
            font(1.7 * em),
        ),
        (NOT_A_CERTIFICATE, font(1.7 * em)),
    ]
    wide = max(text_size(text, face)[0] for text, face in lines)
    ink.plate((em, em, wide + 4.0 * em, 10.6 * em), HALO)
    for (text, face), middle in zip(lines, (3.2, 6.4, 8.9), strict=True):
        ink.text((2.5 * em, middle * em), text, face, WHITE)
