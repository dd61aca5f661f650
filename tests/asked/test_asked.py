"""What was asked is in the record in full: a request goes in and comes out the same, whatever its fields hold."""

from __future__ import annotations

import json
from dataclasses import fields, replace
from pathlib import Path

import pytest

from calib.outcome.errors import InputError
from photomeasure.asked.bars import Bars
from photomeasure.asked.bay_file import Bay
from photomeasure.asked.carried import Carried
from photomeasure.asked.case import Particulars
from photomeasure.asked.request import Request
from photomeasure.asked.sag import Sag
from photomeasure.asked.state import State
from photomeasure.record.request_kept import asked_part, request_from
from photomeasure.record.schema import AskedPart
from photomeasure.rules.decision import parse_decision
from photomeasure.rules.load import load_rule
from tests.calib.profile.test_profile import profile
from tests.sample_requests import sample_request

BAY = Bay.model_validate(
    {
        "schema": "photomeasure/bay/1",
        "dictionary": "DICT_4X4_50",
        "markers": [{"id": 3, "corners_mm": [[0.0, 0.1, 100.0], [100, 0, 100], [100, 0, 0], [0, 0, 0]]}],
        "u_mm": 0.3,
        "coupling_plane": {"point_mm": [0, 0, 0], "normal": [0, 1, 0], "u_mm": 5.0},
    }
)
# every field of a request, none at its default
FULL = Request(
    photos=(Path("a.jpg"), Path("b.jpg")),
    rule=load_rule("dk"),
    coupling="pin",
    centres_px=((1.25, 2.5), None),
    pick_sigma_px=0.7,
    ball_diameter_mm=47.55,
    bars=Bars(x_mm=149.5, y_mm=150.25),
    state=State(coupled=True, laden=False, level_ground=True, level_control=True),
    decision=parse_decision("guarded=0.83"),
    level_within_mm_per_m=5.0,
    profile=profile(),
    profile_folder=Path("nowhere"),
    bay=BAY,
    before_photos=1,
    standing=True,
    sheet_untouched=True,
    tag_by_gauge=True,
    carried=Carried(
        tag=27,
        mean=(90.0, -20.0, 45.0, 0.4, 0.1, -0.2),
        covariance=tuple(tuple(0.25 * float(i == j) for j in range(6)) for i in range(6)),
        with_height=(0.1, 0.2, 0.3, 0.01, 0.02, 0.03),
        height_mm=452.5,
        u_mm=0.75,
        effects={"foot gap [sheet.gap]": (0.01, 0.0, 0.02, 0.0, 0.0, 0.0, 0.29)},
        record="before.json",
        sheet_untouched=True,
    ),
    sag=Sag(ball_load_kg=200.0, stand_mass_kg=92.0, stand_drop_mm=10.0, load_drop_mm=25.0),
    case=Particulars(
        rig="Truck 2", case="26-117", by="M. Hale", place="Ferncombe", note="wet", more=(("registration", "FC 22"),)
    ),
    unsaid=frozenset({"coupling", "rule"}),
    by_default=frozenset({"laden"}),
)


def through_a_file(part: AskedPart) -> AskedPart:
    return AskedPart.model_validate(json.loads(json.dumps(part.model_dump(mode="json"), allow_nan=False)))


def test_every_field_of_a_request_comes_back(tmp_path: Path) -> None:
    again = request_from(through_a_file(asked_part(FULL, (), 7)), FULL.photos, tmp_path)
    assert replace(again, profile_folder=FULL.profile_folder) == FULL


def test_the_request_above_leaves_no_field_at_its_default() -> None:
    """Else a field that is forgotten would go unnoticed there."""
    plain = Request(photos=(), rule=load_rule("au-ball-50"))
    assert [f.name for f in fields(Request) if getattr(plain, f.name) == getattr(FULL, f.name)] == []
    assert all(getattr(FULL.state, f.name) is not None for f in fields(State))


def test_an_ordinary_request_comes_back(tmp_path: Path) -> None:
    request = sample_request()
    assert request_from(through_a_file(asked_part(request, (), None)), request.photos, tmp_path) == request


def test_what_does_not_fit_is_named(tmp_path: Path) -> None:
    part = asked_part(sample_request(), (), None)
    broken = part.model_copy(update={"rule": part.rule | {"edition": ""}})
    with pytest.raises(InputError, match="edition"):
        request_from(broken, (), tmp_path)
