"""A mark that was let go gives the program's own figure; the table with which a browser goes on gives the same nearby."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest
from starlette.testclient import TestClient

from calib.camera.camera import unproject
from photomeasure.asked.bars import Bars
from photomeasure.asked.request import Request
from photomeasure.asked.state import State
from photomeasure.pipeline import Marks, Result, Standing, measure, measure_from, stand
from photomeasure.rules.load import default_rule
from photomeasure.web.live.slim import slim
from photomeasure.web.live.table import LiveTable, first_table, table_of
from tests.web.sending import AS_PHOTOGRAPHED, SAMPLES, here, photo, record, send

WITHIN = (2053.8, 1465.9)  # near the ball of within.jpg
SET = ("set-1.jpg", "set-2.jpg", "set-3.jpg")


def request_of(*names: str, **said: Any) -> Request:
    return Request(
        photos=tuple(SAMPLES / name for name in names),
        rule=default_rule("ball-50"),
        bars=Bars(x_mm=150.0, y_mm=150.0),
        state=State(coupled=False, laden=False, level_ground=True),
        **said,
    )


def kept(*names: str) -> Standing:
    request = request_of(*names)
    standing = stand(request)
    assert isinstance(standing, Standing)
    return slim(standing)


def by_ray(table: LiveTable, photo_number: int, px: tuple[float, float]) -> float:
    """The formula of the page's script: the ray meets the plane."""
    lens_and, turn, move = (np.array(part) for part in table.cameras[photo_number])
    rotation = turn.reshape(3, 3)
    at, ray = -rotation.T @ move, unproject(lens_and, np.array([px]))[0] @ rotation
    return float(at[2] + (table.plane_mm - at[1]) / ray[1] * ray[2])


def height(standing: Standing, *centres: tuple[float, float] | None) -> tuple[float, Result]:
    result = measure_from(standing, Marks(centres_px=centres, sigma_px=1.0))
    assert isinstance(result, Result)
    return result.expanded.height_mm, result


def test_without_the_pictures_a_mark_gives_the_same_to_the_last_digit() -> None:
    marked = measure(request_of("within.jpg", centres_px=(WITHIN,), pick_sigma_px=1.5))
    again = measure_from(kept("within.jpg"), Marks(centres_px=(WITHIN,), sigma_px=1.5))
    assert isinstance(marked, Result) and isinstance(again, Result)
    assert again.expanded == marked.expanded and again.verdict == marked.verdict and again.warnings == marked.warnings
    assert kept("within.jpg").views[0].photo.grey.strides == (0, 0)  # nothing is held of it


@pytest.mark.parametrize("step", [(3.0, 0.0), (0.0, 30.0), (-100.0, 100.0)])
def test_one_mark_by_the_ray_is_the_solution_itself(step: tuple[float, float]) -> None:
    standing = kept("within.jpg")
    begun, result = height(standing, WITHIN)
    table, moved = table_of(standing, result), (WITHIN[0] + step[0], WITHIN[1] + step[1])
    true, _ = height(standing, moved)
    assert begun + by_ray(table, 0, moved) - by_ray(table, 0, WITHIN) == pytest.approx(true, abs=1e-3)
    # before anything is marked, too, but for what the centre's own depth turns with
    assert by_ray(first_table(standing), 0, moved) == pytest.approx(true, abs=0.5)


def test_several_marks_by_their_slopes() -> None:
    standing = kept(*SET)
    found = measure_from(standing)
    assert isinstance(found, Result)
    centres = [(float(px[0]), float(px[1])) for px in found.sightings.centre_px if px is not None]
    assert len(centres) == 3
    begun, result = height(standing, *centres)
    table = table_of(standing, result)
    for number in range(3):
        slope = table.slopes[number]
        assert slope is not None
        for right, down in ((2.0, 0.0), (0.0, 2.0), (-1.5, 1.5)):
            moved = list(centres)
            moved[number] = (centres[number][0] + right, centres[number][1] + down)
            true, _ = height(standing, *moved)
            assert begun + slope[0] * right + slope[1] * down == pytest.approx(true, abs=0.01)


def test_verdicts_change_where_the_rule_says() -> None:
    standing = kept("within.jpg")
    _, result = height(standing, WITHIN)
    table = table_of(standing, result)
    names = [name for _, name in table.verdicts]
    assert names == ["below", "undecided", "within", "undecided", "above"]
    half = (result.expanded.interval_mm[1] - result.expanded.interval_mm[0]) / 2
    # 350 to 460 mm, guarded by U on either side (design of the rule: simple acceptance shrunk by its guard band)
    assert [at for at, _ in table.verdicts[1:]] == pytest.approx(
        [350 - half, 350 + half, 460 - half, 460 + half], abs=0.02
    )


def live(client: TestClient, place: str, *marks: Any) -> Any:
    answer = client.post(place + "live", content=json.dumps(marks), headers={"content-type": "application/json"})
    assert answer.status_code == 200, answer.text
    return answer.json()


def test_the_page_says_the_figure_that_it_then_keeps(client: TestClient) -> None:
    shown = send(client, photo("within.jpg"), **AS_PHOTOGRAPHED)
    place = here(shown)
    begun = live(client, place, None)
    assert begun["table"]["ball"] == 50.0 and "height" not in begun
    said = live(client, place, [*WITHIN, 2.0])
    kept_after = client.post(place + "measure", data={"marks": "these", "x1": WITHIN[0], "y1": WITHIN[1], "u1": "2.0"})
    assert record(client, kept_after)["height_mm"] == said["height_mm"] and said["height"] in kept_after.text
    assert said["look"] == record(client, kept_after)["verdict"]
    assert record(client, client.get(place))["centre"]["source"] == "ball"  # asking alone changes nothing


def test_photographs_that_were_never_measured_and_one_without_a_sheet(client: TestClient) -> None:
    first = send(client, photo("chat.jpg"), **AS_PHOTOGRAPHED, mark="first")
    assert "height" in live(client, here(first), [820.26, 596.006, 1.0])
    refused = send(client, photo("refuse.jpg"), **AS_PHOTOGRAPHED)
    said = live(client, here(refused), [100, 100, 1.0])
    assert "upload-1" not in json.dumps(said) and (said.get("refused") or said["height"])
    outside = live(client, here(first), [-500, 3, 1.0])
    assert "outside chat.jpg" in outside["refused"] and "height" not in outside


@pytest.mark.parametrize(
    "body",
    ["", "{}", "[]", "null", "[null,null]", "[[1,2]]", '[["a",2,3]]', "[[1e999,2,3]]", "[[NaN,2,3]]", "[[true,[],3]]", "[" * 5000, "[5]",
     "[[1" + 400 * "0" + ",2,3]]"],
)  # fmt: skip
def test_marks_that_are_none(client: TestClient, body: str) -> None:
    place = here(send(client, photo("chat.jpg"), **AS_PHOTOGRAPHED, mark="first"))
    answer = client.post(place + "live", content=body, headers={"content-type": "application/json"})
    assert answer.status_code == 400 and "marks" in answer.text
    assert client.post(place + "live", content="[null]").status_code == 415
    large = client.post(place + "live", content="[" + " " * 200_000, headers={"content-type": "application/json"})
    assert large.status_code == 413
