"""The printed pages, measured in a raster: every point where `target.json` says, bars and card of true size.

Pages are rastered by PDFium at 600 dpi. Edges are measured here by how dark a strip across them is, with
none of the product's own measuring, so that a shift or a scale in the drawing would show.
"""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pypdfium2 as pdfium
import pytest
from numpy.typing import NDArray
from pypdfium2 import raw

from calib.finding.codes import find_codes
from calib.kit.kit import CODE_BITS, PAPERS, Paper, kit
from calib.kit.page_instructions import (
    CARD_LINE,
    CUT_LINE,
    PRINT_LINES,
    SAFETY_LINES,
    SEND_LINES,
    SHOOT_LINE,
    STAND_LINES,
    Panel,
    Panels,
    lay_out_panels,
)
from calib.kit.sheets import target_pdf, write_target

DPI = 600
TRUE_MM = 0.05
WHITE_FROM = 250
TEXT_LINES = (*PRINT_LINES, CARD_LINE, CUT_LINE, *STAND_LINES, SHOOT_LINE, *SEND_LINES, *SAFETY_LINES)


@dataclass(frozen=True, slots=True, kw_only=True)
class Printed:
    """One kit as files, and its pages as grey rasters (h, w), 255 white."""

    paper: Paper
    pdf: bytes
    facts: dict[str, Any]
    pages: tuple[NDArray[np.uint8], ...]

    def size_mm(self, page: int) -> tuple[float, float]:
        sizes = {sheet["page"]: (sheet["width_mm"], sheet["height_mm"]) for sheet in self.facts["sheets"]}
        return sizes.get(page, kit(self.paper).page_mm)

    def px_per_mm(self, page: int) -> tuple[float, float]:
        """PDFium stretches the page to whole pixels, hence not exactly 600 dpi."""
        rows, columns = self.pages[page - 1].shape
        width, height = self.size_mm(page)
        return columns / width, rows / height

    def cut_out(self, page: int, box_mm: tuple[float, float, float, float]) -> NDArray[np.float64]:
        """The raster inside left, bottom, right, top, rounded to whole pixels; 0 white to 1 black."""
        (kx, ky), (left, bottom, right, top) = self.px_per_mm(page), box_mm
        rows = self.pages[page - 1].shape[0]
        part = self.pages[page - 1][
            round(rows - top * ky) : round(rows - bottom * ky), round(left * kx) : round(right * kx)
        ]
        return 1.0 - part / 255.0

    def edge_mm(self, page: int, box_mm: tuple[float, float, float, float], *, along: str) -> float:
        """Where the one edge inside the box crosses it, mm along x or y: the dark share of the box says.

        A box has one dark and one white side along that axis; the answer is a page coordinate.
        """
        (kx, ky), (left, bottom, right, top) = self.px_per_mm(page), box_mm
        rows = self.pages[page - 1].shape[0]
        dark = self.cut_out(page, box_mm)
        profile = dark.mean(axis=0 if along == "x" else 1)  # along y it runs downwards
        share = float(profile.mean())
        if along == "x":
            start, stop = round(left * kx) / kx, round(right * kx) / kx
        else:
            start, stop = (rows - round(rows - top * ky)) / ky, (rows - round(rows - bottom * ky)) / ky
        assert {round(float(profile[0])), round(float(profile[-1]))} == {0, 1}, "no single edge here"
        return start + (stop - start) * (share if profile[0] > 0.5 else 1 - share)


@pytest.fixture(scope="module", params=PAPERS)
def printed(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Printed:
    paper: Paper = request.param
    pdf, facts = write_target(tmp_path_factory.mktemp(paper), paper)
    document = pdfium.PdfDocument(pdf)
    pages = tuple(raster_of(page, DPI) for page in document)
    return Printed(paper=paper, pdf=pdf.read_bytes(), facts=json.loads(facts.read_text()), pages=pages)


def raster_of(page: pdfium.PdfPage, dpi: int) -> NDArray[np.uint8]:
    picture = page.render(scale=dpi / 72, grayscale=True).to_numpy()
    return np.ascontiguousarray(picture.reshape(picture.shape[:2]))


def sheets_of(printed: Printed, *roles: str) -> list[dict[str, Any]]:
    return [sheet for sheet in printed.facts["sheets"] if sheet["role"] in roles]


# --- the file -------------------------------------------------------------------------------------


def test_page_sizes(printed: Printed) -> None:
    """ISO 216: A4 210 x 297 mm, A3 297 x 420 mm; US letter 8.5 x 11 inch (ANSI/ASME Y14.1, from memory)."""
    sizes = {"a4": (210.0, 297.0), "a3": (297.0, 420.0), "letter": (215.9, 279.4)}
    document = pdfium.PdfDocument(printed.pdf)
    assert len(document) == 6
    for number, page in enumerate(document, start=1):
        # tags are small: an A3 printer is not needed for them
        paper = "a4" if printed.paper == "a3" and number > 3 else printed.paper
        assert np.array(page.get_size()) * 25.4 / 72 == pytest.approx(sizes[paper], abs=0.01)


def test_printing_is_asked_for_without_scaling(printed: Printed) -> None:
    """ISO 32000-1 table 150, PrintScaling None; PDFium reports it as 0."""
    document = pdfium.PdfDocument(printed.pdf)
    assert raw.FPDF_VIEWERREF_GetPrintScaling(document.raw) == 0


@pytest.mark.parametrize("seed", ["0", "1"])
def test_same_bytes_in_another_process(seed: str) -> None:
    """A kit printed twice is the same kit: no dates, no identifiers, no order that depends on the process."""
    program = "import hashlib; from calib.kit.kit import kit; from calib.kit.sheets import target_pdf; "
    program += "print(hashlib.sha256(target_pdf(kit('a4'))).hexdigest())"
    path = os.pathsep.join([str(Path(__file__).parents[3]), os.environ.get("PYTHONPATH", "")])
    environment = {"PYTHONHASHSEED": seed, "PYTHONPATH": path, "PATH": "/usr/bin:/bin", "TZ": f"UTC{seed}"}
    answer = subprocess.run(
        [sys.executable, "-c", program], env=environment, capture_output=True, text=True, check=True
    )
    assert answer.stdout.strip() == hashlib.sha256(target_pdf(kit("a4"))).hexdigest()


def test_facts_keep_their_contract(printed: Printed) -> None:
    """Keys and meaning that programs outside rely on."""
    facts = printed.facts
    assert facts["schema"] == "photomeasure/target/1"
    assert facts["paper"] == printed.paper
    assert isinstance(facts["kit"], str)
    assert facts["kit"]
    assert [sheet["role"] for sheet in facts["sheets"]] == ["upright", "ground", "centre-tag", "bar-tag"]
    assert [sheet["page"] for sheet in facts["sheets"]] == [2, 3, 4, 5]
    assert facts["number"] in range(1, 1_000_000)
    assert set(facts["bars"]) == {"x_mm", "y_mm"}
    for sheet in facts["sheets"]:
        wanted = {"role", "page", "width_mm", "height_mm", "points", "tags"}
        assert set(sheet) == wanted | ({"foot_line_mm", "boxes"} if sheet["role"] == "upright" else set())
        assert all(set(point) == {"name", "x_mm", "y_mm"} for point in sheet["points"])
        assert all(set(tag) == {"id", "centre_mm", "size_mm", "quiet_mm"} for tag in sheet["tags"])
        assert len({point["name"] for point in sheet["points"]}) == len(sheet["points"])
        assert bool(sheet["points"]) == (sheet["role"] in {"upright", "ground"})
        assert sheet["tags"]


# --- what is measured on --------------------------------------------------------------------------


def test_every_saddle_is_where_the_facts_say(printed: Printed) -> None:
    """The edges above and below, left and right of each saddle cross within 0.05 mm of `target.json`."""
    near, far, reach = 1.5, 6.0, 5.0
    worst = 0.0
    for sheet in sheets_of(printed, "upright", "ground"):
        for point in sheet["points"]:
            x, y, page = point["x_mm"], point["y_mm"], sheet["page"]
            for side in (-1, 1):
                low, high = sorted((side * near, side * far))
                seen_x = printed.edge_mm(page, (x - reach, y + low, x + reach, y + high), along="x")
                seen_y = printed.edge_mm(page, (x + low, y - reach, x + high, y + reach), along="y")
                worst = max(worst, abs(seen_x - x), abs(seen_y - y))
    assert worst < TRUE_MM


def test_every_tag_corner_is_where_the_facts_say(printed: Printed) -> None:
    """At each corner of a black border, its two outer edges, within one module of the corner."""
    worst = 0.0
    for sheet in printed.facts["sheets"]:
        for tag in sheet["tags"]:
            (cx, cy), half, module = tag["centre_mm"], tag["size_mm"] / 2, tag["size_mm"] / 7
            reach = 0.8 * min(module, tag["quiet_mm"])
            for dx, dy in ((-1, 1), (1, 1), (1, -1), (-1, -1)):
                x, y = cx + dx * half, cy + dy * half
                inner_y = sorted((y - dy * 0.1 * module, y - dy * 0.9 * module))
                inner_x = sorted((x - dx * 0.1 * module, x - dx * 0.9 * module))
                seen_x = printed.edge_mm(sheet["page"], (x - reach, inner_y[0], x + reach, inner_y[1]), along="x")
                seen_y = printed.edge_mm(sheet["page"], (inner_x[0], y - reach, inner_x[1], y + reach), along="y")
                worst = max(worst, abs(seen_x - x), abs(seen_y - y))
    assert worst < TRUE_MM


def test_every_tag_carries_the_bits_of_its_id(printed: Printed) -> None:
    """The 5 x 5 bits read off the raster at their modules' middles are the frozen ones, upright."""
    for sheet in printed.facts["sheets"]:
        for tag in sheet["tags"]:
            (cx, cy), module = tag["centre_mm"], tag["size_mm"] / 7
            bits = ""
            for row in range(5):
                for column in range(5):
                    x, y = cx + (column - 2) * module, cy - (row - 2) * module
                    box = (x - module / 4, y - module / 4, x + module / 4, y + module / 4)
                    bits += "1" if printed.cut_out(sheet["page"], box).mean() < 0.5 else "0"
            assert bits == CODE_BITS[tag["id"]]


def test_the_finder_reads_exactly_the_codes_of_each_page(printed: Printed) -> None:
    """At 100 dpi: all ids of the page and no other, corners in place; none on the page of instructions."""
    for number, raster in enumerate(printed.pages, start=1):
        small = cv2.resize(raster, None, fx=1 / 6, fy=1 / 6, interpolation=cv2.INTER_AREA).astype(np.uint8)
        found = find_codes(small)
        tags = {tag["id"]: tag for sheet in printed.facts["sheets"] if sheet["page"] == number for tag in sheet["tags"]}
        assert sorted(code.id for code in found) == sorted(tags)
        for code in found:
            (cx, cy), half = tags[code.id]["centre_mm"], tags[code.id]["size_mm"] / 2
            expected_mm = [
                (cx - half, cy + half),
                (cx + half, cy + half),
                (cx + half, cy - half),
                (cx - half, cy - half),
            ]
            height = printed.size_mm(number)[1]
            expected_px = [(x * 100 / 25.4, (height - y) * 100 / 25.4) for x, y in expected_mm]
            assert np.abs(code.corners_px - expected_px).max() < 2.0  # the detector's corners are whole pixels


@pytest.mark.parametrize("dpi", [50, 100, 150, 300])
def test_instructions_are_never_taken_for_a_sheet(printed: Printed, dpi: int) -> None:
    assert find_codes(raster_of(pdfium.PdfDocument(printed.pdf)[0], dpi)) == ()


# --- what is printed around it --------------------------------------------------------------------


def bars_mm(printed: Printed, page: int, *, upright: bool) -> list[float]:
    """Lengths between the middles of the end ticks of the bars on a page, found by their shape alone.

    Half of a bar is one connected shape: a line of some 60 mm with a tick of some 4.4 mm at its outer end.
    """
    raster = printed.pages[page - 1].T if upright else printed.pages[page - 1]
    across, along = printed.px_per_mm(page) if upright else printed.px_per_mm(page)[::-1]
    rows, columns = raster.shape[0] // 4, raster.shape[1] // 4
    fewer_rows = np.minimum.reduce([raster[k : 4 * rows : 4, : 4 * columns] for k in range(4)])
    coarse = np.minimum.reduce([fewer_rows[:, k::4] for k in range(4)]) < 128
    _, _, boxes, _ = cv2.connectedComponentsWithStats(coarse.astype(np.uint8), connectivity=8)
    halves = []
    for (left, top, width, height), area in zip(4 * boxes[:, :4], boxes[:, 4], strict=True):
        thin = area < 0.5 * width * height / 16  # and no run of the number's modules
        if thin and 40 < width / along < 125 and 3.5 < height / across < 5.5:
            tick = 255.0 - raster[top + 8 : top + round(1.2 * across), left - 3 : left + width + 3]
            weight = tick.sum(axis=0)
            halves.append((left - 3 + float(np.average(np.arange(len(weight)), weights=weight)), top))
    halves.sort(key=lambda half: (half[1], half[0]))
    assert len(halves) % 2 == 0
    return [(second[0] - first[0]) / along for first, second in zip(halves[::2], halves[1::2], strict=True)]


def test_check_bars_are_as_long_as_the_facts_say(printed: Printed) -> None:
    """Longer than the first edition's 150 mm, and within a ruler of 300 mm."""
    (sheet,) = sheets_of(printed, "upright")
    for upright, axis in ((False, "x_mm"), (True, "y_mm")):
        said = printed.facts["bars"][axis]
        assert 150.0 < said < 300.0
        assert bars_mm(printed, sheet["page"], upright=upright) == [pytest.approx(said, abs=TRUE_MM)]
    for other in sheets_of(printed, "ground", "centre-tag", "bar-tag"):
        assert bars_mm(printed, other["page"], upright=False) == []  # nobody measures the wrong ones


def test_every_box_is_where_the_facts_say_and_empty(printed: Printed) -> None:
    """Its outline's outer edges on all four sides, its inside white."""
    (sheet,) = sheets_of(printed, "upright")
    for box in sheet["boxes"]:
        x, y, across, up = box["x_mm"], box["y_mm"], box["width_mm"] / 2, box["height_mm"] / 2
        inside = (x - across + 0.5, y - up + 0.5, x + across - 0.5, y + up - 0.5)
        assert printed.cut_out(sheet["page"], inside).max() < 0.02
        for dx, dy in ((-1, 0), (1, 0), (0, -1), (0, 1)):
            at_x, at_y = x + dx * (across - 0.125), y + dy * (up - 0.125)
            line = printed.cut_out(sheet["page"], (at_x - 0.06, at_y - 0.06, at_x + 0.06, at_y + 0.06))
            assert line.mean() > 0.5, (box["question"], box["value"])


def test_the_number_is_printed_in_modules_and_figures(tmp_path: Path) -> None:
    from calib.kit.number import number_of

    facts = json.loads(write_target(tmp_path, "a4", 468_779)[1].read_text())
    assert facts["number"] == 468_779
    document = pdfium.PdfDocument(tmp_path / "target.pdf")
    page = raster_of(document[1], 300)
    strip = kit("a4").upright.strip
    assert strip is not None
    modules = []
    for module in range(36):
        left, bottom, right, top = strip.sides_mm(module)
        x, y = (left + right) / 2 * 300 / 25.4, page.shape[0] - (bottom + top) / 2 * 300 / 25.4
        modules.append(bool(page[round(y), round(x)] < 128))
    assert number_of(tuple(modules)) == 468_779
    assert "468779" in document[1].get_textpage().get_text_range()


def test_whom_to_send_to_is_printed(tmp_path: Path) -> None:
    write_target(tmp_path, "a4", 7, "Ferncombe Trailers\\nMill Lane 3")
    words = pdfium.PdfDocument(tmp_path / "target.pdf")[0].get_textpage().get_text_range()
    assert "Ferncombe Trailers" in words and "Mill Lane 3" in words


def test_metadata_says_who_and_invents_no_date(printed: Printed) -> None:
    told = pdfium.PdfDocument(printed.pdf).get_metadata_dict(skip_empty=True)
    assert told["Author"] == "photomeasure" and "100 %" in told["Title"]
    assert "CreationDate" not in told and "ModDate" not in told


def test_card_outline_is_an_id1_card(printed: Printed) -> None:
    """ISO/IEC 7810 ID-1: 85.60 x 53.98 mm, corner radius 2.88 to 3.48 mm (secondary)."""
    kx, ky = printed.px_per_mm(1)
    dark = (printed.pages[0] < 128).astype(np.uint8)
    _, labels, boxes, _ = cv2.connectedComponentsWithStats(dark, connectivity=8)
    sizes = boxes[:, 2:4] / (kx, ky)
    (number,) = np.flatnonzero(np.all(np.abs(sizes - (85.6, 53.98)) < 1.0, axis=1))
    left, top, width, height, _ = boxes[number]
    inside = labels[top : top + height, left : left + width] == number
    columns = np.flatnonzero(inside[height // 2])
    rows = np.flatnonzero(inside[:, width // 2])
    size_mm = []
    for places, scale in ((columns, kx), (rows, ky)):
        first, last = places[places < places.mean()], places[places > places.mean()]
        size_mm.append((last.mean() - first.mean()) / scale)
    assert size_mm == [pytest.approx(85.60, abs=TRUE_MM), pytest.approx(53.98, abs=TRUE_MM)]
    for corner in (inside, inside[:, ::-1], inside[::-1], inside[::-1, ::-1]):
        # A round corner cuts r (sqrt 2 - 1) off the diagonal; measured between the middles of the line.
        diagonal = np.flatnonzero(np.diagonal(corner)[: round(3.0 * kx)])
        line = float(np.mean(columns[columns < columns.mean()]))
        radius_mm = (diagonal.mean() - line) * np.sqrt(2) / (np.sqrt(2) - 1) / kx
        assert 2.88 <= radius_mm <= 3.48


def test_quiet_zones_are_white(printed: Printed) -> None:
    spare = 0.1  # half a pixel and a little, at both rims
    for sheet in printed.facts["sheets"]:
        raster = printed.pages[sheet["page"] - 1]
        (kx, ky), rows = printed.px_per_mm(sheet["page"]), raster.shape[0]
        for tag in sheet["tags"]:
            (cx, cy), half = tag["centre_mm"], tag["size_mm"] / 2
            outer, inner = half + tag["quiet_mm"] - spare, half + spare
            ring = raster[
                round(rows - (cy + outer) * ky) : round(rows - (cy - outer) * ky),
                round((cx - outer) * kx) : round((cx + outer) * kx),
            ].copy()
            skip_y, skip_x = round((outer - inner) * ky), round((outer - inner) * kx)
            ring[skip_y:-skip_y, skip_x:-skip_x] = 255
            assert ring.min() >= WHITE_FROM
            assert tag["quiet_mm"] >= 0.6 * tag["size_mm"] / 7  # the experiment's choice: 0.67 of a module


def test_nothing_is_in_the_printers_margin_but_the_line_to_cut_along(printed: Printed) -> None:
    """5 mm: common practice, no source."""
    cuts = {2: printed.facts["sheets"][0]["foot_line_mm"], 3: kit(printed.paper).ground.origin_mm[1]}
    for number, raster in enumerate(printed.pages, start=1):
        (kx, ky), page = printed.px_per_mm(number), raster.copy()
        page[round(5 * ky) : -round(5 * ky), round(5 * kx) : -round(5 * kx)] = 255
        if number in cuts:
            middle = page.shape[0] - cuts[number] * ky
            line = page[round(middle - 0.5 * ky) : round(middle + 0.5 * ky)]
            assert (line.min(axis=0)[: round(5 * kx)] < 128).all()  # from the paper's very edge
            line[:] = 255
        assert page.min() >= WHITE_FROM


def test_foot_line_is_where_the_facts_say(printed: Printed) -> None:
    """The middle of the fine line, at both ends and beside the middle."""
    (upright,) = sheets_of(printed, "upright")
    page, foot = upright["page"], upright["foot_line_mm"]
    for x in (2.0, upright["width_mm"] / 3, upright["width_mm"] - 2.0):
        strip = printed.cut_out(page, (x - 0.5, foot - 0.8, x + 0.5, foot + 0.8)).mean(axis=1)
        ky, rows = printed.px_per_mm(page)[1], printed.pages[page - 1].shape[0]
        top = round(rows - (foot + 0.8) * ky)
        middle = top + float(np.average(np.arange(len(strip)) + 0.5, weights=strip**4))
        assert (rows - middle) / ky == pytest.approx(foot, abs=TRUE_MM)


# --- the page of instructions ---------------------------------------------------------------------


def test_instructions_are_at_most_ten_lines() -> None:
    assert len(TEXT_LINES) <= 10


def panels_of(panels: Panels) -> list[Panel]:
    fields = (getattr(panels, name) for name in Panels.__slots__)
    return [value for value in fields if isinstance(value, Panel)]


def test_every_line_is_printed_inside_its_panel(printed: Printed) -> None:
    """Words as a reader of the PDF gets them, with their boxes."""
    words = pdfium.PdfDocument(printed.pdf)[0].get_textpage()
    panels = panels_of(lay_out_panels(kit(printed.paper)))
    for line in TEXT_LINES:
        found = words.search(line, match_case=True).get_next()
        assert found is not None, line
        first, count = found
        boxes = np.array(
            [words.get_charbox(index) for index in range(first, first + count) if line[index - first] != " "]
        )
        (left, bottom), (right, top) = (
            boxes[:, :2].min(axis=0) * 25.4 / 72,
            boxes[:, 2:].max(axis=0) * 25.4 / 72,
        )
        holders = [
            panel
            for panel in panels
            if panel.left + 1 < left
            and right < panel.left + panel.width - 1
            and panel.bottom + 0.5 < bottom
            and top < panel.bottom + panel.height - 0.5
        ]
        assert len(holders) == 1, line


def test_cautions_are_printed() -> None:
    words = " ".join(SAFETY_LINES).lower()
    for caution in (
        "level ground",
        "chocked",
        "between vehicle and trailer",
        "no certificate",
        "tape",
        "local codes",
    ):
        assert caution in words
    assert "ruler" in CARD_LINE
