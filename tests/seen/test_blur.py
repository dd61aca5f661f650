"""Blur is told for what it is: a phone that moved, a lens out of focus; a mirrored picture and one full of sheets are told too."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from calib.finding import sheets
from calib.finding.sheets import Finding, find_sheets
from calib.kit.kit import kit
from calib.outcome.refusal import Refusal
from photomeasure.seen.quality import SMEARED, judge_quality, smear_px
from tests.calib.kit.kit_photo import laid, photograph

SAMPLES = Path(__file__).resolve().parents[2] / "sample_images"
Picture = NDArray[np.uint8]


def sample(name: str) -> Picture:
    picture = cv2.imread(str(SAMPLES / f"{name}.jpg"), cv2.IMREAD_GRAYSCALE)
    return np.asarray(picture, dtype=np.uint8)


def moved(length_px: float, angle_rad: float) -> Callable[[Picture], Picture]:
    kernel = np.zeros((61, 61))
    for t in np.linspace(-length_px / 2, length_px / 2, 400):
        kernel[round(30 + t * np.sin(angle_rad)), round(30 + t * np.cos(angle_rad))] += 1.0
    return lambda picture: np.asarray(cv2.filter2D(picture, -1, kernel / kernel.sum()), dtype=np.uint8)


def out_of_focus(radius_px: int) -> Callable[[Picture], Picture]:
    kernel = np.zeros((61, 61))
    cv2.circle(kernel, (30, 30), radius_px, 1.0, -1)
    return lambda picture: np.asarray(cv2.filter2D(picture, -1, kernel / kernel.sum()), dtype=np.uint8)


BLURS = {
    "level": (moved(20.0, 0.2), "moved"),
    "aslant": (moved(20.0, 0.78), "moved"),
    "other way aslant": (moved(20.0, 2.3), "moved"),
    "10 px": (out_of_focus(10), "focus"),
    "13 px": (out_of_focus(13), "focus"),
}
FIRST = (
    ("level", "within"),
    ("other way aslant", "coupled"),
    ("10 px", "within"),
)  # further ones of each kind are slow


@pytest.mark.parametrize(
    ("how", "name"),
    [
        pytest.param(how, name, marks=() if (how, name) in FIRST else pytest.mark.slow)
        for how in BLURS
        for name in ("within", "coupled")
    ],
)
def test_blur_is_told_for_what_it_is(how: str, name: str) -> None:
    blur, word = BLURS[how]
    picture = blur(sample(name))
    found = find_sheets(picture)
    assert isinstance(found, Finding)
    refusal = judge_quality(picture, found)
    assert isinstance(refusal, Refusal) and refusal.code == "too-blurred" and word in refusal.reason


@pytest.mark.parametrize("name", ["within", "above", "close-call", "coupled", "set-1", "set-2", "set-3", "chat"])
def test_sharp_pictures_pass_and_are_smeared_no_way(name: str) -> None:
    picture = sample(name)
    found = find_sheets(picture)
    assert isinstance(found, Finding) and judge_quality(picture, found) is None
    upright = found.of_role("upright")
    assert upright is not None
    along, across = smear_px(picture, upright)
    assert along < SMEARED * across


def test_a_mirrored_picture_is_told() -> None:
    small = cv2.resize(sample("within"), (1600, 1200), interpolation=cv2.INTER_AREA)
    refusal = find_sheets(np.ascontiguousarray(small[:, ::-1], dtype=np.uint8))
    assert isinstance(refusal, Refusal) and refusal.code == "mirrored"


def test_a_sheet_that_is_there_many_times_is_refused_after_the_second(monkeypatch: pytest.MonkeyPatch) -> None:
    """One picture with 300 sheets took a minute: each of their codes was measured as a sheet of its own."""
    tried = []
    measure = sheets.measure_sheet

    def tried_once(*given: Any) -> Any:
        tried.append(1)
        return measure(*given)

    monkeypatch.setattr(sheets, "measure_sheet", tried_once)
    upright = kit("a4").upright
    pages = tuple(
        laid(upright, at=(150.0 + 260.0 * i, 200.0 + 370.0 * j), px_per_mm=1.1) for i in range(6) for j in range(3)
    )
    refusal = find_sheets(photograph(pages, np.random.default_rng(3), quality=90))
    assert isinstance(refusal, Refusal) and refusal.code == "two-kits"
    assert len(tried) < 20
