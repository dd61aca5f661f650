"""`photomeasure calibrate` from files to files: the shipped kit as it comes out of the PDF, and real photographs."""

from __future__ import annotations

import io
import json
import os
import re
import subprocess
import sys
from collections.abc import Sequence
from contextlib import redirect_stdout
from dataclasses import replace
from functools import cache
from pathlib import Path

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from calib.calibration.calibrate import Calibration, calibrate
from calib.kit.kit import kit
from calib.kit.sheets import target_pdf
from calib.outcome.errors import InputError
from calib.profile.load import load_profile
from photomeasure.commands.calibrate import CalibrateOptions, run
from photomeasure.scene.scene import CameraPrior
from photomeasure.seen.board_photos import KitSheet
from photomeasure.seen.calibrated import unmeasured_bars
from photomeasure.seen.camera_for import camera_for
from photomeasure.seen.image import Photo, load
from tests.calib.calibration.test_print_ratio import stretched_views
from tests.calib.finding.board_views import SHORT
from tests.calib.opencv_doc import opencv_doc
from tests.scenes.printed import PrintedSheet, sheet_texture

SIZE_PX = (1600, 1200)
BARS_MM = kit("a4").upright.bars_mm
CAMERA = np.array([1180.0, 1180.0, 806.0, 594.0, 0.05, -0.09, 0.0, 0.0, 0.0])


@cache
def kit_sheet() -> PrintedSheet:
    return sheet_texture(target_pdf(kit("a4")), kit("a4").upright.page, px_per_mm=8.0)


@pytest.fixture(scope="module")
def sheet() -> PrintedSheet:
    return kit_sheet()


@cache
def rays() -> NDArray[np.float64]:  # (h * w, 3)
    """The ray of every pixel of CAMERA, by OpenCV's undistortPoints."""
    columns, rows = np.meshgrid(np.arange(SIZE_PX[0], dtype=np.float64), np.arange(SIZE_PX[1], dtype=np.float64))
    matrix = np.array([[CAMERA[0], 0, CAMERA[2]], [0, CAMERA[1], CAMERA[3]], [0, 0, 1]])
    pixels = np.column_stack([columns.ravel(), rows.ravel()])
    plane = cv2.undistortPoints(pixels, matrix, CAMERA[4:]).reshape(-1, 2)
    return np.column_stack([plane, np.ones(len(plane))])


def photograph(
    sheet: PrintedSheet, turn_deg: tuple[float, float, float], distance_mm: float, noise: int
) -> NDArray[np.uint8]:
    """The page seen through CAMERA: each pixel's ray meets the page's plane; softened, with a little noise on top."""
    rotation = np.eye(3)
    for axis, angle in zip(np.eye(3), np.deg2rad(turn_deg), strict=True):
        rotation = cv2.Rodrigues(axis * angle)[0] @ rotation
    width, height = sheet.size_mm
    corner = np.array([0, 0, distance_mm]) - rotation[:, 0] * width / 2 - rotation[:, 1] * height / 2
    page = (rays() * ((corner @ rotation[:, 2]) / (rays() @ rotation[:, 2]))[:, None] - corner) @ rotation[:, :2]
    texel = (page / np.array(sheet.mm_per_texel) - 0.5).astype(np.float32).reshape(SIZE_PX[1], SIZE_PX[0], 2)
    soft = cv2.GaussianBlur(sheet.texture, (0, 0), 2.5)  # a pixel is some 2 to 3 texels wide
    seen = cv2.remap(
        soft, texel[..., 0], texel[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=90
    )
    dirt = np.random.default_rng(noise).normal(0, 2.0, seen.shape)
    return np.asarray(np.clip(seen * 0.8 + 20 + dirt, 0, 255), dtype=np.uint8)


def exif_of(model: str, f35: int, taken: str | None = None) -> Image.Exif:
    exif = Image.Exif()
    exif[271], exif[272] = "Invented Optics", model
    inner = exif.get_ifd(0x8769)
    inner[0x920A], inner[0xA405] = 5.4, f35
    if taken is not None:
        inner[0x9003] = taken
    return exif


def save(
    picture: NDArray[np.uint8], path: Path, model: str = "Yard 1", f35: int = 26, taken: str | None = None
) -> Path:
    Image.fromarray(picture).save(path, quality=94, exif=exif_of(model, f35, taken))
    return path


TURNS = ((0, 0, 0), (32, 0, 0), (-32, 5, 90), (0, 35, 0), (4, -35, 0), (25, 25, 180), (-25, 22, 270), (20, -28, 10))


@cache
def kit_photographs() -> tuple[NDArray[np.uint8], ...]:
    """The kit's sheet eight times, as somebody who calibrates takes it; drawn once for all tests of a process."""
    pictures = tuple(photograph(kit_sheet(), turns, 330.0 + 25 * n, n) for n, turns in enumerate(TURNS))
    for picture in pictures:
        picture.setflags(write=False)
    return pictures


@pytest.fixture(scope="module")
def photos(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, ...]:
    folder = tmp_path_factory.mktemp("photos")
    return tuple(
        save(picture, folder / f"sheet{number}.jpg", taken=f"2026:05:04 09:{10 + number}:00")
        for number, picture in enumerate(kit_photographs())
    )


@pytest.fixture(scope="module")
def calibrated(photos: tuple[Path, ...], tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """The folder with all that calibrating writes, and what was printed."""
    place = tmp_path_factory.mktemp("calibrated")
    options = CalibrateOptions(
        photos=photos,
        out=place / "camera.json",
        bar_x_mm=BARS_MM[0],
        bar_y_mm=BARS_MM[1],
        residuals=place / "residuals.png",
        yaml=place / "camera.yml",
    )
    with redirect_stdout(io.StringIO()) as printed:
        assert run(options) == 0
    return place, printed.getvalue()


def test_the_kits_own_sheet_gives_the_camera_that_made_the_pictures(calibrated: tuple[Path, str]) -> None:
    place, printed = calibrated
    profile = load_profile(place / "camera.json")
    mean = np.array(profile.intrinsics)
    sigma = np.sqrt(np.diag(np.array(profile.covariance)))
    assert np.all(np.abs(mean - CAMERA)[:4] < 3 * sigma[:4])
    assert sigma[0] < 0.005 * CAMERA[0]
    assert profile.camera.model == "Yard 1" and profile.camera.focal_35mm == 26
    assert len(profile.photographs) == len(TURNS) and all(entry.sha256 for entry in profile.photographs)
    assert Image.open(place / "residuals.png").size[0] > 1000
    assert "camera_matrix" in (place / "camera.yml").read_text(encoding="utf-8")
    assert "Focal length" in printed and "left out" in printed and "Warning" not in printed.split("Lens models")[0]


def command(photos: Sequence[Path], out: Path) -> list[str]:
    program = "import sys; from photomeasure.cli import main; sys.exit(main())"
    bars = ["--bar-x", str(BARS_MM[0]), "--bar-y", str(BARS_MM[1])]
    return [sys.executable, "-c", program, "calibrate", *map(str, photos), "--out", str(out), *bars]


def on_a_terminal(arguments: Sequence[str]) -> tuple[int, str]:
    """Exit code and all that a terminal of 80 columns was sent on the standard error stream."""
    pty = pytest.importorskip("pty", reason="no pseudo-terminal on this platform")
    ours, theirs = pty.openpty()
    environment = {**os.environ, "TERM": "xterm", "COLUMNS": "80"}
    with subprocess.Popen(arguments, stdout=subprocess.DEVNULL, stderr=theirs, env=environment) as process:
        os.close(theirs)
        sent = b""
        while True:
            try:
                part = os.read(ours, 65536)
            except OSError:  # Linux's end of a pseudo-terminal
                break
            if not part:
                break
            sent += part
    os.close(ours)
    return process.returncode, sent.decode("utf-8", "replace")


def test_progress_is_shown_on_a_terminal(photos: tuple[Path, ...], tmp_path: Path) -> None:
    code, sent = on_a_terminal(command(photos[:3], tmp_path / "camera.json"))
    assert code == 0
    assert re.search(r"measuring sheet\d", sent) and "lens model" in sent  # which of them is drawn is a matter of time
    assert sent.count("\r") > 3 and "\x1b[2K" in sent  # drawn over, and wiped when done (ECMA-48, EL)


def test_progress_is_not_shown_where_the_output_is_a_pipe(photos: tuple[Path, ...], tmp_path: Path) -> None:
    done = subprocess.run(
        command(photos[:3], tmp_path / "camera.json"), capture_output=True, text=True, encoding="utf-8", check=False
    )
    assert done.returncode == 0 and done.stderr == ""
    assert "\x1b" not in done.stdout and "measuring" not in done.stdout and "Camera profile" in done.stdout


def test_measure_says_whether_the_profile_was_made_in_one_go(
    calibrated: tuple[Path, str], sheet: PrintedSheet, tmp_path: Path
) -> None:
    known, view = load_profile(calibrated[0] / "camera.json"), photograph(sheet, TURNS[1], 500.0, 99)
    assert known.taken_last is not None and known.taken_last.minute == 17
    spread = {}
    for name, taken in (("same", "2026:05:04 09:40:00"), ("next day", "2026:05:05 09:40:00"), ("silent", None)):
        photo = load(save(view, tmp_path / f"{name}.jpg", taken=taken))
        assert isinstance(photo, Photo)
        camera = camera_for(photo, known, None)
        assert isinstance(camera, CameraPrior)
        spread[name] = float(np.linalg.norm(camera.basis[0]) / camera.mean[0])
        assert ("23 min from this photograph" in camera.source) == (name == "same")
        assert ("made at another time" in camera.source) == (name != "same")
    assert spread["same"] == pytest.approx(known.focus_share(), rel=0.05) and spread["same"] < 0.02
    assert spread["next day"] == spread["silent"] == pytest.approx(0.03, rel=0.02)


@pytest.mark.usefixtures("few_lens_models")
def test_a_print_that_was_not_measured_is_solved_for(
    photos: tuple[Path, ...], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Photographs turned by quarters tell a print's stretch from the camera, better than a rule does."""
    found, (x, y) = [], BARS_MM
    for name, bars in (("plain", (None, None)), ("small", (0.98 * x, 0.98 * y)), ("wrong", (x, y * 149.5 / 150))):
        out = tmp_path / f"{name}.json"
        assert run(CalibrateOptions(photos=photos, out=out, bar_x_mm=bars[0], bar_y_mm=bars[1])) == 0
        found.append(load_profile(out))
        assert not any("check bars" in warning for warning in found[-1].warnings)
        # a smaller sheet, or one misread by 0.3 % along one axis, is the same camera
        assert found[-1].intrinsics[:4] == pytest.approx(found[0].intrinsics[:4], abs=0.5)
    assert "for its width than stated (solved for)" in capsys.readouterr().out


def test_check_bars_that_were_not_measured_are_warned_of_where_all_photographs_are_one_way_up() -> None:
    for turned in (False, True):
        solved = calibrate(
            stretched_views(np.random.default_rng(2), turned=turned, count=6), (4000, 3000), ratio_u=2e-3, models=SHORT
        )
        assert isinstance(solved, Calibration)
        said = unmeasured_bars(KitSheet(), solved)
        assert [("check bars" in sentence and "both bars" in sentence) for sentence in said] == (
            [] if turned else [True]
        )
        assert unmeasured_bars(KitSheet(bar_x_mm=150.0, bar_y_mm=150.0), solved) == []


@pytest.mark.usefixtures("few_lens_models")
def test_the_majority_says_which_camera_and_size_it_is(
    photos: tuple[Path, ...], sheet: PrintedSheet, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One odd file, even the first, costs itself and not the set; where there is no majority nothing is calibrated."""
    other = save(photograph(sheet, TURNS[1], 400.0, 1), tmp_path / "other.jpg", model="Yard 2")
    with Image.open(photos[2]) as picture:
        picture.resize((800, 600)).save(tmp_path / "small.jpg", exif=picture.getexif())
    out = tmp_path / "camera.json"
    assert run(CalibrateOptions(photos=(other, tmp_path / "small.jpg", *photos), out=out)) == 0
    known = load_profile(out)
    assert (known.width, known.height) == SIZE_PX and known.camera.model == "Yard 1"
    left_out = {gone.file: gone.reason for gone in known.left_out}
    assert "Yard 2" in left_out["other.jpg"] and "800 x 600" in left_out["small.jpg"]
    capsys.readouterr()
    assert run(CalibrateOptions(photos=(*photos[:2], other), out=tmp_path / "none.json")) == 3
    assert not (tmp_path / "none.json").exists()
    assert run(CalibrateOptions(photos=(photos[0], other), out=tmp_path / "none.json")) == 3
    printed = capsys.readouterr().err
    assert "Yard 1" in printed and "Yard 2" in printed and "Next:" in printed


@pytest.mark.usefixtures("few_lens_models")
def test_a_picture_of_the_residuals_is_there_where_it_helps_most(
    photos: tuple[Path, ...], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """All square on: refused, and the picture shows where corners were seen; its caption stays on it."""
    picture = tmp_path / "residuals.png"
    few = (photos[0], *(retouched(photos[0], tmp_path / f"again{number}.jpg", number) for number in range(3)))
    options = CalibrateOptions(photos=few, out=tmp_path / "camera.json")
    assert run(replace(options, residuals=picture)) == 3
    said = capsys.readouterr().err
    assert "too alike" in said and "the sheet is tilted by" in said
    with Image.open(picture) as drawn:
        pixels = np.asarray(drawn.convert("L"))
    assert (pixels[-80:, -4:] > 200).all() and (pixels[-80:, 12:600] < 128).any()  # nothing runs off the edge


def retouched(photo: Path, path: Path, seed: int) -> Path:
    """The same view with other noise."""
    with Image.open(photo) as picture:
        grey = np.asarray(picture.convert("L"), dtype=np.float64)
        noisy = np.clip(grey + np.random.default_rng(seed).normal(0, 3.0, grey.shape), 0, 255).astype(np.uint8)
        Image.fromarray(noisy).save(path, quality=94, exif=picture.getexif())
    return path


def test_wrong_numbers_of_a_board_are_told_as_that(
    photos: tuple[Path, ...], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Not "take about ten photographs": no photograph shows such a board."""
    with Image.open(photos[0]) as picture:  # a small one: a board that is not there is looked for longest
        picture.resize((640, 480)).save(tmp_path / "small.jpg", exif=picture.getexif())
    options = CalibrateOptions(photos=(tmp_path / "small.jpg",), out=tmp_path / "camera.json", chessboard="9x6x25")
    assert run(options) == 3
    said = capsys.readouterr().err
    assert (
        "chessboard of 9 x 6" in said and "in none of the photographs" in said and "inner corners are counted" in said
    )


def test_photographs_without_a_sheet_are_left_out_with_the_reason_and_too_few_are_refused(
    photos: tuple[Path, ...], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    empty = save(np.full((1200, 1600), 128, dtype=np.uint8), tmp_path / "empty.jpg")
    assert run(CalibrateOptions(photos=(*photos[:2], empty), out=tmp_path / "camera.json")) == 3
    printed = capsys.readouterr().err
    assert "empty.jpg" in printed and "2 usable photographs are too few" in printed
    assert run(CalibrateOptions(photos=(photos[0], empty), out=tmp_path / "camera.json")) == 3
    assert "1 usable photograph is too few" in capsys.readouterr().err


@pytest.mark.usefixtures("few_lens_models")
def test_a_chessboard_of_stated_size_is_calibrated(tmp_path: Path) -> None:
    # Source: pictures of Debian's opencv-doc; the figure is compared in tests/calib/finding/test_boards.py.
    paths = tuple(sorted(opencv_doc().glob("left0[1-9].jpg")))
    assert run(CalibrateOptions(photos=paths, out=tmp_path / "left.json", chessboard="9x6x25")) == 0
    stored = json.loads((tmp_path / "left.json").read_text(encoding="utf-8"))
    assert stored["board"].startswith("chessboard of 9 x 6")
    assert stored["intrinsics"][0] == pytest.approx(534.0, abs=3.0)


@pytest.mark.parametrize(
    "changes",
    [
        {"chessboard": "9x6"},
        {"chessboard": "nine x six x 25"},
        {"chessboard": "9.5x6x25"},
        {"chessboard": "9x6xnan"},
        {"charuco": "7x5x30x40"},
        {"charuco": "7x5x30x21", "dictionary": "DICT_NONE"},
        {"charuco": "7x5x30x21", "chessboard": "9x6x25"},
        {"bar_x_mm": 15.0},
    ],
)
def test_impossible_boards_are_wrong_usage(changes: dict[str, str], tmp_path: Path) -> None:
    with pytest.raises(InputError):
        run(CalibrateOptions(photos=(tmp_path / "none.jpg",), out=tmp_path / "camera.json", **changes))  # type: ignore[arg-type]
