"""Profiles: read back as written; resized and turned pictures get the right camera, other pictures are refused."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image, ImageOps
from pydantic import ValidationError

from calib.calibration.calibrate import Calibration, calibrate
from calib.camera.turning import ORIENTATIONS, turn, turned_intrinsics, turned_pixels, turned_size
from calib.outcome.errors import InputError
from calib.outcome.refusal import Refusal
from calib.profile.load import load_profile
from calib.profile.match import fitted, mismatch, pick_profile
from calib.profile.opencv_yaml import from_opencv_yaml, to_opencv_yaml
from calib.profile.profile import FOCAL_DRIFT, LeftOut, Lens, Profile
from calib.profile.session import ONE_GO, apart_in_one_go
from calib.words.language import speaking
from calib.words.said import said, shown
from tests.calib.finding.board_views import SIZE_PX, grid_mm, seen, views
from tests.calib.opencv_doc import opencv_doc

CAMERA = np.array([2950.0, 2960.0, 2010.0, 1490.0, 0.06, -0.12, 3e-4, -5e-4, 0.05])


@dataclass(frozen=True)
class Facts:
    make: str | None = "Invented Optics"
    model: str | None = "Yard 1"
    lens: str | None = None
    focal_mm: float | None = 5.4
    focal_35mm: float | None = 26.0
    digital_zoom: float = 1.0
    taken: dt.datetime | None = None


def profile(**changes: object) -> Profile:
    covariance = np.diag([4.0, 4.0, 9.0, 9.0, 1e-4, 1e-3, 1e-8, 1e-8, 1e-3])
    fields: dict[str, object] = {
        "width": SIZE_PX[0],
        "height": SIZE_PX[1],
        "intrinsics": CAMERA.tolist(),
        "covariance": covariance.tolist(),
        "distortion_model": "fx+fy+k1+k2+p1+p2+k3",
        "rms_px": 0.2,
        "holdout_px": 0.22,
        "camera": Lens(make="Invented Optics", model="Yard 1", focal_mm=5.4, focal_35mm=26.0),
        "date": dt.date(2026, 5, 4),
    }
    return Profile.model_validate(fields | changes)


def test_a_calibration_is_kept_and_read_back(tmp_path: Path) -> None:
    found = calibrate(views(np.random.default_rng(1)), SIZE_PX)
    assert isinstance(found, Calibration)
    digests = {view.name: f"{number:064x}" for number, view in enumerate(found.views)}
    kept = Profile.of(found, digests=digests, camera=Lens(model="Yard 1"), board="a board", date=dt.date(2026, 5, 4))
    path = tmp_path / "cameras" / "yard.json"
    kept.save(path)
    read = load_profile(path)
    assert read == kept
    assert np.array(read.intrinsics) == pytest.approx(found.intrinsics)
    assert np.array(read.covariance) == pytest.approx(found.covariance)
    assert read.distance_mm == pytest.approx(float(np.median(found.survey.distances_mm)))
    stored = json.loads(path.read_text(encoding="utf-8"))
    assert stored["schema"] == "photomeasure/camera/1"
    assert [entry["sha256"] for entry in stored["photographs"]] == list(digests.values())


@pytest.mark.parametrize(
    "spoil",
    [
        lambda data: data.pop("intrinsics"),
        lambda data: data.update(schema="photomeasure/camera/99"),
        lambda data: data.update(more=1),
        lambda data: data["intrinsics"].__setitem__(0, -5.0),
        lambda data: data["covariance"][0].__setitem__(1, 1e9),
        lambda data: data["intrinsics"].__setitem__(2, float("nan")),
    ],
)
def test_a_spoilt_profile_is_wrong_input_that_names_the_file(tmp_path: Path, spoil: object) -> None:
    data = json.loads(profile().model_dump_json(by_alias=True))
    spoil(data)  # type: ignore[operator]
    path = tmp_path / "spoilt.json"
    path.write_text(json.dumps(data), encoding="utf-8")
    with pytest.raises(InputError, match=r"spoilt\.json"):
        load_profile(path)


@pytest.mark.parametrize("content", ["", "no json", "[]", "{"])
def test_what_is_no_profile_is_wrong_input(tmp_path: Path, content: str) -> None:
    path = tmp_path / "other.json"
    path.write_text(content, encoding="utf-8")
    with pytest.raises(InputError):
        load_profile(path)
    with pytest.raises(InputError):
        load_profile(tmp_path / "absent.json")


def test_scaling_follows_the_pixels_of_a_resized_picture() -> None:
    # Truth: a picture resized by s shows the pixel centre x at (x + 1/2) s - 1/2 (pixels as little squares).
    small = profile().scaled_to(1600, 1200)
    assert isinstance(small, Profile)
    pose = np.array([0.1, -0.2, 0.05, -90.0, -60.0, 420.0])
    there = (seen(grid_mm(), pose, CAMERA) + 0.5) * 0.4 - 0.5
    assert seen(grid_mm(), pose, np.array(small.intrinsics)) == pytest.approx(there, abs=1e-9)
    assert np.array(small.covariance)[0, 0] == pytest.approx(4.0 * 0.16)
    assert np.array(small.covariance)[4, 4] == pytest.approx(1e-4)


def test_rounding_of_a_resized_side_is_allowed_and_a_crop_is_refused() -> None:
    assert isinstance(profile().scaled_to(1599, 1199), Profile)
    assert isinstance(profile().scaled_to(1280, 960), Profile)
    for size in ((4000, 2250), (3000, 3000), (1600, 1190), (0, 0)):
        cropped = profile().scaled_to(*size)
        assert isinstance(cropped, Refusal) and cropped.code == "picture-cropped"


@pytest.mark.parametrize("orientation", ORIENTATIONS)
def test_orientations_turn_as_pillow_turns_pictures(orientation: int) -> None:
    # Reference: Pillow's ImageOps.exif_transpose, which moves one bright pixel of a picture stored that way.
    stored = Image.new("L", (7, 4))
    stored.putpixel((5, 1), 255)
    exif = Image.Exif()
    exif[274] = orientation
    stored.getexif()[274] = orientation
    upright = np.asarray(ImageOps.exif_transpose(stored))
    row, column = np.unravel_index(int(upright.argmax()), upright.shape)
    matrix = turn(1, orientation)
    assert turned_size((7, 4), matrix) == (upright.shape[1], upright.shape[0])
    assert turned_pixels(np.array([[5.0, 1.0]]), (7, 4), matrix)[0] == pytest.approx([column, row])


@pytest.mark.parametrize("orientation", ORIENTATIONS)
def test_turned_cameras_see_the_turned_points(orientation: int) -> None:
    # Reference: cv2.projectPoints with both cameras, the 3-D points turned about the optical axis (or mirrored) alike.
    points = np.random.default_rng(2).uniform(-200, 200, (40, 3)) + np.array([0, 0, 500.0])
    matrix = turn(1, orientation)
    turned_points = points.copy()
    turned_points[:, :2] = points[:, :2] @ matrix.T
    camera, _ = turned_intrinsics(CAMERA, SIZE_PX, matrix)
    still = np.zeros(6)
    expected = turned_pixels(seen(points, still, CAMERA), SIZE_PX, matrix)
    assert seen(turned_points, still, camera) == pytest.approx(expected, abs=1e-6)


def test_turning_there_and_back_changes_nothing() -> None:
    for orientation in ORIENTATIONS:
        back = profile().turned_to(orientation).turned_to(1)
        assert np.array(back.intrinsics) == pytest.approx(CAMERA)
        assert np.array(back.covariance) == pytest.approx(np.array(profile().covariance))


def test_drift_widens_the_focal_length_by_its_published_spread_and_carries_the_distortion() -> None:
    # 3 % of one phone model between units and sessions (median of 13 groups; published, see the module).
    mean, covariance = profile().prior()
    assert mean == pytest.approx(CAMERA)
    assert np.sqrt(covariance[0, 0]) == pytest.approx(np.hypot(2.0, 0.03 * 2950.0))
    assert np.linalg.eigvalsh(covariance / np.sqrt(np.outer(np.diag(covariance), np.diag(covariance)))).min() > -1e-9
    # a lens that breathes keeps its distortion in pixels: f -> f (1 + e) with k1 -> k1 (1 + e)^2 and so on
    pose = np.array([0.0, 0.0, 0.0, -100.0, -75.0, 300.0])
    points = grid_mm()
    breath = CAMERA * (1 + FOCAL_DRIFT * 0.01 * np.array([1, 1, 0, 0, 2, 4, 1, 1, 6]))
    nearer = pose + np.array([0, 0, 0, 0, 0, 300.0 * FOCAL_DRIFT * 0.01])
    assert seen(points, nearer, breath) == pytest.approx(seen(points, pose, CAMERA), abs=0.01)


@pytest.mark.parametrize(
    ("facts", "word"),
    [
        (Facts(model="Yard 2"), "camera"),
        (Facts(make="Other"), "maker"),
        (Facts(focal_mm=2.2), "focal length"),
        (Facts(focal_35mm=52.0), "35 mm"),
        (Facts(digital_zoom=2.0), "zoom"),
    ],
)
def test_another_camera_or_zoom_is_refused_with_the_reason(facts: Facts, word: str) -> None:
    wrong = mismatch(profile(), facts)
    assert wrong is not None and word in wrong.reason
    assert isinstance(fitted(profile(), facts, *SIZE_PX), Refusal)


def test_what_exif_leaves_out_is_not_held_against_it() -> None:
    assert mismatch(profile(), Facts(make=None, model=None, focal_mm=None, focal_35mm=None)) is None
    assert mismatch(profile(), Facts(model="YARD 1 ")) is None


def test_upright_pictures_get_the_profile_turned() -> None:
    known = fitted(profile(), Facts(), 3000, 4000, 6)
    assert isinstance(known, Profile)
    assert known.intrinsics[:2] == pytest.approx([2960.0, 2950.0])
    without_exif = fitted(profile(), Facts(model=None), 1200, 1600)
    assert isinstance(without_exif, Profile) and (without_exif.width, without_exif.height) == (1200, 1600)


def test_the_newest_matching_profile_is_picked(tmp_path: Path) -> None:
    profile(rms_px=0.5, date=dt.date(2025, 1, 1)).save(tmp_path / "old.json")
    profile(rms_px=0.2).save(tmp_path / "new.json")
    profile(rms_px=0.1, camera=Lens(model="Yard 2"), date=dt.date(2026, 9, 9)).save(tmp_path / "other.json")
    (tmp_path / "notes.json").write_text("{}", encoding="utf-8")
    picked = pick_profile(tmp_path, Facts(), 1600, 1200)
    assert picked is not None
    assert picked[0].name == "new.json" and isinstance(picked[1], Profile) and picked[1].width == 1600
    assert pick_profile(tmp_path, Facts(model=None), 1600, 1200) is None
    assert pick_profile(tmp_path, Facts(model="Yard 3"), 1600, 1200) is None
    assert pick_profile(tmp_path / "absent", Facts(), 1600, 1200) is None


def test_of_this_camera_but_not_for_this_picture_is_said_with_the_reason(tmp_path: Path) -> None:
    """A crop and another zoom: the profile that would have been taken, and why it is not."""
    profile().save(tmp_path / "mine.json")
    for facts, size, why in ((Facts(), (1600, 900), "1600 x 900"), (Facts(digital_zoom=2.0), (1600, 1200), "zoom")):
        picked = pick_profile(tmp_path, facts, *size)
        assert picked is not None
        path, fit = picked
        assert path.name == "mine.json" and isinstance(fit, Refusal) and why in fit.reason


def test_a_profile_that_fits_goes_before_a_newer_one_that_does_not(tmp_path: Path) -> None:
    profile(date=dt.date(2025, 1, 1)).save(tmp_path / "main.json")
    profile(date=dt.date(2026, 1, 1), camera=Lens(model="Yard 1", digital_zoom=2.0)).save(tmp_path / "zoomed.json")
    picked = pick_profile(tmp_path, Facts(), 1600, 1200)
    assert picked is not None and picked[0].name == "main.json"


def test_opencv_reads_what_is_exported(tmp_path: Path) -> None:
    path = tmp_path / "camera.yml"
    to_opencv_yaml(profile(), path)
    storage = cv2.FileStorage(str(path), cv2.FILE_STORAGE_READ)
    matrix = np.asarray(storage.getNode("camera_matrix").mat())
    assert matrix[[0, 1, 0, 1], [0, 1, 2, 2]] == pytest.approx(CAMERA[:4])
    assert storage.getNode("distortion_coefficients").mat().ravel() == pytest.approx(CAMERA[4:])
    assert storage.getNode("image_width").real() == 4000
    back = from_opencv_yaml(path)
    assert back.intrinsics == pytest.approx(profile().intrinsics)
    assert np.array(back.covariance) == pytest.approx(np.array(profile().covariance))
    assert back.covariance_stated


def test_a_camera_file_that_opencv_ships_is_imported() -> None:
    # Source: left_intrinsics.yml of Debian's opencv-doc: f 535.916, c (342.283, 235.571), k1 -0.26637 ...
    read = from_opencv_yaml(opencv_doc() / "left_intrinsics.yml")
    assert read.intrinsics[:4] == pytest.approx([535.916, 535.916, 342.283, 235.571], abs=6e-4)
    assert read.intrinsics[4:] == pytest.approx([-0.26637, -0.03859, 0.00178, -0.00028, 0.23839], abs=6e-6)
    assert (read.width, read.height) == (640, 480)
    assert read.rms_px == pytest.approx(0.39259, abs=1e-5)
    assert load_profile(opencv_doc() / "left_intrinsics.yml") == read
    assert not read.covariance_stated and np.sqrt(read.prior()[1][0, 0]) == pytest.approx(0.03 * 535.916, rel=1e-4)


@pytest.mark.parametrize(
    "content",
    [
        "",
        "hello",
        "%YAML:1.0\n---\nimage_width: 640\n",
        "%YAML:1.0\n---\nimage_width: 640\nimage_height: 480\ncamera_matrix: !!opencv-matrix\n   rows: 3\n   cols: 3\n"
        "   dt: d\n   data: [ 500., 0., 320., 0., 500., 240., 0., 0., 1. ]\n"
        "distortion_coefficients: !!opencv-matrix\n   rows: 8\n   cols: 1\n   dt: d\n"
        "   data: [ 0.1, 0., 0., 0., 0., 0.2, 0., 0. ]\n",
    ],
)
def test_camera_files_that_cannot_be_used_are_wrong_input(tmp_path: Path, content: str) -> None:
    path = tmp_path / "camera.yml"
    path.write_text(content, encoding="utf-8")
    with pytest.raises(InputError):
        from_opencv_yaml(path)


FIRST, LAST = dt.datetime(2026, 5, 4, 9, 10, 0), dt.datetime(2026, 5, 4, 9, 14, 30)


@pytest.mark.parametrize(
    ("facts", "minutes"),
    [
        (Facts(taken=dt.datetime(2026, 5, 4, 9, 26, 30)), 12.0),
        (Facts(taken=dt.datetime(2026, 5, 4, 9, 0, 0)), 10.0),
        (Facts(taken=dt.datetime(2026, 5, 4, 9, 12, 0)), 0.0),
        (Facts(taken=LAST + ONE_GO), 60.0),
        (Facts(taken=LAST + ONE_GO + dt.timedelta(seconds=1)), None),
        (Facts(taken=dt.datetime(2026, 5, 5, 9, 12, 0)), None),
        (Facts(), None),  # EXIF states no time
        (Facts(taken=LAST, model=None), None),
        (Facts(taken=LAST, make=None), None),
        (Facts(taken=LAST, focal_mm=None), None),
    ],
)
def test_in_one_go_needs_the_same_camera_named_and_times_within_the_hour(facts: Facts, minutes: float | None) -> None:
    apart = apart_in_one_go(profile(taken_first=FIRST, taken_last=LAST), facts)
    assert apart == (None if minutes is None else dt.timedelta(minutes=minutes))
    assert apart_in_one_go(profile(), facts) is None  # the profile states no time


def test_in_one_go_focus_and_stabiliser_are_still_counted() -> None:
    """Thin lens: focused at 450 mm, f = 5.4 mm has its image 5.4 / (450 - 5.4) = 1.2 % farther away than at infinity."""
    known = profile(distance_mm=450.0)
    assert known.focus_share() == pytest.approx(5.4 / (450.0 - 5.4), rel=0.02)
    own, there = np.array(known.covariance), known.prior(same_session=True)[1]
    assert np.sqrt(there[0, 0] - own[0, 0]) == pytest.approx(known.focus_share() * CAMERA[0])
    assert there[2, 2] == known.prior()[1][2, 2] > own[2, 2]
    # what is not known is never taken for small: without distance or focal length the drift between sessions stands
    for silent in (profile(), profile(distance_mm=450.0, camera=Lens(model="Yard 1")), profile(distance_mm=20.0)):
        assert silent.prior(same_session=True)[1] == pytest.approx(silent.prior()[1])


@pytest.mark.parametrize(
    "changes",
    [{"taken_first": FIRST}, {"taken_first": "2026-05-04T09:10:00Z", "taken_last": "2026-05-04T09:14:00Z"}],
)
def test_half_a_time_or_a_zone_is_refused(changes: dict[str, object]) -> None:
    with pytest.raises(ValidationError, match="taken_first"):
        profile(**changes)


def test_a_profiles_remarks_are_told_in_the_readers_language(tmp_path: Path) -> None:
    """Template and values are in the file beside the English text; a text that was changed by hand is shown as it stands."""
    remark = said("{count} photographs were chosen.", count=7)
    gone = LeftOut(file="a.jpg", reason=said("only {count} points were found", count=3))
    profile(warnings=[remark], left_out=[gone]).save(tmp_path / "camera.json")
    kept = load_profile(tmp_path / "camera.json")
    assert kept.warnings == [remark] and kept.left_out[0].reason == "only 3 points were found"
    with speaking("de"):
        assert shown(kept.warnings[0]) == "Es wurden 7 Fotos ausgewählt."
        assert shown(kept.left_out[0].reason) == "nur 3 Punkte wurden gefunden"
    text = (tmp_path / "camera.json").read_text(encoding="utf-8").replace("7 photographs were chosen.", "Nothing.", 1)
    (tmp_path / "camera.json").write_text(text, encoding="utf-8")
    with speaking("de"):
        assert shown(load_profile(tmp_path / "camera.json").warnings[0]) == "Nothing."
