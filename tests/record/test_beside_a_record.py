"""What is done with a record that is there: a tape beside it, another rig's put aside, what it asks for. By hand, no picture."""

from __future__ import annotations

import hashlib
import math
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from calib.outcome.errors import InputError
from calib.outcome.refusal import Refusal
from photomeasure.asked.bars import Bars
from photomeasure.asked.tape_said import TapeSaid
from photomeasure.record.earlier import earlier_tape, set_aside
from photomeasure.record.level import _photos
from photomeasure.record.needs import _of_bars
from photomeasure.record.schema import BudgetRow, PhotoPart, Record, StatePart, read_record
from photomeasure.record.tape import read_tape
from photomeasure.record.with_tape import with_tape
from photomeasure.seen.look import Refused


def record(**more: Any) -> Record:
    """A rig of which nothing was said, 400 mm high."""
    state = StatePart(coupling="ball-50", coupled=None, laden=None, level_ground=None)
    figure = {"height_mm": 400.0, "u_mm": 2.5, "U_mm": 5.0}
    given = {"version": "1", "computed": "2026-11-25T10:00:00+00:00", "verdict": "within", "sentence": "Within."}
    return Record(**(given | figure | {"state": state} | more))


BY_TAG = record(
    budget=[
        BudgetRow(quantity="tag placement", u_mm=2.0, share=0.64),
        BudgetRow(quantity="focal length", u_mm=1.5, share=0.36),
    ]
)


def test_how_a_tag_was_placed_is_not_between_the_photograph_and_a_tape_up_to_that_tag() -> None:
    """u^2 = 2.5^2 less the tag's 2.0^2: 1.5 mm, so U = 3.0; En = d / sqrt(3.0^2 + U_tape^2) (ISO 13528, as in `tape.compare`)."""
    told = with_tape(BY_TAG, TapeSaid(reading_mm=403.0, to="tag")).tape
    alone = read_tape(403.0, to="tag")  # what lies between: the tape itself, without the tag's placement
    assert told is not None and told.En == pytest.approx(-3.0 / math.hypot(3.0, alone.U_mm))
    other = with_tape(BY_TAG, TapeSaid(reading_mm=403.0)).tape
    assert other is not None and other.En == pytest.approx(-3.0 / math.hypot(5.0, read_tape(403.0).U_mm))


def test_a_record_of_other_photographs_is_put_aside_and_never_lost(tmp_path: Path) -> None:
    path = tmp_path / "rig.json"
    digest = hashlib.sha256(b"one").hexdigest()
    parts = {name: PhotoPart(file="a.jpg", sha256=sha) for name, sha in (("own", digest), ("other", "f" * 64))}
    made = record(photos=[parts["own"]])
    path.write_text(made.to_json(), encoding="utf-8")
    assert set_aside(path, made) is None and path.exists()
    for number, rig in ((1, "first"), (2, "second")):
        path.write_text(record(photos=[parts["other"]], rig=rig).to_json(), encoding="utf-8")
        assert set_aside(path, made) == tmp_path / f"rig (earlier {number}).json"
        assert not path.exists() and read_record(tmp_path / f"rig (earlier {number}).json").rig == rig
    path.write_text("no record", encoding="utf-8")
    assert set_aside(path, made) is None and path.read_text() == "no record"


@pytest.mark.parametrize(
    ("bars", "asks"),
    [(Bars(), "bars"), (Bars(y_mm=150.0), "bar-x"), (Bars(x_mm=150.0), "bar-y"), (Bars(x_mm=150.0, y_mm=150.0), None)],
)
def test_the_bar_that_nobody_read_is_asked_for(bars: Bars, asks: str | None) -> None:
    """Where the height hangs on the print's scale; in a bay without the kit it does not."""
    for index, expected in (({"print.x": 0}, asks), ({}, None)):
        solved = SimpleNamespace(where=SimpleNamespace(index=index))
        result: Any = SimpleNamespace(estimate=solved, request=SimpleNamespace(bars=bars))
        assert [part.code for part in _of_bars(result)] == ([] if expected is None else [expected])


def test_a_record_that_says_nothing_of_photographs_from_before_has_none() -> None:
    from photomeasure.record.schema import AskedPart

    assert AskedPart.model_fields["before_photos"].default == 0


def test_each_photograph_of_a_level_keeps_its_own_marks(tmp_path: Path) -> None:
    """Two on the ground and two on the rail a photograph, in order."""
    ground, rail = [[(10.0 * row + i, 1.0) for i in range(4)] for row in (1, 2)]
    request = SimpleNamespace(photos=[tmp_path / "a.jpg", tmp_path / "b.jpg"])
    asked: Any = SimpleNamespace(request=request, ground_px=ground, rail_px=rail)
    refused = Refused(request=None, refusal=Refusal(code="no-sheet", reason="", remedy=""))  # type: ignore[arg-type]
    parts = _photos(asked, (), refused)
    assert [part.ground_px for part in parts] == [ground[:2], ground[2:]]
    assert [part.rail_px for part in parts] == [rail[:2], rail[2:]] and parts[0].sha256 is None


def test_a_reading_that_no_rig_has_is_wrong_usage() -> None:
    with pytest.raises(InputError):
        with_tape(BY_TAG, TapeSaid(reading_mm=40.0))


def test_the_tape_of_an_earlier_record_is_found_whatever_its_file_looks_like(tmp_path: Path) -> None:
    photo, other, path = tmp_path / "a.jpg", tmp_path / "b.jpg", tmp_path / "rig.json"
    photo.write_bytes(b"one photograph")
    other.write_bytes(b"another")
    part = PhotoPart(file="a.jpg", sha256=hashlib.sha256(b"one photograph").hexdigest())
    assert earlier_tape(path, [photo]) is None
    path.write_text(record(photos=[part]).to_json())
    assert earlier_tape(path, [photo]) is None
    with pytest.raises(InputError, match="other photographs"):
        earlier_tape(path, [other])
    path.write_text(with_tape(record(photos=[part]), TapeSaid(reading_mm=403.0)).to_json())
    found = earlier_tape(path, [photo])
    assert found is not None and found.reading_mm == 403.0
    whole = path.read_text()
    for broken in (
        whole[: len(whole) // 2],
        whole.replace(f'"{part.sha256}"', "[]"),
        whole.replace('"photos": [', '"photos": 3, "pictures": ['),
        whole.replace("photomeasure/record/1", "photomeasure/record/0"),
    ):
        path.write_text(broken)
        assert earlier_tape(path, [photo]) is None  # whether it may be written over is told elsewhere
