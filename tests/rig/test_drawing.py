"""The side view: well-formed, to scale, legible, and harmless with any name a person types."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from typing import Any

import numpy as np
import pytest
from PIL import ImageFont

from photomeasure.rig.drawing import plan_drawing
from photomeasure.rig.plan import Plan, make_plan
from photomeasure.rig.shapes import Disc, Text, to_svg
from photomeasure.rig.sideview import BALL
from tests.rig.scenario import band, checked, plain, sample

SVG = "{http://www.w3.org/2000/svg}"
WORKED = ("ferncombe-yard-truck-2.toml", "ferncombe-plant-trailer-b.toml", "ferncombe-yard-truck-5.toml")


def planned(raw: dict[str, Any]) -> Plan:
    return make_plan(checked(raw), band(), np.random.default_rng(1))


@pytest.mark.parametrize("name", WORKED)
def test_lengths_and_heights_are_to_one_scale(name: str) -> None:
    plan = planned(sample(name))
    circles = [shape for shape in plan_drawing(plan).shapes if isinstance(shape, Disc)]
    wheels = [circle for circle in circles if circle.fill == "#4a4a4a"]
    balls = [circle for circle in circles if circle.fill == BALL]
    axles = plan.setup.trailer.axles
    assert plan.setup.vehicle.wheelbase is not None and plan.setup.vehicle.overhang is not None
    # shapes come panel by panel: trailer's wheels, front wheel, rear wheel, ball, and the ball of the height
    # scale
    front, rear = wheels[axles], wheels[axles + 1]
    scale = (rear.centre[0] - front.centre[0]) / plan.setup.vehicle.wheelbase.value
    ball = balls[0]
    overhang = plan.setup.vehicle.overhang.value
    assert (ball.centre[0] - rear.centre[0]) / scale == pytest.approx(overhang, abs=1.0)
    group = np.mean([wheel.centre[0] for wheel in wheels[:axles]])
    assert (group - ball.centre[0]) / scale == pytest.approx(plan.setup.trailer.drawbar.value, abs=1.0)
    ground = rear.centre[1] + rear.radius
    assert (ground - ball.centre[1]) / scale == pytest.approx(plan.outcomes[0].height_mm.mean, abs=1.0)
    assert len(balls) == (4 if plan.shown is not plan.outcomes[0] else 2)


@pytest.mark.parametrize("name", WORKED)
def test_text_stays_on_the_page_and_does_not_run_into_other_text(name: str) -> None:
    drawing = plan_drawing(planned(sample(name)))
    boxes = []
    for text in (shape for shape in drawing.shapes if isinstance(shape, Text)):
        wide = ImageFont.load_default(text.size).getlength(text.text) * (1.05 if text.bold else 1.0)
        left = text.at[0] - {"start": 0.0, "middle": 0.5, "end": 1.0}[text.anchor] * wide
        assert left >= 0.0 and left + wide <= drawing.width, text
        boxes.append((left, text.at[1] - 0.75 * text.size, left + wide, text.at[1], text.text))
    for i, one in enumerate(boxes):
        for other in boxes[:i]:
            apart = one[0] >= other[2] or other[0] >= one[2] or one[1] >= other[3] or other[1] >= one[3]
            assert apart, (one[4], other[4])


def test_svg_is_well_formed_and_names_cannot_break_out_of_it() -> None:
    raw = plain()
    name = 'truck <script>alert("x")</script> & \x07'
    raw["vehicle"]["name"] = name
    raw["title"] = name
    root = ElementTree.fromstring(to_svg(plan_drawing(planned(raw))))
    assert root.tag == f"{SVG}svg"
    assert not list(root.iter(f"{SVG}script"))
    assert any('<script>alert("x")' in (text.text or "") for text in root.iter(f"{SVG}text"))


def test_lengths_that_were_not_given_are_drawn_by_guess_and_say_so() -> None:
    texts = [shape.text for shape in plan_drawing(planned(plain())).shapes if isinstance(shape, Text)]
    assert "wheelbase not given" in texts
    assert any("Not given and drawn by guess: wheelbase, overhang" in text for text in texts)
    assert any("no certificate" in text for text in texts)


@pytest.mark.parametrize("level_mm", [180, 700, 1150])
def test_extreme_rigs_can_be_drawn(level_mm: int) -> None:
    raw = plain()
    raw["trailer"]["level_coupling_height"] = {"mm": level_mm, "u_mm": 4}
    raw["trailer"]["axles"] = 4
    assert ElementTree.fromstring(to_svg(plan_drawing(planned(raw)))).tag.endswith("svg")
