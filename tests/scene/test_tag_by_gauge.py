"""A centre tag that was placed with the kit's gauge says so: less is uncertain of its height, and the record keeps the fact."""

from __future__ import annotations

from pathlib import Path

from photomeasure.asked.requested import request_of
from photomeasure.asked.stated import Stated
from photomeasure.record.request_kept import asked_part, request_from
from photomeasure.scene.priors import tag_priors


def placement(*, by_gauge: bool) -> tuple[float, str]:
    (prior,) = [prior for prior in tag_priors(by_gauge=by_gauge) if prior.quantity == "tag placement"]
    return prior.u, prior.source


def test_the_gauge_places_a_tag_better_than_the_eye_and_says_how_it_was_judged() -> None:
    by_eye, by_gauge = placement(by_gauge=False), placement(by_gauge=True)
    # read to half a millimetre, stood twice and stuck to half a millimetre (rectangles), 25 mm of print at 97 to 100 %
    pieces = [0.5 / 3**0.5] * 4 + [25.0 * 0.03 / 12**0.5]
    assert abs(by_gauge[0] - sum(piece**2 for piece in pieces) ** 0.5) < 0.05
    assert by_gauge[0] < by_eye[0] and "gauge" in by_gauge[1] and "gauge" not in by_eye[1]


def test_what_was_said_of_it_is_kept_and_asked_again(tmp_path: Path) -> None:
    for said in (True, False, None):
        request = request_of(Stated(coupling="pin", tag_by_gauge=said), ())
        again = request_from(asked_part(request, (), None), (), tmp_path)
        assert again.tag_by_gauge is said
