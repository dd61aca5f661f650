"""The picture of a calibration's residuals: where corners were seen, and by how much the camera misses them."""

from __future__ import annotations

import io
import math

import numpy as np
from PIL import Image, ImageDraw
from PIL.PngImagePlugin import PngInfo

from calib.calibration.calibrate import Calibration
from calib.outcome.files import mark
from calib.words.said import say
from photomeasure.shown.picture.ink import font, text_size

WIDTH_PX = 1400
TEXT_PX, LINE_PX = 22, 32
SCALE_ROOM_PX = 320  # at the right of the first line of the caption
LONGEST_SHARE = 0.03  # of the picture's width: how long the 95th percentile of the residuals is drawn
_COLOURS = ("#0b6e99", "#b3541e", "#2f7d32", "#7b3fa0", "#a0303a", "#5a5a18", "#1d4fa3", "#9c2f6f")
_EMPTY, _INK, _PAPER, _FRAME = "#f6dede", "#202428", "#ffffff", "#9aa4ad"


def residual_picture(calibration: Calibration) -> bytes:
    """PNG: a line along each corner's residual, enlarged, a colour per photograph; empty cells tinted; a scale."""
    width, height = calibration.size_px
    scale = WIDTH_PX / width
    caption = _caption(calibration)
    caption_px = 20 + LINE_PX * len(caption)
    picture = Image.new("RGB", (WIDTH_PX, round(height * scale) + caption_px), _PAPER)
    pen = ImageDraw.Draw(picture)
    _draw_cells(pen, calibration, scale)
    lengths = np.concatenate([np.linalg.norm(residual, axis=1) for residual in calibration.residuals_px])
    times = _round(LONGEST_SHARE * WIDTH_PX / max(float(np.quantile(lengths, 0.95)), 1e-6) / scale)
    enlarge = times * scale
    for number, (view, residual) in enumerate(zip(calibration.views, calibration.residuals_px, strict=True)):
        colour = _COLOURS[number % len(_COLOURS)]
        for (x, y), (dx, dy) in zip((view.image_px + 0.5) * scale, residual * enlarge, strict=True):
            pen.line((x, y, x + dx, y + dy), fill=colour, width=2)
            pen.ellipse((x - 2, y - 2, x + 2, y + 2), fill=colour)
    pen.rectangle((0, 0, WIDTH_PX - 1, round(height * scale)), outline=_FRAME)
    _write_caption(pen, caption, round(height * scale), times, scale)
    stream = io.BytesIO()
    said = PngInfo()
    said.add_text("Software", mark("residuals"))
    picture.save(stream, format="PNG", optimize=True, pnginfo=said)
    return stream.getvalue()


def _draw_cells(pen: ImageDraw.ImageDraw, calibration: Calibration, scale: float) -> None:
    width, height = (side * scale for side in calibration.size_px)
    rows, columns = calibration.survey.counts.shape
    for row in range(rows):
        for column in range(columns):
            if calibration.survey.counts[row, column] == 0:
                box = (
                    column * width / columns,
                    row * height / rows,
                    (column + 1) * width / columns,
                    (row + 1) * height / rows,
                )
                pen.rectangle(box, fill=_EMPTY)


def _round(number: float) -> float:
    """The nearest of 1, 2, 5, 10, 20, 50 ... below."""
    power = 10.0 ** math.floor(math.log10(number))
    return max(step for step in (1.0, 2.0, 5.0) if step * power <= number) * power


def _caption(calibration: Calibration) -> list[str]:
    """What is written below, wrapped to the picture's width; the first line leaves room for the scale."""
    corners = sum(len(view.image_px) for view in calibration.views)
    rms = calibration.chosen.solved.view_rms_px()
    worst = int(np.argmax(rms))
    sentences = (
        say(
            "{photographs} photographs, a colour each, {corners} corners; tinted: no corner was seen there",
            photographs=len(calibration.views),
            corners=corners,
        ),
        say(
            "RMS {rms:.3f} px, on photographs left out {holdout:.3f} px; worst {name}, {worst:.3f} px; lens model {model}",
            rms=calibration.rms_px,
            holdout=calibration.holdout_px,
            name=calibration.views[worst].name[-30:],
            worst=rms[worst],
            model=calibration.chosen.model.name,
        ),
    )
    lines: list[str] = []
    for number, sentence in enumerate(sentences):
        room_px = WIDTH_PX - 24 - (SCALE_ROOM_PX if number == 0 else 0)
        line = ""
        for word in sentence.split():
            longer = f"{line} {word}".strip()
            if line and text_size(longer, font(TEXT_PX))[0] > room_px:
                lines.append(line)
                longer = word
            line = longer
        lines.append(line)
    return lines


def _write_caption(pen: ImageDraw.ImageDraw, lines: list[str], top_px: int, times: float, scale: float) -> None:
    for number, line in enumerate(lines):
        pen.text((12, top_px + 12 + LINE_PX * number), line, fill=_INK, font=font(TEXT_PX))
    miss_px = _round(0.06 * WIDTH_PX / (times * scale))
    right, middle = WIDTH_PX - 16, top_px + 26
    pen.line((right - miss_px * times * scale, middle, right, middle), fill=_INK, width=3)
    at = (right - miss_px * times * scale - 12, middle)
    pen.text(at, f"{miss_px:g} px", fill=_INK, font=font(TEXT_PX), anchor="rm")
