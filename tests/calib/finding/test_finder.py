"""The finder on the kit's printed pages: measured where they lie, refused for the right reason, never imagined.

The truth is the homography by which the pages were laid into the picture.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from calib.finding import sheets as finder
from calib.finding.codes import LEAST_EDGE, MOST_EDGE, FoundCode, edge_of_print, find_codes
from calib.finding.sheets import (
    Finding,
    FoundSheet,
    _codes_in_place,
    _with_missing_codes,
    apply_homography,
    find_sheets,
)
from calib.kit.kit import PAPERS, Paper, kit
from calib.outcome.refusal import Refusal
from tests.calib.kit.kit_photo import Laid, laid, photograph
from tests.shared_data import folder

A4 = kit("a4")


def upright(found: Finding | Refusal) -> FoundSheet:
    assert isinstance(found, Finding), found
    sheet = found.of_role("upright")
    assert sheet is not None
    return sheet


def error_px(found: FoundSheet, page: Laid) -> NDArray[np.float64]:
    return np.asarray(found.points_px - page.truth_px()[found.index])


def refusal(found: Finding | Refusal) -> str:
    assert isinstance(found, Refusal), found
    assert found.reason and found.remedy
    return found.code


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("px_per_mm", [1.2, 0.45])  # about 1 m and 2.6 m at 1600 px
def test_finds_and_measures_every_paper(paper: Paper, px_per_mm: float) -> None:
    page = laid(kit(paper).upright, at=(790.0, 610.0), px_per_mm=px_per_mm, turn_rad=0.05, yaw=0.05)
    found = upright(find_sheets(photograph((page,), np.random.default_rng(1))))
    assert found.sheet is kit(paper).upright
    assert len(found.index) == len(found.sheet.points_mm)
    error = error_px(found, page)
    assert np.sqrt((error**2).mean()) < 0.06
    assert np.abs(error.mean(axis=0)).max() < 0.02


def test_upright_and_ground_together() -> None:
    pages = (
        laid(A4.upright, at=(800.0, 380.0), px_per_mm=1.0),
        laid(A4.ground, at=(800.0, 900.0), px_per_mm=1.0, turn_rad=0.1),
    )
    found = find_sheets(photograph(pages, np.random.default_rng(2)))
    assert isinstance(found, Finding)
    assert {sheet.sheet.role for sheet in found.sheets} == {"upright", "ground"}
    for page in pages:
        sheet = found.of_role(page.sheet.role)
        assert sheet is not None
        assert np.sqrt((error_px(sheet, page) ** 2).mean()) < 0.06


@pytest.mark.parametrize("turns", [0, 1, 2, 3])
def test_any_turn_of_the_picture(turns: int) -> None:
    page = laid(A4.upright, at=(700.0, 560.0), px_per_mm=0.8, turn_rad=0.03)
    grey = photograph((page,), np.random.default_rng(3))
    found = upright(find_sheets(np.ascontiguousarray(np.rot90(grey, turns))))
    assert len(found.index) == len(A4.upright.points_mm)
    height, width = grey.shape
    x, y = page.truth_px()[found.index].T
    expected = {0: (x, y), 1: (y, width - 1 - x), 2: (width - 1 - x, height - 1 - y), 3: (height - 1 - y, x)}[turns]
    assert found.points_px == pytest.approx(np.stack(expected, axis=1), abs=0.25)


def test_what_the_quick_look_misses_the_thorough_ones_find(monkeypatch: pytest.MonkeyPatch) -> None:
    """Blind in its quick looks the finder says the same of a 12 MP picture as with it, within the noise of a corner."""
    page = laid(A4.upright, at=(800.0, 600.0), px_per_mm=0.8)
    large = cv2.resize(
        photograph((page,), np.random.default_rng(4)), None, fx=2.5, fy=2.5, interpolation=cv2.INTER_CUBIC
    )
    grey = np.asarray(large, dtype=np.uint8)
    quick = upright(find_sheets(grey))
    asked: list[tuple[int, bool]] = []

    def blind(small: NDArray[np.uint8], *, keen: bool = False, quick: bool = False) -> tuple[FoundCode, ...]:
        asked.append((max(small.shape), quick))
        return () if quick else find_codes(small, keen=keen)

    monkeypatch.setattr(finder, "find_codes", blind)
    thorough = upright(find_sheets(grey))
    assert asked == finder.looks(max(grey.shape))[:3] == [(1000, True), (2000, True), (1600, False)]
    assert np.array_equal(quick.index, thorough.index)
    assert np.abs(quick.points_px - thorough.points_px).max() < 0.05


def test_a_code_that_the_look_missed_is_read_at_its_place(monkeypatch: pytest.MonkeyPatch) -> None:
    """The looks at the whole picture are blind to one code of the sheet; where the chequer has it, it is read all the same."""
    page = laid(A4.upright, at=(800.0, 600.0), px_per_mm=0.8, turn_rad=0.1)
    grey = photograph((page,), np.random.default_rng(4))
    missed = A4.upright.code_ids[0]

    def blind(small: NDArray[np.uint8], *, keen: bool = False, quick: bool = False) -> tuple[FoundCode, ...]:
        read = find_codes(small, keen=keen, quick=quick)
        return tuple(code for code in read if code.id != missed or max(small.shape) < 300)

    monkeypatch.setattr(finder, "find_codes", blind)
    found = upright(find_sheets(grey))
    assert {code.id for code in found.codes} == set(A4.upright.code_ids)
    corners = next(code.corners_px for code in found.codes if code.id == missed)
    truth = apply_homography(page.px_from_page, A4.upright.codes[0].corners_mm())
    assert np.abs(corners - truth).max() < 1.5  # a corner of a code is seen to about a pixel


def test_a_sheet_is_measured_again_only_where_a_further_look_reads_more(monkeypatch: pytest.MonkeyPatch) -> None:
    """Its codes are so small that two looks are taken; the second reads the same codes in the same places."""
    page = laid(A4.upright, at=(800.0, 600.0), px_per_mm=0.38)
    large = cv2.resize(photograph((page,), np.random.default_rng(4)), (2400, 1800), interpolation=cv2.INTER_CUBIC)
    measured: list[FoundSheet | None] = []
    measure = finder.measure_sheet

    def counting(*given: Any) -> FoundSheet | None:
        measured.append(measure(*given))
        return measured[-1]

    looked: list[int] = []

    def looking(small: NDArray[np.uint8], *, keen: bool = False, quick: bool = False) -> tuple[FoundCode, ...]:
        looked.append(max(small.shape))
        return find_codes(small, keen=keen, quick=quick)

    monkeypatch.setattr(finder, "measure_sheet", counting)
    monkeypatch.setattr(finder, "find_codes", looking)
    found = upright(find_sheets(np.asarray(large, dtype=np.uint8)))
    assert looked == [1200, 2400] and len(measured) == 1
    assert len(found.codes) == len(A4.upright.codes)


def test_a_missed_code_that_lies_beside_its_place_is_astray() -> None:
    """One cell and more off it belongs to a part that was moved, or to another sheet."""
    page = laid(A4.upright, at=(800.0, 600.0), px_per_mm=0.8)
    grey = photograph((page,), np.random.default_rng(4))
    found = upright(find_sheets(grey))
    shift = np.array([[1.0, 0.0, 1.3 * found.cell_px], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
    moved = _with_missing_codes(grey, replace(found, codes=found.codes[1:], px_from_page=shift @ found.px_from_page))
    assert [code.id for code in moved.codes] == [code.id for code in found.codes[1:]]
    assert [code.id for code in moved.astray] == [found.codes[0].id]


@pytest.mark.parametrize(("span", "edge"), [(255, MOST_EDGE), (65, 5), (10, LEAST_EDGE)])
def test_what_parts_print_from_paper_goes_with_what_the_picture_spans(span: int, edge: int) -> None:
    """8 % of it, in a bright picture no more and in a dull one no less than a look can use."""
    half = np.full((200, 100), 20, dtype=np.uint8)
    assert edge_of_print(np.hstack([half - 20, half - 20 + np.uint8(span)])) == edge


def test_a_dark_picture_and_a_sheet_in_the_shadow_of_a_bright_one_are_found_at_once() -> None:
    """A sixth of the light's grey levels over all, or a third over the half in which the second sheet stands: as in the bright one."""
    pages = (laid(A4.upright, at=(450.0, 600.0), px_per_mm=0.9), laid(A4.upright, at=(1150.0, 560.0), px_per_mm=0.7))
    bright = photograph(pages, np.random.default_rng(8))
    dark, half = np.asarray(bright / 6, dtype=np.uint8), bright.copy()
    half[:, 800:] //= 3
    for picture in (dark, half):
        found = find_sheets(picture)
        assert isinstance(found, Finding) and len(found.all) == 2
        assert all(len(sheet.codes) == len(A4.upright.codes) for sheet in found.all)


def test_large_picture_is_measured_at_full_size() -> None:
    """The same picture three times as large: points on the same places, (p + 0.5) 3 - 0.5."""
    page = laid(A4.upright, at=(800.0, 600.0), px_per_mm=0.8)
    grey = photograph((page,), np.random.default_rng(4), quality=95)
    large = np.asarray(cv2.resize(grey, None, fx=3, fy=3, interpolation=cv2.INTER_CUBIC), dtype=np.uint8)
    found = upright(find_sheets(large))
    assert found.points_px == pytest.approx((page.truth_px()[found.index] + 0.5) * 3 - 0.5, abs=0.5)


def test_covered_part_is_left_out() -> None:
    page = laid(A4.upright, at=(800.0, 600.0), px_per_mm=1.0)
    truth = page.truth_px()
    left, right = 815, 880
    grey = photograph((page,), np.random.default_rng(5), cover_px=((left, 400, right, 800),))
    found = upright(find_sheets(grey))
    covered = (truth[:, 0] > left - 1) & (truth[:, 0] < right + 1)
    assert 0 < covered.sum() < len(truth)
    assert not covered[found.index].any()
    assert np.abs(error_px(found, page)).max() < 0.3
    assert len(found.index) >= (~covered).sum() - 6


def test_no_sheet() -> None:
    assert refusal(find_sheets(photograph((), np.random.default_rng(6)))) == "no-sheet"
    assert refusal(find_sheets(np.zeros((40, 30), dtype=np.uint8))) == "no-sheet"


def test_codes_without_their_chequer_are_no_sheet() -> None:
    page = laid(A4.upright, at=(800.0, 600.0), px_per_mm=1.0)
    top, bottom = int(page.truth_px()[:, 1].min()) - 25, int(page.truth_px()[:, 1].max()) + 25
    patches = ((800, top), (710, (top + bottom) // 2 - 45), (800, bottom - 90))  # opposite the three codes
    covers = tuple((x, y, x + 90, y + 90) for x, y in patches)
    grey = photograph((page,), np.random.default_rng(7), cover_px=covers)
    assert refusal(find_sheets(grey)) == "sheet-unclear"


def test_two_of_the_same_sheet_are_both_measured() -> None:
    """Each by its own codes, the one on the left first, as surely as one alone (0.06 px above)."""
    pages = (
        laid(A4.upright, at=(450.0, 600.0), px_per_mm=0.9),
        laid(A4.upright, at=(1150.0, 560.0), px_per_mm=0.7, turn_rad=0.05),
    )
    found = find_sheets(photograph(pages, np.random.default_rng(8)))
    assert isinstance(found, Finding) and found.second is not None and len(found.all) == 2
    for sheet, page in zip(found.all, pages, strict=True):
        assert len(sheet.codes) == len(A4.upright.codes)
        assert np.sqrt((error_px(sheet, page) ** 2).mean()) < 0.06


def test_codes_of_two_sheets_that_do_not_repeat_are_still_two_sheets() -> None:
    """Of either sheet the codes that the other one shows are covered: no code is there twice."""
    pages = (laid(A4.upright, at=(450.0, 600.0), px_per_mm=0.9), laid(A4.upright, at=(1150.0, 600.0), px_per_mm=0.9))
    by_code = [apply_homography(page.px_from_page, np.array([c.centre_mm for c in A4.upright.codes])) for page in pages]
    covers = [(int(x) - 12, int(y) - 12, int(x) + 12, int(y) + 12) for x, y in (*by_code[0][:1], *by_code[1][1:])]
    found = find_sheets(photograph(pages, np.random.default_rng(8), cover_px=tuple(covers)))
    assert isinstance(found, Finding) and found.second is not None
    assert sorted(len(sheet.codes) for sheet in found.all) == [1, 2]
    assert {code.id for sheet in found.all for code in sheet.codes} == set(A4.upright.code_ids)


def test_three_of_the_same_sheet_and_two_ground_sheets_are_refused() -> None:
    three = tuple(laid(A4.upright, at=(300.0 + 480.0 * i, 600.0), px_per_mm=0.8) for i in range(3))
    assert refusal(find_sheets(photograph(three, np.random.default_rng(8)))) == "two-kits"
    grounds = tuple(laid(A4.ground, at=(350.0 + 900.0 * i, 900.0), px_per_mm=0.8) for i in range(2))
    pages = (laid(A4.upright, at=(800.0, 300.0), px_per_mm=0.8), *grounds)
    assert refusal(find_sheets(photograph(pages, np.random.default_rng(8)))) == "two-kits"


def test_two_papers() -> None:
    letter = kit("letter").upright
    pages = (laid(A4.upright, at=(450.0, 600.0), px_per_mm=0.9), laid(letter, at=(1150.0, 600.0), px_per_mm=0.9))
    assert refusal(find_sheets(photograph(pages, np.random.default_rng(9)))) == "two-kits"


@pytest.mark.parametrize("of", [6, pytest.param(1, marks=pytest.mark.slow)], ids=["a sixth", "all"])
@pytest.mark.parametrize("name", ["no-target", "exif-orientation", "room-markers/photos"])
def test_nothing_is_found_on_real_photographs_without_a_kit(name: str, of: int) -> None:
    """Photographs that nobody on this project made; see their folders for origin and licence."""
    paths = sorted(folder(name).glob("*.[jJ][pP][gG]"))
    assert paths
    for path in paths[:: (6 if len(paths) > 12 else 1) * of]:
        grey = cv2.imread(str(path), cv2.IMREAD_GRAYSCALE)
        assert grey is not None
        assert refusal(find_sheets(np.asarray(grey, dtype=np.uint8))) in {"no-sheet", "sheet-unclear"}


@pytest.mark.parametrize("cells", [0, 1, 2])
def test_a_chequer_moved_by_whole_cells_contradicts_its_codes(cells: int) -> None:
    """Moved by a cell on both axes a chequer looks like itself; only the codes tell."""
    page = laid(A4.upright, at=(800.0, 600.0), px_per_mm=0.5, yaw=0.05)
    codes = tuple(
        FoundCode(id=code.id, corners_px=apply_homography(page.px_from_page, code.corners_mm()))
        for code in A4.upright.codes
    )
    step = cells * A4.upright.cell_mm
    moved = page.px_from_page @ np.array([[1.0, 0.0, step], [0.0, 1.0, -step], [0.0, 0.0, 1.0]])
    assert _codes_in_place(moved, A4.upright, codes) == (cells == 0)
