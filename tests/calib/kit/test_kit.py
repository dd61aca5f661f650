"""The kit as data: paper sizes, codes that cannot be mistaken for each other, saddles that are saddles."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from numpy.typing import NDArray

from calib.finding.codes import dictionary
from calib.kit.kit import (
    BAR_TAG_IDS,
    CENTRE_TAG_IDS,
    CODE_BITS,
    CODE_CELLS,
    CODE_MIN_DISTANCE,
    ID1_CARD_MM,
    PAPERS,
    Paper,
    Sheet,
    bar_tag_codes,
    kit,
    sheet_of_code,
    tag_codes,
)
from calib.kit.number import MAX_NUMBER, modules_of, number_of

BITS = np.array([[int(bit) for bit in bits] for bits in CODE_BITS]).reshape(-1, CODE_CELLS, CODE_CELLS)


def rotations(bits: NDArray[np.int_]) -> list[NDArray[np.int_]]:
    return [np.rot90(bits, turn) for turn in range(4)]


def chequer_sheets() -> list[Sheet]:
    return [sheet for paper in PAPERS for sheet in (kit(paper).upright, kit(paper, 1).upright, kit(paper).ground)]


# ISO 216: A4 is 210 x 297 mm, A3 297 x 420 mm.
# US letter is 8.5 x 11 inch of 25.4 mm (ANSI/ASME Y14.1, from memory).
@pytest.mark.parametrize(
    ("paper", "size_mm"),
    [("a4", (210.0, 297.0)), ("a3", (297.0, 420.0)), ("letter", (8.5 * 25.4, 11 * 25.4))],
)
def test_pages_have_the_size_of_the_standard(paper: Paper, size_mm: tuple[float, float]) -> None:
    assert kit(paper).page_mm == pytest.approx(size_mm, abs=1e-9)
    for sheet in (kit(paper).upright, kit(paper, 1).upright, kit(paper).ground):
        assert (sheet.width_mm, sheet.height_mm) == pytest.approx(size_mm, abs=1e-9)


def test_card_is_the_id1_card() -> None:
    # ISO/IEC 7810 ID-1, 85.60 x 53.98 mm (secondary)
    assert ID1_CARD_MM == (85.60, 53.98)


def test_codes_differ_in_every_rotation() -> None:
    """Hamming's distance, computed here from the frozen bits over all pairs and rotations."""
    closest = min(
        int(np.count_nonzero(first != turned))
        for first, second in combinations(BITS, 2)
        for turned in rotations(second)
    )
    assert closest == CODE_MIN_DISTANCE == 9


def test_no_code_looks_like_itself_turned() -> None:
    """Else a sheet on its side would be read as one that stands."""
    closest = min(int(np.count_nonzero(bits != turned)) for bits in BITS for turned in rotations(bits)[1:])
    assert closest >= 10


def test_no_row_or_column_is_of_one_colour() -> None:
    for lines in (BITS.sum(axis=1), BITS.sum(axis=2)):
        assert lines.min() > 0
        assert lines.max() < CODE_CELLS


def test_opencv_agrees_on_the_distances() -> None:
    """The library's own distance, in the finder's dictionary: 0 to itself, at least 9 to all others."""
    the_dictionary = dictionary()
    for number, bits in enumerate(BITS.astype(np.uint8)):
        distances = [the_dictionary.getDistanceToId(bits, other) for other in range(len(BITS))]
        assert distances[number] == 0
        assert min(distances[:number] + distances[number + 1 :]) >= 9


@pytest.mark.parametrize("turns", [0, 1, 2, 3])
def test_opencv_tells_the_rotation(turns: int) -> None:
    """A code whose picture is turned n times against the clock is identified as itself, with n."""
    the_dictionary = dictionary()
    for number, bits in enumerate(BITS.astype(np.uint8)):
        picture = np.ascontiguousarray(np.rot90(bits, turns))
        answer = the_dictionary.identify(picture, 0.0)
        assert (bool(answer[0]), answer[1], answer[2] % 4) == (True, number, turns)


def test_each_code_is_on_one_sheet() -> None:
    """Codes tell paper and sheet; only the tags are the same on every paper."""
    printed = [code_id for sheet in chequer_sheets() for code_id in sheet.code_ids]
    assert len(printed) == len(set(printed)) == len(sheet_of_code())
    assert set(printed).isdisjoint(CENTRE_TAG_IDS)
    assert set(printed).isdisjoint(BAR_TAG_IDS)
    assert set(CENTRE_TAG_IDS).isdisjoint(BAR_TAG_IDS)
    assert max([*printed, *CENTRE_TAG_IDS, *BAR_TAG_IDS]) < len(CODE_BITS)
    for sheet in chequer_sheets():
        assert all(sheet_of_code()[code_id] is sheet for code_id in sheet.code_ids)


@pytest.mark.parametrize("paper", PAPERS)
def test_tags_are_the_same_on_every_paper(paper: Paper) -> None:
    for sheet, known in ((kit(paper).tags, tag_codes()), (kit(paper).bar_tags, bar_tag_codes())):
        assert set(sheet.code_ids) == set(known)
        for code in sheet.codes:
            assert code.size_mm == known[code.id].size_mm
            assert code.quiet_mm == known[code.id].quiet_mm


def test_bar_tags_are_of_two_sizes_with_codes_of_their_own() -> None:
    sizes = {code.size_mm for code in bar_tag_codes().values()}
    assert sizes == {60.0, 40.0}
    assert set(bar_tag_codes()).isdisjoint(tag_codes())


@pytest.mark.parametrize("sheet", chequer_sheets(), ids=lambda sheet: f"{sheet.paper}-{sheet.role}-{sheet.edition}")
def test_saddles_have_two_dark_cells_on_a_diagonal(sheet: Sheet) -> None:
    """By the cells alone: of the four squares that meet at a saddle, just those two are dark."""

    def dark_at(x: float, y: float) -> bool:
        left, bottom, right, top = sheet.dark_mm.T
        return bool(np.any((left < x) & (x < right) & (bottom < y) & (y < top)))

    step = sheet.cell_mm / 4
    for (x, y), polarity in zip(sheet.points_mm, sheet.polarity, strict=True):
        around = [dark_at(x + dx * step, y + dy * step) for dx, dy in ((1, -1), (-1, 1), (1, 1), (-1, -1))]
        assert around == ([True, True, False, False] if polarity == 1 else [False, False, True, True])


@pytest.mark.parametrize("sheet", chequer_sheets(), ids=lambda sheet: f"{sheet.paper}-{sheet.role}-{sheet.edition}")
def test_saddles_are_spread_over_the_sheet(sheet: Sheet) -> None:
    """No saddle lies in a code's quiet zone, and they span about half of the page or more both ways."""
    for code in sheet.codes:
        reach = code.size_mm / 2 + code.quiet_mm
        inside = np.all(np.abs(sheet.points_mm - code.centre_mm) < reach - 1e-9, axis=1)
        assert not inside.any()
    assert np.all(np.ptp(sheet.points_mm, axis=0) > 0.48 * np.array([sheet.width_mm, sheet.height_mm]))
    assert len(set(sheet.point_names)) == len(sheet.points_mm) > 0


def test_kit_cannot_be_changed_by_accident() -> None:
    for sheet in chequer_sheets():
        for array in (sheet.points_mm, sheet.polarity, sheet.dark_mm):
            with pytest.raises(ValueError, match="read-only"):
                array[0] = 0


@pytest.mark.parametrize("paper", PAPERS)
def test_boxes_say_every_half_millimetre_that_printers_give(paper: Paper) -> None:
    """From 94 % ("fit to page" on A4 with 6.35 mm margins: (210 - 12.7) / 210) to 1 % long, without a gap."""
    sheet = kit(paper).upright
    for question, length in zip(("bar-x", "bar-y"), sheet.bars_mm, strict=True):
        values = [float(box.value) for box in sheet.boxes if box.question == question]
        assert np.diff(values) == pytest.approx(0.5)
        assert values[0] <= 0.94 * length + 0.5
        assert values[-1] >= 1.01 * length


@pytest.mark.parametrize("paper", PAPERS)
def test_boxes_lie_clear_of_everything_that_is_measured(paper: Paper) -> None:
    sheet = kit(paper).upright
    sides = np.array([box.sides_mm() for box in sheet.boxes])
    assert sheet.strip is not None
    strip = np.array([sheet.strip.sides_mm(module) for module in range(36)])
    (left, top), (right, bottom) = sheet.extent_mm()[[0, 2]]
    assert sheet.foot_line_mm is not None
    for places, inner in ((sides, 5.0), (strip, 5.0)):
        assert places[:, 0].min() > inner
        assert places[:, 2].max() < sheet.width_mm - inner
        assert places[:, 1].min() > sheet.foot_line_mm + 5.0
        beside = (places[:, 2] < left - 2.0) | (places[:, 0] > right + 2.0)
        above = (places[:, 3] < bottom - 2.0) | (places[:, 1] > top + 2.0)
        assert (beside | above).all()
    for one, other in combinations(sides, 2):
        apart = max(one[0] - other[2], other[0] - one[2], one[1] - other[3], other[1] - one[3])
        assert apart >= 2.0


@pytest.mark.parametrize("paper", PAPERS)
def test_each_value_has_one_box(paper: Paper) -> None:
    asked = [(box.question, box.value) for box in kit(paper).upright.boxes]
    assert len(set(asked)) == len(asked)


def test_numbers_come_back_and_wrong_modules_are_noticed() -> None:
    """Every single, double and triple fault of a word; and bursts. CRC of 16 bits over 36: distance 4 (computed here)."""
    for number in (1, 7, 468_779, MAX_NUMBER):
        right = modules_of(number)
        assert number_of(right) == number
        for wrong in (1, 2, 3):
            for places in combinations(range(len(right)), wrong):
                broken = tuple(bit ^ (place in places) for place, bit in enumerate(right))
                assert number_of(broken) is None
    with pytest.raises(ValueError, match="not within"):
        modules_of(MAX_NUMBER + 1)
