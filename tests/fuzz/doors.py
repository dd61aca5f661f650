"""Every door through which a person's file comes in: a good file, and what reads it."""

from __future__ import annotations

import io
import shutil
from collections.abc import Callable, Mapping
from contextlib import chdir
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from tempfile import mkdtemp
from typing import Any

import numpy as np
from PIL import Image

from calib.profile.load import load_profile
from calib.profile.opencv_yaml import to_opencv_yaml
from calib.profile.profile import Profile
from photomeasure.asked.bars import Bars
from photomeasure.asked.bay_file import load_bay
from photomeasure.asked.prints import RememberedPrint, print_path, remember_print, remembered_print
from photomeasure.audit.ledger import read_ledger
from photomeasure.batch.rig_list import read_rig_list
from photomeasure.bay.survey_file import load_survey_file
from photomeasure.record.measure_and_record import recorded
from photomeasure.record.schema import read_record
from photomeasure.rig.setup_file import load_setup
from photomeasure.rules.load import load_rule
from photomeasure.seal.check import check_seal
from photomeasure.seal.keys import PRIVATE_NAME, PUBLIC_NAME, load_private, load_public, new_key
from photomeasure.seal.make import make_seal
from photomeasure.seal.schema import read_seal
from photomeasure.shown.picture.labelled import Label, kept_label
from tests.sample_requests import SAMPLES, sample_request

ROOT = Path(__file__).parents[2]

BAY = (
    '{"schema": "photomeasure/bay/1", "dictionary": "DICT_4X4_50", "markers": [{"id": 3, "corners_mm": [[0, 0, 300], '
    '[100, 0, 300], [100, 0, 200], [0, 0, 200]]}], "u_mm": 0.5, "coupling_plane": {"point_mm": [0, 300, 0], "normal": [0, 1, 0], "u_mm": 20}}'
)
SURVEY = """dictionary = "DICT_4X4_50"
marker_mm = 100.0
[[tape]]
from = "1.0"
to = "spot a"
mm = 1234.5
u_mm = 1.0
[[height]]
point = "2.1"
mm = 300
[[ground]]
name = "spot a"
photo = "1.jpg"
px = [100.5, 200]
[plumb]
markers = [1, 2]
u_deg = 0.2
[coupling_plane]
through = ["spot a", "spot b"]
"""
LIST = (
    "rig,photo,bar_x_mm,bar_y_mm,centre_x,centre_y,coupled,laden,level_ground,tape_mm,decision,rule\n"
    "truck 2,1.jpg,149.5,150,2045.5,1312,no,yes,,402,guarded=1,dk\ntruck 2,2.jpg,,,,,,,,,,\nvan,3.jpg,,,,,,,,,,\n"
)


SETTINGS = 'bar-x = 149.5\nbar_y = 150\n[measure]\nrule = "dk"\nlevel-within = 5\n[batch]\njobs = 2\n'
NUMBER = 123456


@dataclass(frozen=True, slots=True, kw_only=True)
class Door:
    """suffix: of the file's name; good: what it may hold; read: raises InputError, or returns."""

    suffix: str
    good: bytes
    read: Callable[[Path], Any]


@cache
def doors() -> Mapping[str, Door]:
    place = Path(mkdtemp(prefix="doors-"))
    record = recorded(sample_request())[1].to_json().encode()
    profile = Profile(
        width=4000,
        height=3000,
        intrinsics=[2900.0, 2900.0, 2000.0, 1500.0, 0.01, -0.02, 0.0, 0.0, 0.0],
        covariance=np.eye(9).tolist(),
        distortion_model="tried",
        rms_px=0.2,
    )
    profile.save(place / "camera.json")
    to_opencv_yaml(profile, place / "camera.yml")
    record_file = place / "record.json"
    record_file.write_bytes(record)
    new_key(place, None)
    private, public = place / PRIVATE_NAME, place / PUBLIC_NAME
    seal = make_seal([record_file], load_private(private, str), case="Ferncombe", by=None)
    kept = remember_print(place, RememberedPrint(number=NUMBER, bars=Bars(x_mm=149.5, y_mm=150.0)))
    setup = sorted((ROOT / "sample_images" / "rigs").glob("*.toml"))[0]
    rule = ROOT / "photomeasure" / "rules" / "au-ball-50.toml"
    return {
        "rule": Door(
            suffix=".toml",
            good=rule.read_bytes().replace(b"au-ball-50", b"mine"),
            read=lambda path: load_rule(str(path)),
        ),
        "setup": Door(suffix=".toml", good=setup.read_bytes(), read=load_setup),
        "survey": Door(suffix=".toml", good=SURVEY.encode(), read=load_survey_file),
        "bay": Door(suffix=".json", good=BAY.encode(), read=load_bay),
        "list": Door(suffix=".csv", good=LIST.encode(), read=read_rig_list),
        "profile": Door(suffix=".json", good=(place / "camera.json").read_bytes(), read=load_profile),
        "opencv yaml": Door(suffix=".yml", good=(place / "camera.yml").read_bytes(), read=load_profile),
        "opencv xml": Door(suffix=".xml", good=_xml(), read=load_profile),
        "record": Door(suffix=".json", good=record, read=read_record),
        "ledger": Door(suffix=".json", good=record, read=lambda path: read_ledger([path.parent])),
        "settings": Door(suffix=".toml", good=SETTINGS.encode(), read=_settings),
        "seal": Door(
            suffix=".json",
            good=seal.to_json().encode(),
            read=lambda path: check_seal(read_seal(path), place, public_key=load_public(public)),
        ),
        "private key": Door(
            suffix=".pem", good=private.read_bytes(), read=lambda path: load_private(path, lambda: "x")
        ),
        "public key": Door(suffix=".pem", good=public.read_bytes(), read=load_public),
        "print": Door(suffix=".json", good=kept.read_bytes(), read=_print),
        "picture": Door(suffix=".jpg", good=_picture(), read=lambda path: kept_label(path.read_bytes())),
    }


def _settings(path: Path) -> Any:
    """As defaults in the folder of work."""
    from photomeasure.cli.settings import NAME, default_map

    with chdir(path.parent):
        shutil.copyfile(path, NAME)
        return default_map(_command().commands)


@cache
def _command() -> Any:
    import typer

    from photomeasure.cli import app

    return typer.main.get_command(app)


def _print(path: Path) -> Any:
    """As what is remembered of a print."""
    kept = print_path(path.parent, NUMBER)
    kept.parent.mkdir(exist_ok=True)
    shutil.copyfile(path, kept)
    return remembered_print(path.parent, NUMBER)


def _picture() -> bytes:
    """An annotated picture with what it says of itself."""
    stream = io.BytesIO()
    label = Label(photo="0" * 64, height_mm=402.1, box=(0, 8, 64, 56))
    Image.new("RGB", (64, 64), (200, 90, 30)).save(stream, "JPEG", comment=label.text().encode())
    return stream.getvalue()


def _xml() -> bytes:
    import cv2

    storage = cv2.FileStorage(".xml", cv2.FileStorage_WRITE | cv2.FileStorage_MEMORY | cv2.FileStorage_FORMAT_XML)
    storage.write("image_width", 4000)
    storage.write("image_height", 3000)
    storage.write("camera_matrix", np.array([[2900.0, 0, 2000], [0, 2900.0, 1500], [0, 0, 1]]))
    storage.write("distortion_coefficients", np.array([0.01, -0.02, 0, 0, 0]))
    return str(storage.releaseAndGetString()).encode()


__all__ = ["SAMPLES", "Door", "doors"]
