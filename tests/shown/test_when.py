"""When a photograph was taken: the camera's clock, and how old it is where that matters."""

from __future__ import annotations

import pytest

from photomeasure.record.measure_and_record import recorded
from photomeasure.shown import words
from tests.sample_requests import sample_request


@pytest.mark.parametrize(
    ("taken", "computed", "said"),
    [
        ("2026-05-14T09:32:10", "2026-05-14T18:00:00+00:00", "14 May 2026, 09:32 (camera clock)"),
        ("2026-05-14T09:32:10", "2026-06-13T09:00:00+00:00", "14 May 2026, 09:32 (camera clock)"),
        ("2026-05-14T09:32:10", "2026-06-13T10:00:00+00:00", "14 May 2026, 09:32 (camera clock), 30 days earlier"),
        (
            "2026-06-14T09:32:10",
            "2026-05-14T10:00:00+00:00",
            "14 June 2026, 09:32 (camera clock), 30 days after it was computed: one of the two clocks is wrong",
        ),
        ("2026-05-14T22:32:10", "2026-05-14T10:00:00+00:00", "14 May 2026, 22:32 (camera clock)"),
        ("in spring", "2026-05-14T10:00:00+00:00", "in spring (camera clock)"),
        (None, "2026-05-14T10:00:00+00:00", "time not in the file"),
    ],
)
def test_an_old_photograph_is_named(taken: str | None, computed: str, said: str) -> None:
    record = recorded(sample_request())[1].model_copy(update={"photographed": taken, "computed": computed})
    assert words.photographed(record) == said
