"""Requests for the sample pictures with the centre given, so that nothing has to be searched for."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path

from photomeasure.asked.bars import Bars
from photomeasure.asked.facts import unsaid
from photomeasure.asked.request import Request
from photomeasure.asked.state import State
from photomeasure.rules.load import default_rule

SAMPLES = Path(__file__).resolve().parents[1] / "sample_images"


def sample_request(name: str = "within", **changes: object) -> Request:
    """What the truth file of a sample says, as a person would have typed it; changes: other fields of the request."""
    truth = tomllib.loads((SAMPLES / f"{name}.toml").read_text(encoding="utf-8"))
    request = Request(
        photos=tuple(SAMPLES / file for file in truth["files"]),
        rule=default_rule("ball-50"),
        centres_px=tuple((float(x), float(y)) for x, y in truth["centre_px"]),
        bars=Bars(x_mm=truth["bar_x_mm"], y_mm=truth["bar_y_mm"]),
        state=State(coupled=truth["coupled"], laden=truth["laden"], level_ground=truth["level_ground"]),
        unsaid=unsaid(None, None, None),
    )
    return replace(request, **changes)  # type: ignore[arg-type]
