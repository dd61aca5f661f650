"""The last looks for a sheet: far out of focus, and bleached by the sun, hidden and turned at once."""

from __future__ import annotations

from dataclasses import replace
from unittest.mock import patch

import cv2
import numpy as np
import pytest

from calib.finding import sheets
from calib.finding.deblur import BLUR_PX, deblurred
from tests.experiments.kit_candidates import measure
from tests.experiments.kit_designs import designs
from tests.experiments.kit_pictures import CONDITIONS, Picture, take

FAR_OUT_PX = 4.5  # more than the study's


def picture(condition: str, *seed: int) -> Picture:
    (chosen,) = [one for one in CONDITIONS if one.name == condition]
    chosen = replace(chosen, defocus_px=FAR_OUT_PX if chosen.defocus_px else 0.0)
    return take(designs()["K"], chosen, np.random.default_rng([*seed, sum(map(ord, condition))]))


@pytest.mark.parametrize(
    ("condition", "seed", "way"),
    [
        ("1600 px out of focus", (9, 5), "deblurred"),
        ("1600 px out of focus", (9, 8), "deblurred"),
        ("1600 px all at once", (61, 130), "darkened"),
        ("1600 px all at once", (61, 151), "darkened"),
    ],
)
def test_a_sheet_that_only_a_last_look_finds(condition: str, seed: tuple[int, ...], way: str) -> None:
    """Seeds of pictures that are lost without that look."""
    shown = picture(condition, *seed)
    others = tuple(one for one in sheets.HARD_WAYS if one != way)
    with patch.object(sheets, "HARD_WAYS", others):
        assert measure(designs()["K"], shown)[0] is None
    found, _ = measure(designs()["K"], shown)
    assert found is not None
    assert np.median(np.linalg.norm(found.points_px - shown.truth_px[found.index], axis=1)) < 0.2


def test_a_blurred_edge_is_steep_again_and_light_is_kept() -> None:
    sharp = np.full((60, 60), 40, dtype=np.uint8)
    sharp[:, 30:] = 200
    blurred = np.asarray(cv2.GaussianBlur(sharp, (0, 0), BLUR_PX), dtype=np.uint8)
    back = deblurred(blurred)
    steep = [np.diff(shown[30].astype(float)).max() for shown in (blurred, back)]
    assert steep[1] > 1.5 * steep[0]
    assert back[:, :20].mean() == pytest.approx(40, abs=1) and back[:, 40:].mean() == pytest.approx(200, abs=1)
