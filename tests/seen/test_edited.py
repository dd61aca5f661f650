"""Pictures that an editor changed: refused, told, or inside the interval. The samples are path-traced with exact truth."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import ExifTags, Image

from calib.finding.moved_part import CODES_CELLS, LEAST_MISSING, moved_part_cells
from calib.finding.sheets import Finding, FoundSheet, find_sheets
from calib.outcome.refusal import Refusal
from photomeasure.asked.bars import Bars
from photomeasure.asked.request import Request
from photomeasure.asked.state import State
from photomeasure.pipeline import Result, measure
from photomeasure.rules.load import default_rule
from photomeasure.seen import seams
from photomeasure.seen.camera_by_exif import camera_prior, off_proportions
from photomeasure.seen.image import Photo, load
from photomeasure.seen.look import Refused
from photomeasure.seen.seams import seam_column, seam_row

SAMPLES = Path(__file__).resolve().parents[2] / "sample_images"
Picture = NDArray[np.uint8]
Edit = Callable[[Picture], Picture]


def _warped(picture: Picture, matrix: NDArray[np.float64]) -> Picture:
    size = (picture.shape[1], picture.shape[0])
    edited = cv2.warpPerspective(picture, matrix, size, flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(edited, dtype=np.uint8)


def sheared(share: float) -> Edit:
    """Rows moved sideways in proportion to their height."""
    return lambda picture: _warped(
        picture, np.array([[1.0, share, -share * picture.shape[0] / 2], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
    )


def straightened(share: float) -> Edit:
    """The upper edge drawn out by a share of the width, as editors do to make walls upright."""

    def edit(picture: Picture) -> Picture:
        height, width = picture.shape[:2]
        inset = share * width / 2
        to = np.array([[0, 0], [width, 0], [width, height], [0, height]], dtype=np.float32)
        of = np.array([[inset, 0], [width - inset, 0], [width, height], [0, height]], dtype=np.float32)
        return _warped(picture, np.asarray(cv2.getPerspectiveTransform(of, to), dtype=np.float64))

    return edit


def stretched(share: float) -> Edit:
    """Higher by a share, as wide as before."""

    def edit(picture: Picture) -> Picture:
        height, width = picture.shape[:2]
        return np.asarray(cv2.resize(picture, (width, round(height * (1 + share))), interpolation=cv2.INTER_CUBIC))

    return edit


def measured(folder: Path, name: str, edit: Edit, *files: str) -> tuple[Result | Refused, float]:
    paths = []  # in grey, which is what is measured in, and edited and saved in a third of the time
    for file in files or (f"{name}.jpg",):
        source = Image.open(SAMPLES / file)
        path = folder / file
        Image.fromarray(edit(np.asarray(source.convert("L")))).save(path, quality=93, exif=source.getexif())
        paths.append(path)
    truth = tomllib.loads((SAMPLES / f"{name}.toml").read_text(encoding="utf-8"))
    request = Request(
        photos=tuple(paths),
        rule=default_rule("ball-50"),
        bars=Bars(x_mm=150.0, y_mm=150.0),
        state=State(coupled=truth["coupled"], laden=True, level_ground=True),
    )
    # the rule's own confidence would make every verdict indicative
    request = replace(request, rule=request.rule.model_copy(update={"confidence": "read"}))
    return measure(request), float(truth["height_mm"])


@pytest.mark.parametrize("share", [0.01, *(pytest.param(share, marks=pytest.mark.slow) for share in (0.02, -0.03))])
def test_a_sheared_picture_gives_no_sure_verdict(share: float, tmp_path: Path) -> None:
    """Before, 11 mm off by U 4.3 at 0.02, and not even indicative."""
    outcome, _ = measured(tmp_path, "coupled", sheared(share))
    assert isinstance(outcome, Refused) or (outcome.doubts and outcome.warnings)


@pytest.mark.parametrize("share", [0.05, *(pytest.param(share, marks=pytest.mark.slow) for share in (0.1, 0.15))])
def test_a_straightened_picture_gives_no_sure_verdict(share: float, tmp_path: Path) -> None:
    """Before, 7 to 15 mm off by U 4.7 to 5.3, sure at 0.15 with four warnings."""
    outcome, _ = measured(tmp_path, "coupled", straightened(share))
    assert isinstance(outcome, Refused) or (outcome.doubts and outcome.warnings)


@pytest.mark.parametrize("count", [2, pytest.param(3, marks=pytest.mark.slow)])
def test_photographs_edited_alike_give_no_sure_verdict(count: int, tmp_path: Path) -> None:
    """Before, 11 mm off by U 0.9 by three."""
    outcome, _ = measured(tmp_path, "set", straightened(0.08), *[f"set-{k + 1}.jpg" for k in range(count)])
    assert isinstance(outcome, Refused) or (outcome.doubts and outcome.warnings)


@pytest.mark.parametrize(
    ("name", "share"),
    [("within", 0.006), ("coupled", -0.02)]
    + [
        pytest.param(*other, marks=pytest.mark.slow)
        for other in (("within", 0.01), ("within", -0.02), ("coupled", 0.006), ("coupled", 0.01))
    ],
)
def test_a_picture_stretched_by_a_little_is_inside(name: str, share: float, tmp_path: Path) -> None:
    """Its proportions are no camera's: how far it may have been stretched is in the interval."""
    outcome, height_mm = measured(tmp_path, name, stretched(share))
    assert isinstance(outcome, Result)
    assert abs(outcome.expanded.height_mm - height_mm) < outcome.expanded.U_mm


@pytest.mark.parametrize(
    ("size_px", "off"),
    [((4000, 3000), 0.0), ((3072, 4080), 0.0), ((4640, 3472), 0.0), ((1600, 1200), 0.0), ((4000, 2250), 0.0),
     ((4000, 3030), 0.00995), ((2600, 3000), 0.0)],
)  # fmt: skip
def test_proportions_of_cameras_are_left_in_peace(size_px: tuple[int, int], off: float) -> None:
    assert off_proportions(size_px) == pytest.approx(off, abs=1e-4)


def test_a_ball_and_a_tag_of_different_photographs_must_be_as_high(tmp_path: Path) -> None:
    """Two rigs, one photograph each: the tag was reported as if the other photograph had shown nothing."""
    outcome = measure(
        Request(
            photos=(SAMPLES / "within.jpg", SAMPLES / "coupled.jpg"),
            rule=default_rule("ball-50"),
            bars=Bars(x_mm=150.0, y_mm=150.0),
            state=State(laden=True, level_ground=True),
        )
    )
    assert isinstance(outcome, Result)
    whys = " ".join(outcome.verdict.indicative_why)
    assert "in another photograph" in whys and "taken hours apart" in whys


def without_rows(lost: int, at: float) -> Edit:
    """Rows of the stored picture lost, as where a damaged file's decoder goes on with the next blocks."""

    def edit(picture: Picture) -> Picture:
        row = 16 * round(at * len(picture) / 16)
        return np.vstack([picture[:row], picture[row + lost :]])

    return edit


def shifted_below(by_px: int, at: float) -> Edit:
    """Everything below a row moved sideways, as where blocks were lost in the middle of a row."""

    def edit(picture: Picture) -> Picture:
        row = 16 * round(at * len(picture) / 16)
        return np.vstack([picture[:row], np.roll(picture[row:], by_px, axis=1)])

    return edit


@pytest.mark.parametrize(
    ("name", "edit", "refused"),
    [
        ("within", without_rows(16, 0.5), "ball-not-found"),  # the break goes through the ball, or the tag
        ("above", without_rows(16, 0.45), None),
        pytest.param("coupled", without_rows(16, 0.5), "no-centre", marks=pytest.mark.slow),
        pytest.param("close-call", without_rows(32, 0.5), None, marks=pytest.mark.slow),
        ("within", shifted_below(64, 0.52), None),
    ],
)
def test_rows_that_are_missing_beside_the_sheet_are_told(
    name: str, edit: Edit, refused: str | None, tmp_path: Path
) -> None:
    """Before, 11 mm off by U 1.1, sure and nothing said."""
    outcome, _ = measured(tmp_path, name, edit)
    if refused is not None:
        assert isinstance(outcome, Refused) and outcome.refusal.code == refused
        return
    assert isinstance(outcome, Result)
    assert outcome.doubts
    assert any("breaks along a line" in sentence for sentence in outcome.warnings)


@pytest.mark.parametrize(
    "name", ["within", "above", "close-call", "coupled", "chat", "pair-before", "set-1", "set-2", "refuse"]
)
def test_whole_photographs_do_not_break(name: str) -> None:
    """False alarms on real ones: `tests/experiments/seam_study.md`."""
    photo = load(SAMPLES / f"{name}.jpg")
    assert isinstance(photo, Photo) and photo.breaks_at is None


@pytest.mark.parametrize("lost", [0, 8, 32])
def test_rows_that_are_left_out_could_not_have_broken(lost: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """The same row, or none, as when every row is looked at with all that it is held against."""
    grey = np.asarray(Image.open(SAMPLES / "within.jpg").convert("L").reduce(2), dtype=np.uint8)
    broken = np.vstack([grey[:600], grey[600 + lost :]])
    few = seam_row(broken)
    monkeypatch.setattr(
        seams, "_rows_to_look_at", lambda grey: np.arange(seams.MARGIN, len(grey) - seams.MARGIN, seams.BLOCK)
    )
    assert seam_row(broken) == few
    assert few == {0: None, 8: few, 32: 600}[lost]


def test_a_screenshots_frame_is_no_break() -> None:
    """Bars of one colour above and below a photograph, with signs in them."""
    photo = np.asarray(Image.open(SAMPLES / "within.jpg").convert("L").resize((1080, 810)), dtype=np.uint8)
    shot = np.full((1920, 1080), 20, np.uint8)
    shot[560:1370] = photo
    cv2.putText(shot, "12:34", (40, 60), cv2.FONT_HERSHEY_SIMPLEX, 1.5, 255, 3)
    assert seam_row(shot) is None


def test_a_panorama_is_refused(tmp_path: Path) -> None:
    source = Image.open(SAMPLES / "within.jpg")
    exif = source.getexif()
    exif.get_ifd(ExifTags.IFD.Exif)[ExifTags.Base.CustomRendered] = 6
    source.save(tmp_path / "wide.jpg", quality=90, exif=exif)
    source.save(tmp_path / "other.jpg", quality=90, xmp=b'<x GPano:ProjectionType="cylindrical"/>')
    for name in ("wide.jpg", "other.jpg"):
        photo = load(tmp_path / name)
        assert isinstance(photo, Photo)
        refused = camera_prior(photo.size_px, photo.facts)
        assert isinstance(refused, Refusal) and refused.code == "panorama"


def moved_right_of(by_px: int, at: float) -> Edit:
    """Everything right of a column moved down, as where a picture was put together from two."""

    def edit(picture: Picture) -> Picture:
        column = round(at * picture.shape[1])
        return np.hstack([picture[:, :column], np.roll(picture[:, column:], by_px, axis=0)])

    return edit


@pytest.mark.parametrize(
    ("name", "by_px", "at"),
    [
        ("above", 12, 0.4),
        *(pytest.param(*other, marks=pytest.mark.slow) for other in (("within", 16, 0.53), ("coupled", -16, 0.57))),
    ],
)
def test_a_picture_put_together_along_a_column_is_told(name: str, by_px: int, at: float, tmp_path: Path) -> None:
    outcome, _ = measured(tmp_path, name, moved_right_of(by_px, at))
    if isinstance(outcome, Refused):
        return
    assert outcome.doubts
    assert any("breaks along an upright line" in sentence for sentence in outcome.warnings)


def test_a_wall_that_ends_upright_is_no_break() -> None:
    """Sharp within a column of pixels and upright to the pixel, over half the picture's height only."""
    rng = np.random.default_rng(1)
    yard = rng.normal(120.0, 12.0, (1600, 2000))
    yard[:800, 700:] += 50.0
    assert seam_column(np.clip(yard, 0, 255).astype(np.uint8)) is None


def test_a_sheet_of_which_a_part_was_moved_is_doubted(tmp_path: Path) -> None:
    """A strip of the sheet 6 px aside with its edges blended: no line to be seen, but corners that lie off together."""

    def edit(picture: Picture) -> Picture:
        edited, blended = np.roll(picture, 6, axis=1), slice(1900, 1960)
        share = (np.arange(60) / 60.0)[:, None]
        edited[blended] = np.rint((1.0 - share) * picture[blended] + share * edited[blended])
        edited[:1900] = picture[:1900]
        return edited

    outcome, height_mm = measured(tmp_path, "within", edit)
    assert isinstance(outcome, Refused) or outcome.doubts
    untouched, _ = measured(tmp_path, "within", lambda picture: picture)
    assert isinstance(untouched, Result) and untouched.doubts == () and height_mm == 402.0


@pytest.mark.parametrize(("ratio", "said"), [(2.1, False), (2.6, True)])
def test_longer_than_a_cameras_picture_is_told(ratio: float, said: bool, tmp_path: Path) -> None:
    """A strip cut from a photograph, or a panorama without a word in its file."""
    outcome, _ = measured(tmp_path, "within", lambda picture: picture[700 : 700 + round(4000 / ratio)])
    assert isinstance(outcome, Result)
    assert any("times as long as it is wide" in sentence for sentence in outcome.warnings) is said
    assert bool(outcome.doubts) or not said


def put_together(down_px: int, column: float, *, blend_px: int = 40) -> Edit:
    """What is right of a column moved down, as by a stitching program; over `blend_px` the one goes over into the other."""

    def edit(picture: Picture) -> Picture:
        moved = np.vstack([picture[:1].repeat(down_px, axis=0), picture[:-down_px]])
        share = np.clip((np.arange(picture.shape[1]) - column) / blend_px + 0.5, 0.0, 1.0)[None, :]
        return np.rint((1.0 - share) * picture + share * moved).astype(np.uint8)

    return edit


def upright_of(path: Path) -> FoundSheet:
    photo = load(path)
    assert isinstance(photo, Photo)
    found = find_sheets(photo.grey)
    assert isinstance(found, Finding)
    upright = found.of_role("upright")
    assert upright is not None
    return upright


@pytest.mark.parametrize("aside_px", [0, *(pytest.param(px, marks=pytest.mark.slow) for px in (-60, 40))])
def test_a_seam_through_the_sheet_is_told(aside_px: int, tmp_path: Path) -> None:
    """Squares beyond it are not found, nor is the code that it runs through, and before nothing was said: up to 20 mm off by U 3."""
    column = float(upright_of(SAMPLES / "close-call.jpg").points_px[:, 0].mean())
    outcome, _ = measured(tmp_path, "close-call", put_together(20, column + aside_px))
    assert isinstance(outcome, Result)
    (view,) = outcome.views
    assert view.moved_cells == pytest.approx(20 / view.finding.sheets[0].cell_px, abs=0.2)
    assert any("does not lie where the other says" in doubt.why for doubt in outcome.doubts)


@pytest.mark.slow  # told where more squares are beyond it: above
def test_a_seam_at_the_end_of_the_sheet_hides_few_squares_and_does_no_harm(tmp_path: Path) -> None:
    """Six squares are too few to be looked for; what is left of the sheet tells the height as before."""
    column = float(upright_of(SAMPLES / "close-call.jpg").points_px[:, 0].mean())
    outcome, _ = measured(tmp_path, "close-call", put_together(20, column + 60))
    whole, _ = measured(tmp_path, "close-call", lambda picture: picture)
    assert isinstance(outcome, Result) and isinstance(whole, Result)
    assert abs(outcome.estimate.height_mm - whole.estimate.height_mm) < 0.25 * whole.expanded.U_mm


def test_a_code_a_quarter_of_a_square_aside_tells() -> None:
    """All squares found, as where a blend lies between two of them; an eighth is how well a small code is read."""
    seen = upright_of(SAMPLES / "close-call.jpg")
    grey = np.zeros((10, 10), np.uint8)
    for cells, told in ((0.25, 0.25), (0.08, 0.0)):
        aside = np.array([0.0, cells * seen.cell_px])
        last = replace(seen.codes[-1], corners_px=seen.codes[-1].corners_px + aside)
        moved = moved_part_cells(grey, replace(seen, codes=(*seen.codes[:-1], last)))
        assert moved == pytest.approx(told, abs=0.06)


@pytest.mark.parametrize("name", ["within", "close-call", "chat", "coupled"])
def test_codes_of_whole_pictures_lie_in_their_places(name: str) -> None:
    """To a tenth of a square, two thirds of what is told; none astray."""
    seen = upright_of(SAMPLES / f"{name}.jpg")
    assert len(seen.codes) > 1 and not seen.astray
    assert seen.codes_off_cells.max() < 0.1 < CODES_CELLS


@pytest.mark.parametrize("hidden", ["dark", "striped", "shadow", "ground"])
def test_what_hides_a_part_of_the_sheet_did_not_move_it(hidden: str) -> None:
    """A post, a grating, a shadow or the ground beside it over a half of the sheet."""
    photo = load(SAMPLES / "close-call.jpg")
    assert isinstance(photo, Photo)
    grey, whole = photo.grey.copy(), upright_of(SAMPLES / "close-call.jpg")
    (x0, y0), (x1, y1) = whole.points_px.min(axis=0).astype(int) - 30, whole.points_px.max(axis=0).astype(int) + 30
    x0 = (x0 + x1) // 2
    part = grey[y0:y1, x0:x1]
    striped = np.broadcast_to(np.where(np.arange(x1 - x0) // 30 % 2 == 0, 200, 40), part.shape)
    hiding = {
        "dark": np.full_like(part, 40),
        "striped": striped,
        "shadow": part // 5,
        "ground": grey[-(y1 - y0) :, x0:x1],
    }
    grey[y0:y1, x0:x1] = hiding[hidden]
    found = find_sheets(grey)
    assert isinstance(found, Finding)
    assert hidden == "shadow" or len(whole.index) - len(found.sheets[0].index) >= LEAST_MISSING
    assert moved_part_cells(grey, found.sheets[0]) == 0.0
