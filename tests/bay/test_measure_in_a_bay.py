"""`photomeasure measure --bay` from the command line on photographs that nobody here made: a bay alone, no kit in them.

Source of photographs, markers and truth: see `test_bay_room`. Markers whose published corners are not numbers are left out.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.bay.test_bay_room import WALL, bay_of, corners_mm, crossing, photographs, profile, quads, seen_in, truth_mm
from tests.commands.test_measure_command import run
from tests.shared_data import folder

OF_THE_KIT = ("check bar", "foot line", "sheet", "--bar-x", "paper", "print")


class Bay:
    """Two photographs of one wall, with the marker that both show held out as the thing to be measured."""

    def __init__(self, room: Path, place: Path) -> None:
        self.photos = photographs(room, 6)[1:3]
        shown = [quads(seen_in(path)) for path in self.photos]
        self.marker = next(m for m in WALL if all(m in seen for seen in shown))
        self.height_mm = truth_mm(room, self.marker)
        self.centres = [",".join(f"{value:.2f}" for value in crossing(seen[self.marker])) for seen in shown]
        table = corners_mm(room)
        others = sorted(table.keys() - {self.marker})
        self.file, self.without_plane, self.camera = place / "bay.json", place / "no-plane.json", place / "camera.json"
        self.file.write_text(bay_of(table, others).model_dump_json(by_alias=True))
        self.without_plane.write_text(bay_of(table, others, plane=False).model_dump_json(by_alias=True))
        self.camera.write_text(profile(room).model_dump_json(by_alias=True))


@pytest.fixture(scope="module")
def bay(tmp_path_factory: pytest.TempPathFactory) -> Bay:
    return Bay(folder("room-markers"), tmp_path_factory.mktemp("bay"))


def measured(bay: Bay, file: Path, count: int, place: Path, *more: object) -> tuple[dict[str, Any], str]:
    marks = [word for centre in bay.centres[:count] for word in ("--centre", centre)]
    target = place / "record.json"
    code, output = run("measure", *bay.photos[:count], "--bay", file, *marks, "--uncoupled", "--json", target, *more)
    assert code == 0, output
    record: dict[str, Any] = json.loads(target.read_text())
    assert abs(record["height_mm"] - bay.height_mm) <= 3.0 * record["u_mm"] and record["U_mm"] < 6.0
    assert sum(row["u_mm"] ** 2 for row in record["budget"]) == pytest.approx(record["u_mm"] ** 2, rel=1e-9)
    assert sum(row["height_u_mm"] ** 2 for row in record["inputs"]) == pytest.approx(record["u_mm"] ** 2, rel=1e-9)
    return record, output


def test_one_photograph_with_its_files_speaks_of_the_bay_only(bay: Bay, tmp_path: Path) -> None:
    """Record, picture and report are written, the survey is a row of its own, and no word is about a kit that is not there."""
    record, output = measured(bay, bay.file, 1, tmp_path, "--camera", bay.camera, "--out", tmp_path / "out")
    rows = {row["quantity"]: row["u_mm"] for row in record["budget"]}
    assert rows["marker survey"] > rows["marker corner noise"] > 0.0
    assert record["photos"][0]["corners"] >= 40
    assert not [word for word in OF_THE_KIT if word in output.lower()], output
    said = json.dumps([record[key] for key in ("warnings", "coach", "advice", "inputs", "confirm")]).lower()
    assert not [word for word in OF_THE_KIT if word in said], said
    written = {path.suffix for path in (tmp_path / "out").iterdir()}
    assert written == {".json", ".jpg", ".pdf"}


def test_two_photographs_without_a_coupling_plane(bay: Bay, tmp_path: Path) -> None:
    """Triangulated; one of them alone is refused, as nothing tells the depth."""
    record, _ = measured(bay, bay.without_plane, 2, tmp_path, "--camera", bay.camera)
    assert "depth" not in {row["quantity"] for row in record["budget"]}
    code, output = run("measure", bay.photos[0], "--bay", bay.without_plane, "--centre", bay.centres[0])
    assert code == 3 and "no coupling plane" in output


def test_a_camera_that_is_not_as_assumed_is_told_once(bay: Bay, tmp_path: Path) -> None:
    """No focal length in the file and a lens 25 % shorter than a phone's: what is known of it is dropped, and the height holds."""
    record, _ = measured(bay, bay.file, 1, tmp_path)
    told = [note for note in record["warnings"] if "speaks for a focal length" in note]
    assert len(told) == 1 and "The perspective of the markers" in told[0] and " % shorter" in told[0]
    dropped = [note for note in record["warnings"] if "So nothing is taken" in note]
    assert len(dropped) == 1 and "focal length" in dropped[0]


def test_a_bay_record_is_verified(bay: Bay, tmp_path: Path) -> None:
    """Done again from the photograph: every figure the same."""
    measured(bay, bay.file, 1, tmp_path, "--camera", bay.camera)
    code, output = run("verify", tmp_path / "record.json", "--photos", bay.photos[0].parent)
    assert code == 0, output


def test_a_centre_that_nobody_marked_is_asked_for_without_a_false_reason(bay: Bay) -> None:
    code, output = run("measure", bay.photos[0], "--bay", bay.file, "--uncoupled")
    assert code == 3 and "in a bay a bare ball is not looked for" in output and "hides it" not in output


def test_a_profile_that_does_not_fit_is_given_up_with_its_focal_length(bay: Bay, tmp_path: Path) -> None:
    """A focal length that the photographs loosened means nothing beside the distortion that was not theirs."""
    wrong = json.loads(bay.camera.read_text())
    wrong["intrinsics"][0] *= 1.5
    wrong["intrinsics"][1] *= 1.5
    wrong["intrinsics"][4] = 0.2
    other = tmp_path / "other.json"
    other.write_text(json.dumps(wrong))
    target = tmp_path / "record.json"
    code, _ = run(
        "measure",
        bay.photos[0],
        "--bay",
        bay.file,
        "--centre",
        bay.centres[0],
        "--uncoupled",
        "--camera",
        other,
        "--json",
        target,
    )
    record = json.loads(target.read_text())
    assert code == 0, record
    assert any("camera profile does not fit" in note for note in record["warnings"])
    assert record["camera"]["focal_px"] is None and "given up" in record["camera"]["source"]
    assert record["indicative"] or abs(record["height_mm"] - bay.height_mm) <= record["U_mm"]
