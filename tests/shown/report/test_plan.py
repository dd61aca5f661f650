"""The plan's report, read back by another library (pdfium): the document's figures, the drawing, the layout."""

from __future__ import annotations

import copy
from typing import Any

import numpy as np
import pypdfium2
import pytest

from photomeasure.rig.document import plan_document
from photomeasure.rig.drawing import plan_drawing
from photomeasure.rig.plan import Plan, make_plan
from photomeasure.rig.shapes import Disc, Text
from photomeasure.shown import words
from photomeasure.shown.report.plan import plan_pdf
from tests.rig.scenario import band, checked, plain, sample
from tests.shown.report.samples import filled, layout_faults, pages_text

WORKED = ("ferncombe-yard-truck-2.toml", "ferncombe-plant-trailer-b.toml", "ferncombe-yard-truck-5.toml")
MADE = "2026-01-02T03:04:05+00:00"


def planned(raw: dict[str, Any]) -> Plan:
    return make_plan(checked(raw), band(), np.random.default_rng(1))


@pytest.mark.parametrize("name", WORKED)
def test_report_tells_what_the_document_tells(name: str) -> None:
    plan = planned(sample(name))
    document = plan_document(plan)
    data = plan_pdf(plan, MADE)
    first, *rest = pages_text(data)
    after = " ".join(rest)
    assert document["recommendation"] in first and document["fault"]["sentence"] in first
    assert "2 January 2026, 03:04 UTC" in first
    for option in document["options"]:
        assert option["name"] in after
        assert f"{option['height_mm']['mean']:.0f} \N{PLUS-MINUS SIGN}" in after
        assert f"{option['ball_load_kg']['mean']:.0f} \N{PLUS-MINUS SIGN}" in after
    for line in (*document["remaining_choices"], *document["warnings"], *document["cautions"],
                 document["rule"]["source"], document["measure_next"]):  # fmt: skip
        assert line in after, line
    for given in (*document["inputs"], *document["sensitivities"]):
        assert given["name"] in after and given["source"] in after
    for place in document["articulation"]:
        assert place["name"] in after
    assert layout_faults(data) == []


@pytest.mark.parametrize("name", WORKED)
def test_the_side_view_is_there_as_vectors_with_every_word_and_round_wheels(name: str) -> None:
    plan = planned(sample(name))
    drawing = plan_drawing(plan)
    page = pypdfium2.PdfDocument(plan_pdf(plan, MADE))[0]
    text = " ".join(page.get_textpage().get_text_bounded().split())
    for shape in drawing.shapes:
        if isinstance(shape, Text):
            assert " ".join(shape.text.split()) in text, shape.text
    wheels = [shape for shape in drawing.shapes if isinstance(shape, Disc) and shape.fill == "#4a4a4a"]
    drawn = filled(page, (0x4A / 255,) * 3)
    assert len(drawn) == len(wheels) >= 3
    centres = [(0.5 * (left + right), 0.5 * (bottom + top)) for left, bottom, right, top in drawn]
    far = max(range(len(wheels)), key=lambda i: abs(wheels[i].centre[0] - wheels[0].centre[0]))
    scale = (centres[far][0] - centres[0][0]) / (wheels[far].centre[0] - wheels[0].centre[0])
    for box, (x, y), wheel in zip(drawn, centres, wheels, strict=True):
        assert box[2] - box[0] == pytest.approx(box[3] - box[1], abs=0.1)  # circles stay circles
        assert box[2] - box[0] == pytest.approx(2 * scale * wheel.radius, abs=1.5)  # with the line round it
        assert x - centres[0][0] == pytest.approx(scale * (wheel.centre[0] - wheels[0].centre[0]), abs=0.2)
        assert centres[0][1] - y == pytest.approx(scale * (wheel.centre[1] - wheels[0].centre[1]), abs=0.2)


def test_pages_are_a4_landscape_numbered_and_say_that_they_are_no_certificate() -> None:
    data = plan_pdf(planned(sample(WORKED[0])), MADE)
    texts = pages_text(data)
    for number, (page, text) in enumerate(zip(pypdfium2.PdfDocument(data), texts, strict=True), start=1):
        assert [side / 72 * 25.4 for side in page.get_size()] == pytest.approx([297.0, 210.0], abs=0.01)  # ISO 216
        assert words.NOT_A_CERTIFICATE in text and f"Page {number} of {len(texts)}" in text


def test_the_same_plan_gives_the_same_bytes(monkeypatch: pytest.MonkeyPatch) -> None:
    plan = planned(sample(WORKED[0]))
    data = plan_pdf(plan, MADE)
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1700000000")
    assert plan_pdf(plan, MADE) == data
    assert plan_pdf(plan, "2026-01-03T03:04:05+00:00") != data


def test_many_options_and_names_like_markup_stay_on_the_page() -> None:
    raw = sample(WORKED[0])
    first = copy.deepcopy(raw["option"][0])
    raw["option"] = [{**first, "name": f"<b>part</b> & co {i} {'long' * 14}"} for i in range(40)]
    raw["title"] = "<i>Ferncombe</i> & sons " * 3
    data = plan_pdf(planned(raw), MADE)
    assert layout_faults(data) == []
    text = " ".join(pages_text(data)[1:])
    assert all(f"<b>part</b> & co {i} " in text for i in range(40))
    assert text.count("coupled height, mm") >= 2  # the head comes again


def test_columns_without_a_figure_are_left_out() -> None:
    text = " ".join(pages_text(plan_pdf(planned(plain()), MADE)))
    assert "front axle, kg" not in text and "coupled height, mm" in text
