"""Records of the invented Ferncombe hire yard, in every verdict, and the pages as another library sees them."""

from __future__ import annotations

import ctypes
import io
import math
from collections.abc import Sequence

import numpy as np
import pypdfium2
import pypdfium2.raw as pdfium
from PIL import Image

from photomeasure.asked.state import State
from photomeasure.record.cautions import CAUTIONS
from photomeasure.record.schema import (
    BudgetRow,
    CameraPart,
    CentrePart,
    InputRow,
    PhotoPart,
    Record,
    RefusalPart,
    RulePart,
    StatePart,
    VerdictWord,
)
from photomeasure.record.tape_instructions import tape_instructions

Box = tuple[float, float, float, float]  # left, bottom, right, top in points
HEIGHTS: dict[VerdictWord, float] = {
    "within": 412.57, "above": 503.21, "below": 311.04, "undecided": 459.33, "no-band": 505.0,
}  # fmt: skip
RULE = RulePart(
    name="yard", title="Ferncombe hire yard's own band (invented)", low_mm=350.0, high_mm=460.0,
    source="the yard's own sheet, which does not exist", edition="second edition", confidence="secondary",
    decision="guarded acceptance, guard band 1 x U at each end", guard_band_mm=3.0,
)  # fmt: skip


def budget_of(u_mm: float, shares: Sequence[float]) -> list[BudgetRow]:
    """Rows whose squares add up to u_mm squared."""
    total = math.fsum(shares)
    return [
        BudgetRow(quantity=f"quantity number {i}", u_mm=u_mm * math.sqrt(part / total), share=part / total)
        for i, part in enumerate(sorted(shares, reverse=True), start=1)
    ]


def measured(verdict: VerdictWord = "within", u_mm: float = 1.48, rows: int = 9, **more: object) -> Record:
    """A record with every part that a measurement has."""
    height, U_mm = HEIGHTS[verdict], 2 * u_mm
    shares = [0.6**i for i in range(rows)] if rows < 40 else [1.0 + 0.01 * i for i in range(rows)]
    rule = RULE.model_copy(update={"low_mm": None, "high_mm": None}) if verdict == "no-band" else RULE
    parts: dict[str, object] = {
        "version": "0.0", "computed": "2026-01-02T03:04:05+00:00", "height_mm": height, "u_mm": u_mm, "U_mm": U_mm,
        "coverage": 0.95, "interval_mm": (height - U_mm, height + U_mm), "verdict": verdict,
        "sentence": "Said in one sentence.", "p_inside": None if verdict == "no-band" else 0.9876, "rule": rule,
        "state": StatePart(coupling="ball-50", coupled=True, laden=None, level_ground=True), "indicative": True,
        "indicative_why": ["The band speaks of a laden rig; this was not stated."],
        "advice": ["Room for 59 mm lower and 44 mm higher."], "coach": ["Hold the phone about 0.9 m lower."],
        "warnings": ["The check bars were not measured."], "budget": budget_of(u_mm, shares),
        "inputs": [
            InputRow(quantity="sheet lean", value=0.0, u=0.0087, unit="rad", distribution="normal",
                     source="stood against something square", height_u_mm=-0.21),
            InputRow(quantity="check bar x", value=150.25, u=0.153, unit="mm", distribution="rectangular",
                     source="rule on the printed bar", height_u_mm=0.44),
        ],
        "centre": CentrePart(source="tag", px=[[2000.25, 1000.5], None], checks=["Tag and pick agree."]),
        "camera": CameraPart(kind="exif", source="EXIF: 26 mm-equivalent", focal_px=2890.4, u_focal_px=71.3),
        "confirm": list(tape_instructions("ball-50", State(coupled=True))), "cautions": list(CAUTIONS),
        "photos": [
            PhotoPart(file=f"yard/truck-2-{i}.jpg", sha256=f"{i}" * 64, width_px=4000, height_px=3000, corners=27,
                      cell_px=24.78, blur_px=0.55, distance_mm=2410.0, lens_height_mm=533.0)
            for i in (1, 2)
        ], **more,
    }  # fmt: skip
    return Record(**parts)  # type: ignore[arg-type]


def refused(reason: str = "The sheet is too small in the picture.", **more: object) -> Record:
    """A record without a figure."""
    nothing = dict.fromkeys(("height_mm", "u_mm", "U_mm", "coverage", "interval_mm", "p_inside", "centre", "camera"))
    part = RefusalPart(code="sheet-too-small", reason=reason, remedy="Go nearer until the sheet fills a third.")
    empty: dict[str, list[str]] = {name: [] for name in ("budget", "inputs", "indicative_why", "warnings", "coach")}
    photos = measured().photos[:1]
    return measured("within").model_copy(
        update={
            **nothing,
            **empty,
            "verdict": "refused",
            "refusal": part,
            "indicative": False,
            "photos": photos,
            **more,
        }
    )


def jpeg(width: int = 320, height: int = 360, seed: int = 1) -> bytes:
    """A picture that compresses badly, so that a second compression would show."""
    noise = np.random.default_rng(seed).integers(0, 256, (height, width, 3), dtype=np.uint8)
    stream = io.BytesIO()
    Image.fromarray(noise).save(stream, "JPEG", quality=80)
    return stream.getvalue()


def pages_text(data: bytes) -> list[str]:
    """The text of each page as pdfium reads it, white space evened out."""
    document = pypdfium2.PdfDocument(data)
    return [" ".join(page.get_textpage().get_text_bounded().split()) for page in document]


def text_boxes(page: pypdfium2.PdfPage) -> list[tuple[Box, str]]:
    """One box a run of text: tight round its letters, as pdfium measures them."""
    text = page.get_textpage()
    boxes = [text.get_rect(i) for i in range(text.count_rects())]
    return [(box, text.get_text_bounded(*box).strip()) for box in boxes]


def object_boxes(page: pypdfium2.PdfPage) -> list[Box]:
    return [thing.get_bounds() for thing in page.get_objects()]


def filled(page: pypdfium2.PdfPage, colour: tuple[float, float, float]) -> list[Box]:
    """The boxes of the paths that are filled with this colour, in the order in which they were drawn."""
    found = []
    for thing in page.get_objects(filter=[pdfium.FPDF_PAGEOBJ_PATH]):
        parts = [ctypes.c_uint() for _ in range(4)]
        pdfium.FPDFPageObj_GetFillColor(thing.raw, *parts)
        if all(abs(part.value / 255 - wanted) < 0.006 for part, wanted in zip(parts, colour, strict=False)):
            found.append(thing.get_bounds())
    return found


def overlapping(boxes: Sequence[tuple[Box, str]], slack: float = 0.3) -> list[tuple[str, str]]:
    """Pairs of texts that lie over one another by more than `slack` points."""
    return [
        (one[1], other[1])
        for i, one in enumerate(boxes)
        for other in boxes[:i]
        if min(one[0][2], other[0][2]) - max(one[0][0], other[0][0]) > slack
        and min(one[0][3], other[0][3]) - max(one[0][1], other[0][1]) > slack
    ]


def layout_faults(data: bytes) -> list[str]:
    """What lies over a page's edge (3 mm: what office printers reach), and texts that lie over another, by page."""
    edge = 3.0 / 25.4 * 72.0
    faults = []
    for number, page in enumerate(pypdfium2.PdfDocument(data), start=1):
        width, height = page.get_size()
        texts = text_boxes(page)
        for left, bottom, right, top in [*object_boxes(page), *(box for box, _ in texts)]:
            if not (left >= edge and bottom >= edge and right <= width - edge and top <= height - edge):
                faults.append(f"page {number}: {(left, bottom, right, top)} of {(width, height)}")
        faults += [f"page {number}: {one!r} over {other!r}" for one, other in overlapping(texts)]
    return faults
