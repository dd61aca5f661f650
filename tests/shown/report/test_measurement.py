"""The measurement's report, read back by another library (pdfium): content, sums, drawings to scale, layout."""

from __future__ import annotations

import re
from itertools import pairwise

import pypdfium2
import pypdfium2.raw as pdfium
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from calib.drawing.colours import INK
from photomeasure.asked.tape_said import TapeSaid
from photomeasure.record.cautions import CAUTIONS
from photomeasure.record.schema import MonteCarloPart, PhotoPart, Record, VerdictWord
from photomeasure.record.with_tape import with_tape
from photomeasure.shown import words
from photomeasure.shown.look import BAND_PALE
from photomeasure.shown.report.evidence import record_sha256
from photomeasure.shown.report.measurement import measurement_pdf
from photomeasure.shown.report.style import BAR
from tests.shown.report.samples import (
    HEIGHTS,
    RULE,
    filled,
    jpeg,
    layout_faults,
    measured,
    pages_text,
    refused,
)

PICTURES = [("truck-2-1-height.jpg", jpeg(seed=1)), ("truck-2-2-height.jpg", jpeg(400, 300, seed=2))]
PLUS_MINUS = "\N{PLUS-MINUS SIGN}"
LONG = "Ferncombe" * 40


def text_of(record: Record) -> str:
    return " ".join(pages_text(measurement_pdf(record, PICTURES)))


def test_first_page_holds_what_a_reader_needs_at_a_glance() -> None:
    record = measured()
    first = pages_text(measurement_pdf(record, PICTURES))[0]
    for part in ("412.6 mm", f"{PLUS_MINUS} 3.0 mm", "409.6 to 415.6 mm", "Within the band", "indicative", "350 mm",
                 "460 mm", RULE.title, RULE.source, RULE.edition, "secondary: somebody's statement", RULE.decision,
                 "= 3.0 mm", record.indicative_why[0], record.advice[0], record.warnings[0], "trailer connected",
                 "whether laden: not stated", "Tape reads, mm", "Name, signature", "Measured from", "Measured up to",
                 "2 January 2026, 03:04 UTC", *record.confirm):  # fmt: skip
        assert part in first, part


def test_following_pages_hold_what_the_figure_rests_on() -> None:
    record = measured()
    text = " ".join(pages_text(measurement_pdf(record, PICTURES))[1:])
    parts = ["u = 1.480 mm", "U = 2.96 mm", "coverage 95 %", "98.8 %", "centre tag", "(2000.2, 1000.5) px",
             "photograph 2: not seen", "Tag and pick agree.", "EXIF: 26 mm-equivalent", "2890.4 px", "1" * 64, "2" * 64,
             "truck-2-1.jpg", "4000 x 3000", record_sha256(record), "photomeasure 0.0", *record.coach,
             *CAUTIONS]  # fmt: skip
    for row in record.inputs:
        parts += [row.quantity, f"{row.value:g}", row.distribution, row.source, f"{row.height_u_mm:+.3f}"]
    for part in parts:
        assert part in text, part


def test_digest_is_that_of_the_file_that_is_written(tmp_path) -> None:  # type: ignore[no-untyped-def]
    import hashlib

    from calib.outcome.files import write_atomic

    record = measured()
    write_atomic(tmp_path / "record.json", record.to_json())
    digest = hashlib.sha256((tmp_path / "record.json").read_bytes()).hexdigest()
    assert digest in text_of(record)


def budget_rows(text: str) -> list[tuple[float, float, float]]:
    """u in mm, its square and the share in per cent, of each row and of the sum, as they are printed."""
    found = re.findall(r"(\d+\.\d{3}) (\d+\.\d{4}) (\d+\.\d) %", text)
    return [(float(u), float(square), float(share)) for u, square, share in found]


@pytest.mark.parametrize("rows", [1, 9, 200])
def test_every_row_of_the_budget_is_printed_and_they_add_up(rows: int) -> None:
    record = measured(rows=rows)
    text = text_of(record)
    *printed, (u_mm, square, share) = budget_rows(text)
    assert len(printed) == rows
    for row, (row_u_mm, row_square, row_share) in zip(record.budget, printed, strict=True):
        assert row.quantity in text
        assert row_u_mm == pytest.approx(row.u_mm, abs=0.00051)  # half a unit of the last printed digit
        assert row_square == pytest.approx(row.u_mm**2, abs=0.000051)
        assert row_share == pytest.approx(100 * row.share, abs=0.051)
    assert u_mm == pytest.approx(record.u_mm, abs=0.00051) and share == 100.0
    assert sum(row[1] for row in printed) == pytest.approx(square, abs=0.00005 * (rows + 1))
    assert sum(row[2] for row in printed) == pytest.approx(100.0, abs=0.05 * rows)


def test_a_budget_that_does_not_add_up_to_the_stated_u_is_said() -> None:
    assert "does not add up" not in text_of(measured())
    assert "it does not add up, so do not rely on it" in text_of(measured(u_mm=1.48, budget=measured(u_mm=1.2).budget))


def test_a_monte_carlo_result_that_took_over_is_set_against_the_budget() -> None:
    check = MonteCarloPart(trials=4000, height_mm=412.6, u_mm=1.6, interval_mm=(409.4, 415.9), reported=True,
                           sentence="Monte Carlo (4000 draws) differs and is the one reported.")  # fmt: skip
    text = text_of(measured(u_mm=1.6, budget=measured(u_mm=1.48).budget, monte_carlo=check))
    assert check.sentence in text and "does not add up" not in text
    assert "u = 1.480 mm (first order). Reported is the Monte Carlo result, u = 1.600 mm" in text


def test_pictures_go_in_byte_for_byte() -> None:
    data = measurement_pdf(measured(), PICTURES)
    images = [
        image for page in pypdfium2.PdfDocument(data) for image in page.get_objects(filter=[pdfium.FPDF_PAGEOBJ_IMAGE])
    ]
    assert [image.get_filters() for image in images] == [["DCTDecode"]] * 2
    assert [bytes(image.get_data(decode_simple=False)) for image in images] == [picture for _, picture in PICTURES]


def test_the_same_record_gives_the_same_bytes_and_the_date_is_the_records(monkeypatch: pytest.MonkeyPatch) -> None:
    data = measurement_pdf(measured(), PICTURES)
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1700000000")
    monkeypatch.setenv("TZ", "Pacific/Auckland")
    assert measurement_pdf(measured(), PICTURES) == data
    date = pypdfium2.PdfDocument(data).get_metadata_value("CreationDate")
    assert date.startswith("D:20260102030405")  # ISO 32000-1 7.9.4: D:YYYYMMDDHHmmSS
    later = measurement_pdf(measured(computed="2026-01-02T16:04:05+13:00"), PICTURES)
    assert pypdfium2.PdfDocument(later).get_metadata_value("CreationDate") == date


def test_a_date_that_is_none_is_printed_as_it_is() -> None:
    assert "computed some day in May" in text_of(measured(computed="some day in May"))


@pytest.mark.parametrize("verdict", ["within", "above", "below", "undecided", "no-band"])
def test_every_verdict_has_its_own_words_and_a_sound_layout(verdict: VerdictWord) -> None:
    data = measurement_pdf(measured(verdict), PICTURES)
    text = " ".join(pages_text(data))
    assert words.TITLES[verdict] in text and f"{HEIGHTS[verdict]:.1f} mm" in text
    assert not any(title in text for other, title in words.TITLES.items() if other != verdict)
    assert layout_faults(data) == []


@pytest.mark.parametrize("verdict", ["within", "above", "below", "undecided"])
def test_the_scale_is_true_to_scale(verdict: VerdictWord) -> None:
    record = measured(verdict)
    page = pypdfium2.PdfDocument(measurement_pdf(record, PICTURES))[0]
    (left, _, right, _), *_ = filled(page, BAND_PALE)
    height_pt = 2.2 / 25.4 * 72
    (low, _, high, _), *_ = [box for box in filled(page, INK) if box[3] - box[1] == pytest.approx(height_pt, abs=0.1)]
    per_mm = (right - left) / 110.0  # the band of 350 to 460 mm
    assert record.interval_mm is not None
    assert 350.0 + (low - left) / per_mm == pytest.approx(record.interval_mm[0], abs=0.25)
    assert 350.0 + (high - left) / per_mm == pytest.approx(record.interval_mm[1], abs=0.25)


def test_bars_are_as_long_as_their_shares() -> None:
    record = measured()
    page = pypdfium2.PdfDocument(measurement_pdf(record, PICTURES))[1]
    lengths = [right - left for left, _, right, _ in filled(page, BAR)]
    assert len(lengths) == len(record.budget)
    for length, row in zip(lengths, record.budget, strict=True):
        assert length / lengths[0] == pytest.approx(row.share / record.budget[0].share, abs=0.005)


def test_pages_are_a4_numbered_and_say_that_they_are_no_certificate() -> None:
    data = measurement_pdf(measured(rows=200), PICTURES)
    for page in pypdfium2.PdfDocument(data):
        sides = [side / 72 * 25.4 for side in page.get_size()]
        assert sides == pytest.approx([210.0, 297.0], abs=0.01)  # ISO 216
    texts = pages_text(data)
    assert len(texts) > 4
    for number, text in enumerate(texts, start=1):
        assert words.NOT_A_CERTIFICATE in text and f"Page {number} of {len(texts)}" in text


def test_a_long_table_keeps_its_head_and_its_order_over_the_pages() -> None:
    texts = pages_text(measurement_pdf(measured(rows=200), PICTURES))
    holding = [text for text in texts[1:] if "quantity number" in text]
    assert len(holding) >= 4 and all("input quantity u, mm" in text for text in holding)
    numbers = [int(number) for number in re.findall(r"quantity number (\d+) \d", " ".join(texts[1:]))]
    assert numbers == list(range(1, 201)) and all(a < b for a, b in pairwise(numbers))


def test_crowded_records_do_not_overlap_and_keep_the_tape_box_on_the_first_page() -> None:
    many = [f"Sentence {i} of a record that says far more than a page holds, and then some more." for i in range(30)]
    photos = [PhotoPart(file=f"{LONG}-{i}.jpg", sha256="f" * 64) for i in range(12)]
    record = measured(
        rows=200, advice=many, indicative_why=many, warnings=[*many, LONG], coach=many, photos=photos,
        rule=RULE.model_copy(update={"title": LONG, "source": f"{LONG} " * 4, "edition": LONG}),
    )  # fmt: skip
    data = measurement_pdf(record, PICTURES)
    assert layout_faults(data) == []
    texts = pages_text(data)
    assert "Name, signature" in texts[0] and "next page" in texts[0]
    said = " ".join(texts)
    assert all(
        said.count(sentence) == 3 for sentence in many
    )  # advice, why, coach; a note that is a reason is said once
    assert "What to do next" in texts[0] and "What to do next" in texts[1]  # begun beside the picture, then continued


@pytest.mark.parametrize("pictures", [[], PICTURES[:1], [("tall.jpg", jpeg(120, 700))], [("wide.jpg", jpeg(700, 120))]])
def test_any_shape_of_picture_or_none_fits(pictures: list[tuple[str, bytes]]) -> None:
    data = measurement_pdf(measured(), pictures)
    assert layout_faults(data) == []
    first = pages_text(data)[0]
    assert "Name, signature" in first and "412.6 mm" in first


def test_a_refusal_is_one_page_with_reason_remedy_and_picture() -> None:
    record = refused()
    assert record.refusal is not None
    data = measurement_pdf(record, PICTURES[:1])
    (text,) = pages_text(data)
    for part in ("Cannot measure", record.refusal.reason, record.refusal.remedy, "Until then, measure with a tape",
                 "1" * 20, "truck-2-1.jpg", RULE.title, words.NOT_A_CERTIFICATE, "Page 1 of 1", *CAUTIONS):  # fmt: skip
        assert part in text, part
    assert PICTURES[0][1] in data
    assert not re.search(r"\d mm \N{PLUS-MINUS SIGN}|95 %|probability", text)
    assert layout_faults(data) == []


def test_a_refusal_of_a_file_that_cannot_be_read_has_no_picture() -> None:
    record = refused("The file is cut off.", photos=[PhotoPart(file="cut.jpg")])
    (text,) = pages_text(measurement_pdf(record, []))
    assert "cut.jpg" in text and "could not be read" in text


def test_a_tape_reading_takes_the_place_of_the_empty_line() -> None:
    # ISO 13528 (from memory): En = (x - X) / sqrt(U_x^2 + U_X^2)
    record = with_tape(measured(), TapeSaid(reading_mm=420.0))
    assert record.tape is not None and record.U_mm is not None and record.height_mm is not None
    en = (record.height_mm - 420.0) / (record.U_mm**2 + (2 * record.tape.u_mm) ** 2) ** 0.5
    first = pages_text(measurement_pdf(record, PICTURES))[0]
    assert "420 mm" in first and f"(En): {en:.2f}" in first and "7.4 mm less than the tape" in first
    assert record.tape.sentence in first and "Tape reads, mm" not in first and "Name, signature" in first


def test_names_are_text_and_never_markup() -> None:
    odd = '<b>bold</b> & <img src="file:///etc/hostname"/> </para>'
    record = measured(warnings=[odd], photos=[PhotoPart(file="\u5199\u771f <1>.jpg", sha256="a" * 64)])
    text = text_of(record)
    assert odd in text and "?? <1>.jpg" in text


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(said=st.text(max_size=400), low=st.floats(50, 900), wide=st.floats(0.5, 900), height=st.floats(50, 2000),
       u_mm=st.floats(0.01, 200))  # fmt: skip
def test_any_text_and_any_figures_make_a_sound_report(
    said: str, low: float, wide: float, height: float, u_mm: float
) -> None:
    rule = RULE.model_copy(update={"title": said, "low_mm": low, "high_mm": low + wide, "guard_band_mm": 2 * u_mm})
    record = measured(
        rule=rule, sentence=said, warnings=[said], height_mm=height, u_mm=u_mm, U_mm=2 * u_mm,
        interval_mm=(height - 2 * u_mm, height + 2 * u_mm), photos=[PhotoPart(file=said)],
    )  # fmt: skip
    made = measurement_pdf(record, PICTURES[:1])
    assert made.startswith(b"%PDF")
    assert layout_faults(made) == []
