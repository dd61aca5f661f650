"""The title line of page 1 where a photograph is old: the date's words take the room, and nothing runs over anything."""

from __future__ import annotations

import pytest

from photomeasure.shown.report.measurement import measurement_pdf
from tests.shown.report.samples import layout_faults, measured, pages_text
from tests.shown.report.test_measurement import PICTURES


@pytest.mark.parametrize("rig", [None, "Yard truck 2 of the Ferncombe hire yard"])
@pytest.mark.parametrize("taken", ["2019-05-14T13:48:00", "2026-01-01T03:04:00", None])
def test_the_title_line_has_room(rig: str | None, taken: str | None) -> None:
    record = measured(photographed=taken, rig=rig, computed="2026-01-02T03:04:05+00:00")
    made = measurement_pdf(record, PICTURES)
    assert layout_faults(made) == []
    assert ("2424 days earlier" in pages_text(made)[0]) is (taken is not None and taken < "2020")
