"""Finding the centre tag where a solved sheet says that it can be, and taking nothing else for one."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from calib.finding.codes import dictionary
from calib.kit.kit import CODE_MODULES, tag_codes
from calib.outcome.refusal import Refusal
from photomeasure.seen.centre.tag.fit import diagonal_crossing
from photomeasure.seen.centre.tag.pattern import black_modules
from photomeasure.seen.centre.tag.tag import TagSeen, find_tags, the_centre_tag
from tests.seen.centre.tag_print import paint, photographed, quad

FOCAL_PX, SIZE_PX = 2889.0, 420
ROTATION = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]])  # level, looking along y


def search(grey: NDArray[np.uint8], distance_mm: float, focal_px: float = FOCAL_PX) -> TagSeen | Refusal | None:
    """Find a tag in a picture whose middle lies 450 mm above the foot line, `distance_mm` away."""
    middle = (grey.shape[0] - 1) / 2
    intrinsics = np.array([focal_px, focal_px, middle, middle, 0.0, 0.0, 0.0, 0.0, 0.0])
    move = np.array([0.0, 450.0, distance_mm])
    return the_centre_tag(find_tags(grey, intrinsics=intrinsics, rotation=ROTATION, translation=move))


def tag(
    side_px: float, code_id: int, *, yaw: float = 0.0, roll: float = 0.0
) -> tuple[NDArray[np.float32], NDArray[np.float64]]:
    """Light of a tag somewhere in the picture, and its corners."""
    size = 2 * int(side_px)
    part = quad(side_px, (size / 2 - 0.3, size / 2 + 0.2), yaw_rad=yaw, roll_rad=roll)
    picture = np.full((SIZE_PX, SIZE_PX), 0.3, dtype=np.float32)
    left, top = 150, 190
    picture[top : top + size, left : left + size] = paint(part, black_modules(code_id), size)
    return picture, part + np.array([left, top])


@pytest.mark.parametrize(
    ("side_px", "distance_mm", "focal_px", "yaw"),
    [
        (38.5, 3000.0, FOCAL_PX, 0.0),  # 40 mm at 3 m, 12 MP
        (38.5, 3000.0, FOCAL_PX, 0.52),
        (23.1, 2000.0, 0.4 * FOCAL_PX, 0.0),  # the same phone's picture shrunk to 1600 px, at 2 m
        (23.1, 2000.0, 0.4 * FOCAL_PX, -0.52),
        (77.0, 1500.0, FOCAL_PX, 0.2),
    ],
)
def test_found_and_measured(side_px: float, distance_mm: float, focal_px: float, yaw: float) -> None:
    """Truth as painted; noise, tone curve, JPEG 70. The library's own reading is the independent check of the centre:
    the crossing of its refined corners' diagonals is good to 0.14 px (measured on synthetic phone pictures)."""
    rng = np.random.default_rng(1)
    light, corners = tag(side_px, 21, yaw=yaw, roll=0.08)
    grey = photographed(light, gamma=2.2, sharpen=0.5, noise=2.0, rng=rng)
    saved = cv2.imencode(".jpg", grey, [cv2.IMWRITE_JPEG_QUALITY, 70])[1]
    grey = np.asarray(cv2.imdecode(saved, cv2.IMREAD_GRAYSCALE), dtype=np.uint8)
    seen = search(grey, distance_mm, focal_px)
    assert isinstance(seen, TagSeen)
    assert (seen.id, seen.side_mm) == (21, 40.0)
    truth = diagonal_crossing(corners)
    assert np.abs(seen.centre_px - truth).max() < 0.1
    assert seen.corners_px == pytest.approx(corners, abs=5.0 * seen.sigma_px)
    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    found, ids, _ = cv2.aruco.ArucoDetector(dictionary(), settings).detectMarkers(grey)
    if side_px > 30.0:  # smaller ones it finds, but refines across modules
        assert ids is not None and 21 in np.ravel(ids)
        theirs = diagonal_crossing(np.asarray(found[0], dtype=np.float64).reshape(4, 2))
        assert np.abs(seen.centre_px - theirs).max() < 0.3


def test_corners_are_named_as_printed_however_the_tag_is_stuck_on() -> None:
    light, corners = tag(45.0, 24, roll=0.05)
    for turns in range(4):
        seen = search(np.ascontiguousarray(np.rot90(photographed(light), turns)), 2600.0)
        assert isinstance(seen, TagSeen)
        turned = corners
        for _ in range(turns):  # a quarter turn anticlockwise: (x, y) to (y, size - 1 - x)
            turned = np.stack([turned[:, 1], SIZE_PX - 1 - turned[:, 0]], axis=1)
        assert seen.corners_px == pytest.approx(turned, abs=0.1)


@pytest.mark.parametrize("turn", [0.3, 1.9, 3.6, 5.1])
def test_a_shadow_across_it(turn: float) -> None:
    """A fifth of the light is left in the shadow, whose edge is soft over a tenth of the tag."""
    light, corners = tag(42.0, 22, yaw=0.1)
    x, y = np.meshgrid(np.arange(SIZE_PX), np.arange(SIZE_PX))
    middle = corners.mean(axis=0) + np.array([3.0, -2.0])
    across = ((x - middle[0]) * np.cos(turn) + (y - middle[1]) * np.sin(turn)) / 4.0
    shaded = light * (1.0 - 0.8 * np.clip(across + 0.5, 0.0, 1.0))
    grey = photographed(shaded.astype(np.float32), gamma=2.2, noise=1.5, rng=np.random.default_rng(2))
    seen = search(grey, 2750.0)
    assert isinstance(seen, TagSeen)
    assert np.abs(seen.centre_px - diagonal_crossing(corners)).max() < 0.15
    assert seen.sigma_px > 0.06  # and it does not claim what it would on an even one


def test_two_tags_are_refused() -> None:
    light, _ = tag(40.0, 20)
    other, _ = tag(40.0, 23)
    light[:190] = other[190:380]
    refusal = search(photographed(light), 2900.0)
    assert isinstance(refusal, Refusal)
    assert refusal.code == "two-tags"


def test_a_code_of_a_sheet_is_no_tag() -> None:
    """Codes 0-17 belong to sheets."""
    assert 3 not in tag_codes()
    light, _ = tag(40.0, 3)
    assert search(photographed(light), 2900.0) is None


def test_a_tag_of_the_wrong_size_is_another_thing() -> None:
    """A 40 mm tag that would stand at three times the sheet's distance."""
    light, _ = tag(30.0, 20)
    assert search(photographed(light), 1200.0) is None


def test_a_pattern_that_only_resembles_a_tag_is_not_believed() -> None:
    """A code with five modules changed, in 12 draws; the nearest two tags of the kit differ in more."""
    rng = np.random.default_rng(4)
    for _ in range(12):
        black = black_modules(20)
        cells = rng.permutation((CODE_MODULES - 2) ** 2)[:5]
        rows, columns = np.divmod(cells, CODE_MODULES - 2)
        black[rows + 1, columns + 1] ^= True
        size = 84
        picture = np.full((SIZE_PX, SIZE_PX), 0.3, dtype=np.float32)
        picture[190 : 190 + size, 150 : 150 + size] = paint(quad(42.0, (41.7, 42.2)), black, size)
        assert search(photographed(picture), 2750.0) is None


def test_clutter_holds_no_tag() -> None:
    rng = np.random.default_rng(5)
    for _ in range(6):
        rough = sum(
            cv2.resize(rng.normal(size=(SIZE_PX // step + 1,) * 2), (SIZE_PX, SIZE_PX), interpolation=cv2.INTER_NEAREST)
            for step in (4, 6, 12, 30)
        )
        grey = np.clip(128 + 45 * np.asarray(rough), 0, 255).astype(np.uint8)
        assert search(grey, 2600.0) is None


def test_a_window_outside_the_picture_is_no_error() -> None:
    grey = np.full((80, 80), 90, dtype=np.uint8)
    intrinsics = np.array([FOCAL_PX, FOCAL_PX, 9000.0, 40.0, 0.0, 0.0, 0.0, 0.0, 0.0])
    move = np.array([0.0, 450.0, 2000.0])
    assert find_tags(grey, intrinsics=intrinsics, rotation=ROTATION, translation=move) == ()
