"""Every way of measuring that the README names, from outside through its own door, on pictures with their truth beside them.

Sample pictures are path-traced scenes of an invented yard; their truth files are exact. Bays have a file of their own
(`test_measure_in_a_bay`), as has the page (`web/test_measuring`, which holds it against the command line).
"""

from __future__ import annotations

import csv
import io
import json
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image
from starlette.testclient import TestClient

from calib.profile.profile import Lens, Profile
from photomeasure.web.app import page_app
from tests.commands.test_measure_command import run
from tests.sample_requests import SAMPLES
from tests.web.sending import AS_PHOTOGRAPHED, BASE, HOST, TOKEN, send
from tests.web.sending import record as page_record

BARS = ("--bar-x", 150, "--bar-y", 150)
AS_BUILT = (*BARS, "--uncoupled", "--unladen", "--level-ground")


def truth(name: str) -> dict[str, Any]:
    return tomllib.loads((SAMPLES / f"{name}.toml").read_text(encoding="utf-8"))


def marks(name: str) -> list[str]:
    return [word for x, y in truth(name)["centre_px"] for word in ("--centre", f"{x},{y}")]


def holds(record: dict[str, Any], height_mm: float) -> bool:
    """Within three standard uncertainties, and those no larger than 4 mm: a figure that somebody can use."""
    u_mm = float(record["u_mm"])
    return abs(record["height_mm"] - height_mm) <= 3.0 * u_mm and 0.0 < u_mm <= 4.0


def measured(place: Path, *arguments: object) -> dict[str, Any]:
    target = place / "record.json"
    target.unlink(missing_ok=True)  # of other photographs it would not be written over
    code, output = run("measure", *arguments, "--json", target)
    assert code == 0, output
    record: dict[str, Any] = json.loads(target.read_text())
    return record


@pytest.mark.parametrize(
    ("name", "said", "source", "verdict"),
    [
        ("within", AS_BUILT, "ball", "within"),
        ("above", (*AS_BUILT, *marks("above")), "pick", "above"),
        ("close-call", (*AS_BUILT, *marks("close-call")), "pick", "undecided"),
        ("coupled", (*BARS, "--coupled", "--laden", "--level-ground"), "tag", "within"),
        ("set", AS_BUILT, "ball", "within"),
        ("chat", (*AS_BUILT, *marks("chat")), "pick", "within"),
        ("above", (*BARS, *marks("above"), "--coupling", "pin"), "pick", "no-band"),
        # 2 mm inside that rule's band, by an interval of 2.2
        ("within", (*AS_BUILT, *marks("within"), "--rule", "dk", "--tape", 402), "pick", "undecided"),
    ],
)
def test_measure(name: str, said: tuple[object, ...], source: str, verdict: str, tmp_path: Path) -> None:
    """By the ball that the program finds, by a mark, by a tag, from three photographs, from a chat program's copy."""
    known = truth(name)
    record = measured(tmp_path, *(SAMPLES / file for file in known["files"]), *said)
    assert holds(record, known["height_mm"])
    assert (record["centre"]["source"], record["verdict"]) == (source, verdict)
    assert len(record["photos"]) == len(known["files"])


def camera_of(name: str) -> Profile:
    """The camera that the truth file states, as a calibration would know it."""
    photo, *_ = truth(name)["photo"]
    width, height = photo["size_px"]
    x, y = photo["principal_px"]
    focal = photo["focal_px"]
    return Profile(
        width=width, height=height, intrinsics=[focal, focal, x, y, photo["k1"], photo["k2"], 0.0, 0.0, 0.0],
        covariance=np.diag([4.0, 4.0, 4.0, 4.0, 1e-5, 1e-4, 1e-9, 1e-9, 1e-9]).tolist(), distortion_model="fx+fy+k1+k2",
        rms_px=0.05, holdout_px=0.05, camera=Lens(),
    )  # fmt: skip


def test_a_camera_profile(tmp_path: Path) -> None:
    """A profile of this very camera is used and fits; one of a lens a quarter longer is contradicted by name.

    By three photographs: a single one that faces the sheet tells little of the focal length, and needs little of it.
    """
    known = truth("set")
    said = (*(SAMPLES / file for file in known["files"]), *AS_BUILT, *marks("set"))
    own, other = tmp_path / "phone.json", tmp_path / "other.json"
    camera = camera_of("set")
    camera.save(own)
    record = measured(tmp_path, *said, "--camera", own)
    assert holds(record, known["height_mm"]) and record["camera"]["kind"] == "profile" and not record["warnings"]
    assert "camera profile" in {row["quantity"] for row in record["budget"]}
    fx, fy, *rest = camera.intrinsics
    camera.model_copy(update={"intrinsics": [1.25 * fx, 1.25 * fy, *rest]}).save(other)
    wrong = measured(tmp_path, *said, "--camera", other)
    assert any("camera profile does not fit" in note for note in wrong["warnings"])
    assert holds(wrong, known["height_mm"])


def as_heic(name: str, place: Path) -> Path:
    """A sample as a telephone writes it: HEIC with the same EXIF, smaller to save time. pillow-heif is for tests only."""
    heif = pytest.importorskip("pillow_heif", reason="pillow-heif, the HEIC encoder of the tests, is not installed")
    path = place / f"{name}.heic"
    with Image.open(SAMPLES / f"{name}.jpg") as image:
        exif = image.getexif().tobytes()
        half = image.resize((image.width // 2, image.height // 2), Image.Resampling.LANCZOS)
    stream = io.BytesIO()
    heif.from_pillow(half).save(stream, quality=90, exif=exif, enc_params={"preset": "ultrafast"})
    path.write_bytes(stream.getvalue())
    return path


def test_a_heic_file_gives_what_the_jpeg_gives(tmp_path: Path) -> None:
    known, path = truth("within"), as_heic("within", tmp_path)
    heic = measured(tmp_path, path, *AS_BUILT)
    jpeg = measured(tmp_path, SAMPLES / "within.jpg", *AS_BUILT)
    assert holds(heic, known["height_mm"]) and heic["centre"]["source"] == "ball"
    assert heic["camera"]["kind"] == jpeg["camera"]["kind"] == "exif"
    assert heic["camera"]["focal_px"] == pytest.approx(jpeg["camera"]["focal_px"] / 2.0, rel=0.02)
    assert abs(heic["height_mm"] - jpeg["height_mm"]) <= 0.3  # half the pixels, coded again


def test_from_the_page_a_coupled_rig_with_its_tag(tmp_path: Path) -> None:
    """What a customer sends from a telephone: the record is the command line's, the answer is true."""
    name = "coupled.jpg"
    with TestClient(page_app(TOKEN, [HOST]), base_url=BASE) as client:
        answers = AS_PHOTOGRAPHED | {"coupled": "yes", "laden": "yes"}
        shown = send(client, ("photos", (name, (SAMPLES / name).read_bytes(), "image/jpeg")), **answers)
        record = page_record(client, shown)
    assert holds(record, truth("coupled")["height_mm"]) and record["centre"]["source"] == "tag"
    by_command = measured(tmp_path, SAMPLES / name, *BARS, "--coupled", "--laden", "--level-ground")
    assert record["height_mm"] == by_command["height_mm"] and record["budget"] == by_command["budget"]


@pytest.mark.usefixtures("in_this_process")  # processes of their own give the same: tests/batch/test_command.py
def test_batch_then_verify(tmp_path: Path) -> None:
    """A folder of a rig with three photographs and one with a single photograph; every record is verified afterwards."""
    yard, out = tmp_path / "yard", tmp_path / "records"
    (yard / "truck 4").mkdir(parents=True)
    for file in truth("set")["files"]:
        (yard / "truck 4" / file).write_bytes((SAMPLES / file).read_bytes())
    (yard / "truck 2.jpg").write_bytes((SAMPLES / "within.jpg").read_bytes())
    code, output = run("batch", yard, "--out", out, *AS_BUILT)
    assert code == 0, output
    with (out / "table.csv").open(newline="", encoding="utf-8") as stream:
        rows = {row["rig"]: row for row in csv.DictReader(stream)}
    records = {rig: json.loads((out / row["record"]).read_text()) for rig, row in rows.items()}
    assert holds(records["truck 4"], truth("set")["height_mm"]) and len(records["truck 4"]["photos"]) == 3
    assert holds(records["truck 2"], truth("within")["height_mm"])
    code, output = run("verify", *sorted(out.glob("*.json")))
    assert code == 0, output
    changed = out / rows["truck 2"]["record"]
    changed.write_text(json.dumps(records["truck 2"] | {"height_mm": records["truck 2"]["height_mm"] + 1.0}))
    code, output = run("verify", changed)
    assert code == 3 and "height" in output
