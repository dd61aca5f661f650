"""A record as other programs hand it back: with a mark before it, its keys in another order, one of them twice, impossible dates."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path
from typing import Any

import pytest

from photomeasure.shown.report.style import paragraph, printable
from tests.running import invoked
from tests.sample_requests import SAMPLES


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("written")
    shutil.copyfile(SAMPLES / "chat.jpg", place / "chat.jpg")
    done = invoked("measure", place / "chat.jpg", "--bar-x", "150", "--bar-y", "150", "--json", place / "r.json")
    assert done.exit_code == 0
    return place / "r.json"


def beside(written: Path, text: str | bytes) -> Path:
    path = written.with_name("odd.json")
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def changed(written: Path, **fields: Any) -> Path:
    return beside(written, json.dumps({**json.loads(written.read_text()), **fields}))


def test_a_mark_of_the_encoding_before_it(written: Path) -> None:
    """As some editors put it: a traceback before."""
    odd = beside(written, b"\xef\xbb\xbf" + written.read_bytes())
    assert invoked("verify", odd).exit_code == 0
    assert invoked("audit", odd).exit_code == 0


def test_a_key_that_stands_twice(written: Path) -> None:
    """ "The same" before, while another program reads another height in it; no seal takes it either."""
    odd = beside(written, written.read_text().replace('"height_mm"', '"height_mm": 400.0,\n "height_mm"', 1))
    done = invoked("verify", odd)
    assert done.exit_code == 3 and "a key stands twice" in done.stdout and "THE SAME" not in done.stdout


@pytest.mark.parametrize("number", ["NaN", "1e999"])
def test_a_number_that_json_does_not_have_is_named_by_its_field(written: Path, number: str) -> None:
    """It was said to have a key twice."""
    odd = beside(written, re.sub(r'"height_mm": [0-9.]+', f'"height_mm": {number}', written.read_text(), count=1))
    done = invoked("verify", odd)
    assert done.exit_code == 3 and "height_mm" in done.stdout and "twice" not in done.stdout


def test_keys_in_another_order_take_a_tape(written: Path) -> None:
    """ "It is no record of this program" was said of what had just been read as one."""
    odd = beside(written, json.dumps(json.loads(written.read_text()), sort_keys=True))
    assert invoked("tape", odd, "--reads", "391").exit_code == 0
    assert json.loads(odd.read_text())["tape"]["reading_mm"] == 391.0


@pytest.mark.parametrize("computed", ["9999-12-31T23:59:59-23:59", "0001-01-01T00:00:00+23:59"])
def test_dates_at_the_ends_of_time(written: Path, computed: str) -> None:
    odd = changed(written, computed=computed)
    assert invoked("tape", odd, "--reads", "391").exit_code == 0
    assert invoked("report", odd, "--out", written.with_name("case.pdf")).exit_code == 0


def test_a_camera_whose_clock_is_ahead_is_told(written: Path) -> None:
    odd = changed(written, photographed="2999-01-01T12:00:00")
    done = invoked("tape", odd, "--reads", "391")
    assert "days after it was computed: one of the two clocks is wrong" in done.stdout


def test_texts_without_end_make_no_report_without_end(written: Path) -> None:
    """A rig's name of a million signs: the report was not there after minutes. One sign at a time it would take as long again."""
    assert len(printable("x" * 1_000_000)) < 4100 and "left out" in printable("x" * 1_000_000)
    assert max(len(word) for word in paragraph("x" * 4000).getPlainText().split()) == 400
    odd = changed(written, rig="x" * 1_000_000)
    assert invoked("report", odd, "--out", written.with_name("case.pdf")).exit_code == 0
