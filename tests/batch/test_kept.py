"""A record that is there already is kept only where measuring again could give nothing else: remembered cameras count."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

import pytest

from calib.profile.profile import Lens
from photomeasure.asked.stated import Stated
from photomeasure.batch import work as work_module
from photomeasure.batch.tasks import Task, Wanted
from photomeasure.batch.work import work
from photomeasure.record.schema import read_record
from tests.calib.profile.test_profile import profile
from tests.sample_requests import SAMPLES, sample_request

LENS = Lens(make="Ferncombe", model="Yardphone 3", focal_35mm=26.0)


class Yard:
    """One rig, and the folder of remembered cameras, empty at first."""

    def __init__(self, place: Path) -> None:
        self.cameras = place / "cameras"
        self.task = Task(
            rig="truck 2",
            photos=(SAMPLES / "within.jpg",),
            centres_px=sample_request().centres_px,
            said=Stated(bar_x_mm=150.0, bar_y_mm=150.0, coupled=False, laden=False, level_ground=True),
            record_file=place / "truck 2.json",
            wanted=Wanted(),
        )

    def remember(self, name: str, seconds_after_the_record: float) -> Path:
        path = self.cameras / name
        profile(camera=LENS).save(path)
        at = self.task.record_file.stat().st_mtime + seconds_after_the_record
        os.utime(path, (at, at))
        return path

    def kept(self) -> bool:
        done = work(self.task)
        assert done.row.error == "", done.row.error
        return done.kept

    def camera(self) -> str:
        record = read_record(self.task.record_file)
        assert record.camera is not None
        return record.camera.kind


@pytest.fixture
def yard(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Yard:
    made = Yard(tmp_path)
    monkeypatch.setattr(work_module, "profile_folder", lambda: made.cameras)
    return made


def test_a_camera_remembered_since_is_used(yard: Yard) -> None:
    """The record was made by EXIF; a profile of this camera is newer than it, so it is measured again, and then kept."""
    assert not yard.kept() and yard.kept() and yard.camera() == "exif"
    yard.remember("yardphone.json", 5.0)
    assert not yard.kept() and yard.camera() == "profile"


def test_a_camera_remembered_before_changes_nothing(yard: Yard) -> None:
    """Of another phone, and older than the record: the record stands."""
    assert not yard.kept()
    path = yard.remember("other.json", -60.0)
    profile(camera=replace_model(LENS)).save(path)
    at = yard.task.record_file.stat().st_mtime - 60.0
    os.utime(path, (at, at))
    assert yard.kept()


def test_a_camera_that_was_used_and_is_gone(yard: Yard) -> None:
    """What the record was made with cannot be had any more: measured again by EXIF."""
    yard.cameras.mkdir()
    profile(camera=LENS).save(yard.cameras / "yardphone.json")
    assert not yard.kept() and yard.camera() == "profile"
    (yard.cameras / "yardphone.json").unlink()
    assert not yard.kept() and yard.camera() == "exif"


def test_what_was_said_otherwise_is_measured_again(yard: Yard) -> None:
    assert not yard.kept()
    said = replace(yard.task.said, bar_x_mm=149.5)
    yard.task = replace(yard.task, said=said)
    assert not yard.kept() and yard.kept()


def replace_model(lens: Lens) -> Lens:
    return lens.model_copy(update={"model": "Yardphone 9"})
