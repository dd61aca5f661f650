"""`photomeasure bay` from files to a bay file: photographs of a real room, and what can be wrong in a survey file."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import numpy as np
import pytest

from calib.outcome.errors import InputError
from calib.profile.profile import Profile
from photomeasure.asked.bay_file import load_bay
from photomeasure.bay.made import BayOptions
from photomeasure.commands.bay import run
from tests.bay.test_bay_room import FLOOR_MM, corners_mm, profile
from tests.shared_data import folder

HEIGHTS_OF = (32, 36, 43, 34, 0, 9, 14)


def survey_text(room: Path) -> str:
    """The room's 13 tapes (3 mm standard, from the data's "good to about 5 mm") and some heights to turn the frame."""
    lines = ['dictionary = "DICT_4X4_1000"', "marker_mm = 110"]
    with (room / "tape_distances_m.csv").open(encoding="utf-8") as stream:
        for start, end, metres in list(csv.reader(stream))[1:]:
            lines.append(f'[[tape]]\nfrom = "{start}.0"\nto = "{end}.0"\nmm = {1000 * float(metres)}\nu_mm = 3')
    table = corners_mm(room)
    lines += [f'[[height]]\npoint = "{marker}.0"\nmm = {table[marker][0, 2]:.1f}' for marker in HEIGHTS_OF]
    return "\n".join(lines) + "\n"


def camera_file(room: Path, path: Path) -> Path:
    """The published camera as a profile, loose by what a calibration of ten photographs leaves (0.1 % of fx)."""
    known = profile(room)
    loose = np.diag(np.array([1.0, 1.0, 1.0, 1.0, 1e-3, 1e-3, 1e-4, 1e-4, 1e-3]) ** 2)
    Profile.model_validate(known.model_dump() | {"covariance": loose.tolist()}).save(path)
    return path


def test_a_bay_is_made_from_photographs_and_tapes(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    room = folder("room-markers")
    (tmp_path / "survey.toml").write_text(survey_text(room), encoding="utf-8")
    out = tmp_path / "bay.json"
    options = BayOptions(
        photos=tuple(sorted((room / "photos").glob("*.JPG"))[::3]),
        survey=tmp_path / "survey.toml",
        out=out,
        camera=camera_file(room, tmp_path / "camera.json"),
    )
    assert run(options) == 0
    bay = load_bay(out)
    stored = json.loads(out.read_text(encoding="utf-8"))
    assert stored["schema"] == "photomeasure/bay/1" and stored["coupling_plane"] is None
    table = corners_mm(room)
    found = {marker.id: np.array(marker.corners_mm) for marker in bay.markers}
    assert len(found) >= 34
    # heights on the wall whose markers' heights were NOT given, against the published table, good to some millimetres
    wall = [marker for marker in (1, 2, 30, 35, 37, 38, 40, 41, 42, 44) if marker in found]
    errors = np.array([found[marker][:, 2].mean() - table[marker][:, 2].mean() for marker in wall])
    assert float(np.abs(errors).max()) < 8.0
    assert 0.1 < bay.u_mm < 6.0
    printed = capsys.readouterr().out
    assert "43.0 to 42.0" in printed and "Check one height in the bay with a tape" in printed
    assert FLOOR_MM == 3000.0


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("marker_mm = 100\n", "survey.toml: dictionary: is missing"),
        (
            'dictionary = "DICT_4X4_50"\n[[tape]]\nfrom = "1.0"\nto = "2.0"\nmm = -4\n',
            r"line 5, tape\.0\.mm: must be more than 0",
        ),
        ('dictionary = "DICT_4X4_50"\nmore = 1\n', "line 2, more: is no known key"),
        ('dictionary = "DICT_4X4_50"\n[[ground]]\nname = "a.b"\nphoto = "p"\npx = [1, 2]\n', "ground"),
        ('dictionary = "DICT_4X4_50"\nmarker_mm = "x"\n', "line 2, marker_mm: must be a number"),
        ("dictionary = \n", "TOML"),
    ],
)
def test_a_survey_file_that_is_wrong_is_named(text: str, word: str, tmp_path: Path) -> None:
    path = tmp_path / "survey.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=word):
        run(BayOptions(photos=(tmp_path / "none.jpg",), survey=path, out=tmp_path / "bay.json"))


def test_an_unknown_dictionary_and_absent_files_are_wrong_usage(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"Cannot open .*none\.toml: No such file"):
        run(BayOptions(photos=(), survey=tmp_path / "none.toml", out=tmp_path / "bay.json"))
    photos = tuple(sorted(folder("no-target").glob("*.jpg")))
    path = tmp_path / "survey.toml"
    path.write_text('dictionary = "DICT_9X9_7"\n', encoding="utf-8")
    with pytest.raises(InputError, match="DICT_9X9_7"):
        run(BayOptions(photos=photos, survey=path, out=tmp_path / "bay.json"))


def test_a_file_where_a_folder_should_be_is_told_first(tmp_path: Path) -> None:
    path = tmp_path / "survey.toml"
    path.write_text("wrong", encoding="utf-8")
    with pytest.raises(InputError, match="is a file, not a folder"):
        run(BayOptions(photos=(), survey=path, out=path / "bay.json"))


def test_photographs_without_markers_are_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    photos = tuple(sorted(folder("no-target").glob("*.jpg")))
    path = tmp_path / "survey.toml"
    path.write_text('dictionary = "DICT_5X5_50"\n[[tape]]\nfrom = "1.0"\nto = "2.0"\nmm = 400\n', encoding="utf-8")
    assert run(BayOptions(photos=photos, survey=path, out=tmp_path / "bay.json")) == 3
    assert "Next:" in capsys.readouterr().err and not (tmp_path / "bay.json").exists()
