"""One case, one PDF: every rig once on the cover and on a page of its own, from records alone, readable anywhere."""

from __future__ import annotations

import csv
import io
import shutil
from functools import cache
from pathlib import Path

import numpy as np
import pypdfium2
import pypdfium2.raw as pdfium
import pytest
from openpyxl import load_workbook
from PIL import Image

from calib.outcome.errors import InputError
from photomeasure.asked.tape_said import TapeSaid
from photomeasure.record.schema import AskedPart, CasePart, Record, read_record
from photomeasure.record.with_tape import with_tape
from photomeasure.shown.picture.labelled import Label, belongs, kept_label, label_of
from photomeasure.shown.report.case import CaseRig, case_pdf
from photomeasure.shown.report.evidence import record_sha256
from photomeasure.shown.report.measurement import measurement_pdf
from tests.cli.test_look import run
from tests.sample_requests import SAMPLES
from tests.shown.report.samples import jpeg, layout_faults, measured, pages_text, refused

ASKED = AskedPart(
    coupling="ball-50", centres_px=[], pick_sigma_px=0.5, ball_diameter_mm=50.0, bar_x_mm=None, bar_y_mm=None,
    coupled=None, laden=None, level_ground=None, level_control=None, level_within_mm_per_m=None, rule={}, decision=None,
    camera=None, remembered={}, bay=None, monte_carlo_seed=None,
    case=CasePart(rig="Truck 2", case="26-117", by="M. Hale", place="Ferncombe", more={"registration": "FC 22 ABC"}),
)  # fmt: skip


@cache
def case() -> tuple[CaseRig, ...]:
    """A rig in every verdict, one with a tape that agrees, one with a tape that does not, one refused."""
    taped = with_tape(measured("within", indicative=False, indicative_why=[]), TapeSaid(reading_mm=412.0))
    contrary = with_tape(measured("below"), TapeSaid(reading_mm=420.0))
    records: list[Record] = [taped, contrary, measured("above"), measured("undecided"), measured("no-band"), refused()]
    return tuple(
        CaseRig(record=record.model_copy(update={"rig": f"Rig {i}", "asked": ASKED}), file=f"rig-{i}.json")
        for i, record in enumerate(records, start=1)
    )


@cache
def case_data() -> bytes:
    """Its PDF."""
    return case_pdf(case())


def test_cover_page_a_rig_and_annex_hold_what_each_promises() -> None:
    rigs = case()
    pages = pages_text(case_data())
    cover = pages[0]
    for part in ("case 26-117", "Ferncombe", "M. Hale", "6 rigs:", "412.6 mm", "not taped", "412 mm, agrees", "DISAGREES",
                 "no figure", "Cannot measure", "Too close to call", "Photograph and tape disagree", "Signature"):  # fmt: skip
        assert part in cover, part
    for number, rig in enumerate(rigs, start=1):
        page = pages[number]
        assert rig.name in page and "Name, signature" in page and "More of this on the next page" not in page
        if rig.record.rule is not None:
            assert rig.record.rule.source in page
        annex = next(text for text in pages[len(rigs) + 1 :] if f"Annex {number}: {rig.name}" in text)
        assert pages.index(annex) > len(rigs)
        assert record_sha256(rig.record) in " ".join(pages[pages.index(annex) : pages.index(annex) + 3])
    assert "FC 22 ABC" in " ".join(pages)


def test_the_page_that_the_cover_names_is_the_rigs() -> None:
    pages = pages_text(case_data())
    row = pages[0].partition("Rig 3 ")[2].partition("Rig 4")[0].split()
    assert int(row[-2]) == 4 and "Rig 3" in pages[3]  # the last word is the number of the next row


def test_layout_holds_for_long_names_and_pictures() -> None:
    long = measured(warnings=["A warning that goes on. " * 30], rig="Trailer of the yard " * 9)
    picture = [("a-height.jpg", jpeg(400, 300))]
    rigs = [CaseRig(record=long, file="a.json", pictures=picture, overviews=[jpeg(300, 400)]), *case()]
    assert layout_faults(case_pdf(rigs)) == []


@pytest.mark.parametrize("count", [12, pytest.param(40, marks=pytest.mark.slow)])
def test_many_rigs_are_all_on_the_cover(count: int) -> None:
    many = [CaseRig(record=measured(rig=f"Rig {i}"), file=f"{i}.json") for i in range(count)]
    pages = pages_text(case_pdf(many))
    last = f"Rig {count - 1}"
    assert sum("Before anything is decided" in page for page in pages) == 1 and last in " ".join(pages[:3])


def test_the_files_own_data_fonts_and_the_same_bytes_again() -> None:
    first, again = case_data(), case_pdf(case())
    assert first == again
    document = pypdfium2.PdfDocument(first)
    facts = document.get_metadata_dict()
    assert facts["Title"].startswith("Coupling heights: case 26-117") and facts["Author"] == "M. Hale"
    assert "certificate" in facts["Subject"]
    for page in document:
        for thing in page.get_objects(filter=[pdfium.FPDF_PAGEOBJ_TEXT]):
            assert pdfium.FPDFFont_GetIsEmbedded(pdfium.FPDFTextObj_GetFont(thing.raw)) == 1
    assert [item.get_title() for item in document.get_toc()][:3] == ["Cover", "Rig 1", "Rig 2"]


def test_what_somebody_typed_is_on_paper_to_the_letter() -> None:
    """A report says what its record says: nothing in it is worded anew, whatever it looks like."""
    typed = "Read it (--bar-x 150) as photomeasure measure says."
    assert typed in " ".join(pages_text(measurement_pdf(measured(warnings=[typed]), [])))


def test_a_picture_goes_in_only_where_it_shows_this_figure_in_this_photograph() -> None:
    record = measured()
    photo = record.photos[0]
    label = Label(photo=photo.sha256 or "", height_mm=record.height_mm, box=(0, 40, 320, 200))
    assert belongs(label, record, photo)
    for other in (
        Label(photo="f" * 64, height_mm=record.height_mm, box=label.box),
        Label(photo=label.photo, height_mm=412.0, box=label.box),
        Label(photo=label.photo, height_mm=None, box=label.box),
    ):
        assert not belongs(other, record, photo)
    assert label_of(jpeg()) is None


def test_a_damaged_picture_is_none_of_this_programs() -> None:
    stream = io.BytesIO()
    label = Label(photo="f" * 64, height_mm=412.0, box=(0, 40, 320, 200))
    noise = np.random.default_rng(1).integers(0, 256, (240, 320, 3), dtype=np.uint8)
    Image.fromarray(noise).save(stream, "JPEG", comment=label.text())
    data = stream.getvalue()
    assert kept_label(data) == label_of(data) == label
    for other in (data[: len(data) // 2], data.replace(b"[0, 40", b"[400, 0"), data.replace(b"412.0", b"[" * 5)):
        assert kept_label(other) is None


@pytest.fixture(scope="module")
def records(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("case")
    (place / "yard").mkdir()
    for name in ("coupled", "refuse"):
        shutil.copy(SAMPLES / f"{name}.jpg", place / "yard")
    common = ("--bar-x", "150", "--bar-y", "150", "--case", "=1+1", "--pictures", "--jobs", "1")
    assert run("batch", place / "yard", "--out", place / "records", *common)[0] == 3
    return place / "records"


def test_the_command_finds_pictures_and_photographs_and_does_without(records: Path, tmp_path: Path) -> None:
    files = sorted(records.glob("*.json"))
    code, said, _ = run("report", *files, "--out", tmp_path / "case.pdf", "--photos", records.parent / "yard")
    assert code == 0 and "Without a picture" not in said
    data = (tmp_path / "case.pdf").read_bytes()
    images = [len(list(page.get_objects(filter=[pdfium.FPDF_PAGEOBJ_IMAGE]))) for page in pypdfium2.PdfDocument(data)]
    assert images[1] >= 2 and images[2] >= 2  # each rig's picture and its whole photograph
    assert layout_faults(data) == []
    alone = tmp_path / "alone" / "deep"
    alone.mkdir(parents=True)
    for file in files:
        alone.joinpath(file.name).write_text(
            file.read_text().replace('"file": "', '"file": "no such '), encoding="utf-8"
        )
    code, said, _ = run("report", *sorted(alone.glob("*.json")), "--out", tmp_path / "bare.pdf")
    assert code == 0 and "Without a picture, as neither picture nor photograph was at hand: coupled, refuse." in said
    assert len(pages_text((tmp_path / "bare.pdf").read_bytes())) >= 3


def test_tables_hold_the_same_in_both_forms_and_no_formula(records: Path, tmp_path: Path) -> None:
    files = sorted(records.glob("*.json"))
    assert run("report", *files, "--csv", tmp_path / "case.csv", "--xlsx", tmp_path / "case.xlsx")[0] == 0
    rows = list(csv.DictReader(io.StringIO((tmp_path / "case.csv").read_text(encoding="utf-8"))))
    sheet = load_workbook(tmp_path / "case.xlsx").active
    assert sheet is not None
    names = [cell.value for cell in sheet[1]]
    for number, row in enumerate(rows, start=2):
        for name, cell in zip(names, sheet[number], strict=True):
            assert cell.data_type != "f"
            if name.endswith("_mm") and row[name]:
                assert cell.value == float(row[name])
    record = read_record(records / "coupled.json")
    assert record.interval_mm is not None
    assert float(rows[0]["interval_low_mm"]) == pytest.approx(record.interval_mm[0], abs=1e-3)


def test_what_cannot_be_done_is_told(records: Path, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="Nothing to write"):
        run("report", records / "coupled.json")
    with pytest.raises(InputError, match="no record"):
        run("report", SAMPLES / "coupled.toml", "--out", tmp_path / "case.pdf")
    with pytest.raises(InputError, match="read as an input"):
        run("report", records / "coupled.json", "--out", records / "coupled.json")
