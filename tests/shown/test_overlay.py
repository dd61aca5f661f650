"""The annotated picture of whole measurements: marks lie where the true projection says, refusals are drawn.

Source of the truth: OpenCV's projection of the world points of a picture painted by `tests/shown/overlay_views.py`.
"""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from calib.outcome.refusal import Refusal
from photomeasure.asked.bars import Bars
from photomeasure.asked.request import Request
from photomeasure.asked.state import State
from photomeasure.pipeline import Result, measure
from photomeasure.record.made_from_result import record_of, record_of_refusal
from photomeasure.record.schema import Record
from photomeasure.rules.load import default_rule
from photomeasure.seen.look import Refused
from photomeasure.shown.picture.caption import foot, foot_lines, head, head_lines
from photomeasure.shown.picture.geometry import marks
from photomeasure.shown.picture.overview import overviews
from photomeasure.shown.picture.pictures import eye_of, heights_of, pictures, pictures_and_overviews
from photomeasure.shown.picture.sheets import corners_px, sheet_outlines_px
from photomeasure.shown.picture.window import Window, choose
from tests.shown.overlay_views import Yard, yard

STATED = State(coupled=False, laden=True, level_ground=True)


def taken(
    folder: Path, *views: Yard, names: tuple[str, ...] = (), coupling: str = "ball-50", pick: bool = True
) -> Request:
    paths = []
    for number, view in enumerate(views):
        path = folder / (names[number] if names else f"plant trailer B {number}.jpg")
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(view.data)
        paths.append(path)
    return Request(
        photos=tuple(paths),
        rule=default_rule(coupling),
        coupling=coupling,
        centres_px=tuple(view.centre_px for view in views) if pick else (),
        bars=Bars(x_mm=180.0, y_mm=250.0),
        state=STATED,
    )


def measured(request: Request) -> tuple[Record, Result]:
    result = measure(request)
    assert isinstance(result, Result)
    return record_of(result), result


def opened(data: bytes) -> Image.Image:
    picture = Image.open(io.BytesIO(data))
    assert picture.format == "JPEG"
    picture.load()
    return picture


@pytest.fixture(scope="module")
def one(tmp_path_factory: pytest.TempPathFactory) -> tuple[Yard, Record, Result]:
    view = yard()
    return (view, *measured(taken(tmp_path_factory.mktemp("one"), view)))


def _drawing(record: Record, picture: Image.Image) -> NDArray[np.float64]:
    """The photograph's part, without the strips above and below."""
    top = head(record, picture.width).size[1]
    bottom = foot(record, Path(record.photos[0].file).name, 1, len(record.photos), picture.width).size[1]
    return np.asarray(picture, dtype=np.float64)[top : picture.height - bottom]


def _window(record: Record, result: Result) -> Window:
    drawn = marks(eye_of(result, 0), heights_of(record, result))
    view = result.views[0]
    interest = [drawn.interest_px(), *sheet_outlines_px(view.finding), corners_px(view)]
    return choose(view.photo.size_px, np.concatenate(interest))


def test_marks_lie_on_the_true_ground_and_the_true_centre(one: tuple[Yard, Record, Result]) -> None:
    """Within 3 mm in the world: the print, the pick and the estimate are all in it."""
    view, record, result = one
    drawn = marks(eye_of(result, 0), heights_of(record, result))
    x, _, height = view.centre_mm
    truth = view.px(np.array([[x, 0, 0], [x, 0, height], [x - 250, 0, 350.0], [x + 250, 0, 460.0]]))
    per_mm = float(np.linalg.norm(truth[1] - truth[0])) / height
    seen = np.array([drawn.height_px[0], drawn.height_px[-1], drawn.band_ends_px[0][0], drawn.band_ends_px[1][-1]])
    assert np.linalg.norm(seen - truth, axis=1).max() < 3.0 * per_mm
    assert record.height_mm == pytest.approx(height, abs=2.0)


def test_the_picture_shows_yellow_at_the_foot_blue_in_the_band_and_the_coupling_untouched(
    one: tuple[Yard, Record, Result],
) -> None:
    view, record, result = one
    ((name, data),) = pictures(record, result)
    assert name == "plant trailer B 0-height.jpg"
    picture = opened(data)
    drawing, window = _drawing(record, picture), _window(record, result)
    assert drawing.shape[:2] == (window.size[1], window.size[0])

    def colour(world: tuple[float, float, float], reach: int = 6) -> NDArray[np.float64]:
        x, y = np.round(window.at(view.px(np.array([world]))[0])).astype(int)
        patch: NDArray[np.float64] = drawing[y - reach : y + reach + 1, x - reach : x + reach + 1].reshape(-1, 3)
        return patch

    x, _, height = (float(value) for value in view.centre_mm)
    foot_tick = colour((x, 0.0, 0.0))
    assert ((foot_tick[:, 0] > 200) & (foot_tick[:, 1] > 170) & (foot_tick[:, 2] < 90)).any()
    strip = np.median(colour((x - 200.0, 0.0, 440.0)), axis=0)
    assert strip[2] > strip[0] + 25  # inside the band: blue over grey
    beyond = np.median(colour((x - 200.0, 0.0, 490.0)), axis=0)
    assert abs(beyond[2] - beyond[0]) < 12  # above the band: as photographed
    ball = np.median(colour((x + 12.0, 0.0, height + 12.0), 3), axis=0)
    np.testing.assert_allclose(ball, 40, atol=14)  # nothing over the coupling but the cross


def test_drawn_together_pictures_and_overviews_are_what_they_are_alone(one: tuple[Yard, Record, Result]) -> None:
    """Picture: the same bytes. Overview: of colours that are decoded for the picture, so as like as two sizes of one decoder."""
    _, record, result = one
    done: list[str] = []
    drawn, small = pictures_and_overviews(record, result, meanwhile=lambda: done.append("loaded"))
    assert drawn == pictures(record, result) and done == ["loaded"]
    (alone,) = overviews(record, [view.photo for view in result.views])
    together, by_itself = (np.asarray(opened(data), dtype=np.float64) for data in (small[0], alone))
    assert together.shape == by_itself.shape and max(together.shape) == 1000
    assert np.abs(together - by_itself).mean() < 2.0


def test_the_rules_edition_and_confidence_stay_with_the_band(one: tuple[Yard, Record, Result]) -> None:
    """Source: the rule file itself, which calls its source secondary."""
    texts = [line.text for line in head_lines(one[1])]
    assert any("350-460 mm" in text for text in texts)
    assert any("ADR 62/02" in text and "second-hand" in text for text in texts)


def test_one_picture_a_photograph_with_its_own_name(tmp_path: Path) -> None:
    views = yard(), yard(lens_mm=(-500.0, -1400.0, 420.0)), yard(lens_mm=(600.0, -1300.0, 450.0))
    request = taken(tmp_path, *views, names=("left/rig.jpg", "right/rig.jpg", "rig 3.jpg"))
    record, result = measured(request)
    drawn = pictures(record, result)
    assert [name for name, _ in drawn] == ["rig-height.jpg", "rig-2-height.jpg", "rig 3-height.jpg"]
    assert "photograph 2 of 3" in foot_lines(record, "rig.jpg", 2, 3)[1].text
    for _, data in drawn:
        opened(data)


def test_portrait_keeps_its_proportions(tmp_path: Path) -> None:
    record, result = measured(taken(tmp_path, yard(size_px=(1200, 1600))))
    window = _window(record, result)
    assert window.size[1] / window.size[0] == pytest.approx(4 / 3, abs=0.01)
    assert _drawing(record, opened(pictures(record, result)[0][1])).shape[0] == window.size[1]


def test_a_coupling_far_outside_the_frame_is_no_error(tmp_path: Path) -> None:
    """A centre marked at the edge of the picture: half of the marks fall outside."""
    view = yard()
    request = taken(tmp_path, view)
    record, result = measured(replace(request, centres_px=((1599.0, 20.0),)))
    drawn = pictures(record, result)
    assert len(drawn) == 1 and opened(drawn[0][1]).size


def test_without_a_band_there_is_no_strip_and_the_words_say_so(tmp_path: Path) -> None:
    record, result = measured(taken(tmp_path, yard(), coupling="pin"))
    assert record.verdict == "no-band"
    assert len(marks(eye_of(result, 0), heights_of(record, result)).band_px) == 0
    assert "No band" in head_lines(record)[0].text
    opened(pictures(record, result)[0][1])


def test_a_refusal_shows_the_sheet_reason_and_remedy(tmp_path: Path) -> None:
    outcome = measure(taken(tmp_path, yard(sheet=False)))
    assert isinstance(outcome, Refused)
    record = record_of_refusal(outcome)
    texts = [line.text for line in head_lines(record)]
    assert outcome.refusal.reason in texts and outcome.refusal.remedy in texts
    ((name, data),) = pictures(record, outcome)
    assert name == "plant trailer B 0-height.jpg"
    opened(data)


def test_candidates_are_ringed_in_yellow(tmp_path: Path, one: tuple[Yard, Record, Result]) -> None:
    _, _, result = one
    refusal = Refusal(code="ball-ambiguous", reason="Two round things could be the ball.", remedy="Mark the right one.")
    spots = (np.array([700.0, 500.0]), np.array([1000.0, 520.0]))
    outcome = Refused(
        request=result.request,
        refusal=refusal,
        photos=(result.views[0].photo,),
        views=result.views,
        candidates_px=(spots,),
    )
    record = record_of_refusal(outcome)
    picture = opened(pictures(record, outcome)[0][1])
    drawing = np.asarray(picture, dtype=np.float64)[head(record, picture.width).size[1] :]
    yellow = (drawing[:, :, 0] > 190) & (drawing[:, :, 1] > 150) & (drawing[:, :, 2] < 110)
    assert yellow.sum() > 1500


def test_a_photograph_that_cannot_be_decoded_has_no_picture(tmp_path: Path) -> None:
    path = tmp_path / "cut short.jpg"
    path.write_bytes(yard().data[:20_000])
    outcome = measure(Request(photos=(path,), rule=default_rule("ball-50")))
    assert isinstance(outcome, Refused)
    assert pictures(record_of_refusal(outcome), outcome) == []
