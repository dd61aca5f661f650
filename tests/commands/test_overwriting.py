"""A result is never replaced by another rig's: told before any work, with what to do; the same rig may be done again."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from calib.outcome.errors import InputError
from photomeasure.record.schema import read_record
from tests.cli.test_look import run
from tests.rig.scenario import SAMPLES as RIGS
from tests.sample_requests import SAMPLES

BARS = ("--bar-x", "150", "--bar-y", "150")


def rig(place: Path, sample: str) -> Path:
    """A photograph that is called as every phone calls its first."""
    place.mkdir(parents=True)
    return Path(shutil.copy(SAMPLES / f"{sample}.jpg", place / "IMG_1.jpg"))


def test_a_second_rig_of_the_same_file_name_does_not_replace_the_first(tmp_path: Path) -> None:
    first, second = rig(tmp_path / "a", "coupled"), rig(tmp_path / "b", "refuse")
    out = tmp_path / "out"
    assert run("measure", first, *BARS, "--rig", "Truck 2", "--out", out)[0] == 0
    before = {path.name: path.read_bytes() for path in out.iterdir()}
    for place in (("--out", out), ("--json", out / "IMG_1.json")):
        with pytest.raises(InputError, match="record of Truck 2 of other photographs") as told:
            run("measure", second, *place)
        assert "another folder" in told.value.remedy
    assert {path.name: path.read_bytes() for path in out.iterdir()} == before
    assert run("tape", out / "IMG_1.json", "--reads", "421")[0] == 0
    assert run("measure", first, *BARS, "--coupled", "--out", out)[0] == 0  # the same rig, said better: done again
    again = read_record(out / "IMG_1.json")
    assert again.state.coupled is True and again.tape is not None and again.tape.reading_mm == 421.0


@pytest.mark.usefixtures("in_this_process")
def test_a_batch_keeps_the_record_of_another_rig_of_that_name(tmp_path: Path) -> None:
    rig(tmp_path / "monday", "refuse")
    rig(tmp_path / "tuesday", "coupled")
    out = tmp_path / "out"
    assert run("batch", tmp_path / "monday", "--out", out, "--jobs", "1")[0] == 3
    before = (out / "IMG_1.json").read_bytes()
    code, said, _ = run("batch", tmp_path / "tuesday", "--out", out, "--jobs", "1", *BARS)
    assert code == 0 and "IMG_1 (earlier 1).json" in said
    assert (out / "IMG_1 (earlier 1).json").read_bytes() == before
    assert read_record(out / "IMG_1.json").height_mm is not None


def test_a_second_plan_does_not_replace_the_first(tmp_path: Path) -> None:
    one, other = RIGS / "ferncombe-yard-truck-2.toml", sorted(RIGS.glob("*.toml"))[-1]
    assert one != other
    assert run("plan", one, "--out", tmp_path / "plan")[0] == 0
    before = (tmp_path / "plan" / "plan.json").read_bytes()
    for place in (("--out", tmp_path / "plan"), ("--json", tmp_path / "plan" / "plan.json")):
        with pytest.raises(InputError, match="plan of another rig"):
            run("plan", other, *place)
    assert (tmp_path / "plan" / "plan.json").read_bytes() == before
    assert run("plan", one, "--out", tmp_path / "plan")[0] == 0
    assert json.loads(before)["title"]
