"""What is read as a code, and what passes as a sheet, where there is none: real photographs and drawn yards."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from unittest.mock import patch

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.finding import sheets as finder
from calib.finding.sheets import measure_sheet
from tests.experiments.kit_designs import Design
from tests.scenes.conditions import CONDITIONS
from tests.scenes.generate import draw_rig_scene
from tests.scenes.scene import render
from tests.shared_data import ROOT

FOLDERS = ("no-target", "exif-orientation", "room-markers/photos")


@dataclass(slots=True)
class Misread:
    """Codes read at first and at the last, harder look; sheets that the chequer confirmed in spite of it."""

    pictures: int = 0
    first: int = 0
    hard: int = 0
    sheets: int = 0


def photographs() -> Iterator[tuple[str, NDArray[np.uint8]]]:
    """Every photograph without a kit, grey, with its folder's name; nothing where the folders are absent."""
    for name in FOLDERS:
        for path in sorted((ROOT / name).glob("*.[jJ][pP][gG]")):
            grey = cv2.imread(str(path), cv2.IMREAD_GRAYSCALE)
            if grey is not None:
                yield name, np.asarray(grey, dtype=np.uint8)


def yards(count: int) -> Iterator[tuple[str, NDArray[np.uint8]]]:
    """Drawn rigs in the yard, no sheet."""
    names = sorted(CONDITIONS)
    for number in range(count):
        rng = np.random.default_rng([77, number])
        scene = draw_rig_scene(rng, condition=names[number % len(names)], kit=None, size_px=(1600, 1200))
        picture = render(scene, None, rng)
        yield "drawn yards", np.asarray(picture if picture.ndim == 2 else cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY))


def misread(design: Design, grey: NDArray[np.uint8], tally: Misread) -> None:
    """Look for codes as find_sheets does, and let every single one try to prove itself by the chequer."""
    tally.pictures += 1
    first = design.find_codes(grey)
    with patch.object(finder, "find_codes", design.find_codes):
        ratio = min(2.0, finder.HARD_LOOK_PX / max(grey.shape))
        hard = [code for way in finder.HARD_WAYS for code in finder.look_hard(grey, ratio, way)]
    tally.first += len(first)
    tally.hard += len(hard)
    ids = set(design.sheet.code_ids)
    for code in (*first, *hard):
        if code.id in ids and measure_sheet(grey, grey, np.ones(2), design.sheet, (code,)) is not None:
            tally.sheets += 1
