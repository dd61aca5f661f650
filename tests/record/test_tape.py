"""The tape against 2014/32/EU MI-008, its budget by hand, En by its definition, and the cautions' facts."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calib.outcome.errors import InputError
from photomeasure.asked.state import State
from photomeasure.asked.tape_said import TapeClass, tape_class_from, tape_to_from
from photomeasure.record.cautions import CAUTIONS, SHORTER
from photomeasure.record.tape import class_limit_mm, combine, compare, read_tape
from photomeasure.record.tape_instructions import tape_instructions


# 2014/32/EU MI-008 (read): +/-(a + b L) mm, L in metres rounded up to a whole one, + c from the hook or end
@pytest.mark.parametrize(
    ("length_mm", "tape_class", "from_end", "limit_mm"),
    [
        (350, "II", False, 0.5),
        (700, "II", False, 0.5),
        (350, "II", True, 0.7),
        (700, "II", True, 0.7),
        (1000, "II", False, 0.5),
        (1001, "II", False, 0.7),
        (400, "I", False, 0.2),
        (400, "I", True, 0.3),
        (400, "III", False, 1.0),
        (400, "III", True, 1.3),
    ],
)
def test_class_limits(length_mm: float, tape_class: TapeClass, from_end: bool, limit_mm: float) -> None:
    assert class_limit_mm(length_mm, tape_class, from_end=from_end) == pytest.approx(limit_mm, rel=1e-12)


def test_tape_budget_by_hand() -> None:
    """Rectangles of 0.7 (class II, hook), 0.5, 450 (1 - cos 3 deg) = 0.6167 and 1 mm, each over sqrt 3."""
    tape = read_tape(450)
    by_hand = math.sqrt((0.7**2 + 0.5**2 + 0.6167**2 + 1.0**2) / 3.0)
    assert tape.u_mm == pytest.approx(by_hand, abs=1e-4)
    assert tape.U_mm == 2.0 * tape.u_mm
    assert tape.height_mm == 450
    assert math.fsum(row.share for row in tape.budget.contributions) == pytest.approx(1.0)
    assert len(tape.budget.contributions) == 5


def test_tape_with_nothing_but_its_class() -> None:
    tape = read_tape(450, from_end=False, division_mm=0, out_of_plumb_deg=0, sighting_mm=0)
    assert tape.u_mm == pytest.approx(0.5 / math.sqrt(3.0), rel=1e-9)


@pytest.mark.parametrize("bad", [math.nan, math.inf, -450.0, 0.0, 0.45, 45.0, 4500.0])
def test_wrong_readings(bad: float) -> None:
    with pytest.raises(InputError, match="reading"):
        read_tape(bad)


@pytest.mark.parametrize(
    ("typed", "meant"),
    [("I", "I"), ("ii", "II"), (" III ", "III"), ("class 3", "III"), ("1", "I"), ("", "II"), (None, "II")],
)
def test_a_class_as_people_type_it(typed: str | None, meant: str) -> None:
    assert tape_class_from(typed, "--tape-class") == meant


@pytest.mark.parametrize("typed", ["IV", "0", "2.0", "gold"])
def test_no_class_of_a_tape(typed: str) -> None:
    with pytest.raises(InputError) as caught:
        tape_class_from(typed, "--tape-class")
    assert "--tape-class" in str(caught.value) and "I, II or III" in str(caught.value)


def test_a_better_class_makes_the_reading_surer() -> None:
    """350-700 mm from the end, MI-008: 0.3, 0.7 and 1.3 mm (read); the rest of the budget is the same."""
    u_mm = [read_tape(412.0, tape_class=one).u_mm for one in ("I", "II", "III")]
    limits = [0.1 + 0.1 + 0.1, 0.3 + 0.2 + 0.2, 0.6 + 0.4 + 0.3]
    for (one, two), (low, high) in zip([(u_mm[0], u_mm[1]), (u_mm[1], u_mm[2])], [limits[:2], limits[1:]], strict=True):
        assert two**2 - one**2 == pytest.approx((high**2 - low**2) / 3.0)


def test_wrong_allowances() -> None:
    with pytest.raises(InputError, match="tape class"):
        read_tape(450, tape_class="IV")  # type: ignore[arg-type]
    with pytest.raises(InputError, match="plumb"):
        read_tape(450, out_of_plumb_deg=45)
    with pytest.raises(InputError, match="half_width"):
        read_tape(450, sighting_mm=-1)
    with pytest.raises(InputError, match="length"):
        class_limit_mm(math.nan)


def test_comparison_by_definition() -> None:
    """En = (x - X)/sqrt(U_x^2 + U_ref^2): 3-4-5, so En = 1 just agrees and more does not."""
    plain = read_tape(450, from_end=False, division_mm=0, out_of_plumb_deg=0, sighting_mm=0)
    with_u_3 = type(plain)(height_mm=450, u_mm=1.5, U_mm=3.0, tape_class="II", budget=plain.budget)
    edge = compare(455, 4.0, with_u_3)
    assert (edge.difference_mm, edge.U_mm, edge.En, edge.agree) == (5, 5, 1, True)
    beyond = compare(444.9, 4.0, with_u_3)
    assert not beyond.agree
    assert pytest.approx(-1.02) == beyond.En
    assert "5.1 mm less" in beyond.sentence and "disagree" in beyond.sentence
    for photo_mm, expanded in ((math.nan, 1.0), (450, math.nan), (450, -1.0)):
        with pytest.raises(InputError):
            compare(photo_mm, expanded, with_u_3)


@given(st.floats(100, 2000), st.floats(0, 50), st.floats(100, 2000))
def test_comparison_laws(photo_mm: float, expanded_mm: float, tape_mm: float) -> None:
    tape = read_tape(tape_mm)
    result = compare(photo_mm, expanded_mm, tape)
    assert math.copysign(1.0, result.En) == math.copysign(1.0, result.difference_mm) or result.En == 0.0
    assert result.agree == (abs(result.difference_mm) <= math.hypot(expanded_mm, tape.U_mm) * (1 + 1e-12))
    assert tape.u_mm > class_limit_mm(tape_mm) / math.sqrt(3.0)


@pytest.mark.parametrize(("flat_mm", "low_mm"), [(0, 0.0), (12, 0.73), (16, 1.31), (20, 2.09), (24, 3.07)])
def test_a_flat_on_the_ball_is_put_back(flat_mm: float, low_mm: float) -> None:
    """25 - sqrt(25^2 - w^2/4): what "top less 25 mm" reads low; less 0.125, as balls are new to half worn."""
    tape = read_tape(437.0, to="top", flat_mm=flat_mm)
    assert tape.height_mm == pytest.approx(437.0 - 25.0 + 0.125 + low_mm, abs=0.01)


def test_a_flat_that_nobody_measured_makes_it_less_sure() -> None:
    """Widths from none to 24 mm alike, by hand: r - sqrt(r^2 - w^2/4) = w^2/(8 r) + w^4/(128 r^3) + ..., its mean and deviation."""
    a, b = 1.0 / 200.0, 1.0 / (128.0 * 25.0**3)
    mean = a * 24.0**2 / 3.0 + b * 24.0**4 / 5.0
    u = math.sqrt(a**2 * 24.0**4 / 5.0 + 2 * a * b * 24.0**6 / 7.0 + b**2 * 24.0**8 / 9.0 - mean**2)
    known, unknown = (read_tape(437.0, to="top", flat_mm=flat) for flat in (0.0, None))
    assert unknown.height_mm - known.height_mm == pytest.approx(mean, abs=0.01)
    assert unknown.u_mm**2 - known.u_mm**2 == pytest.approx(u**2, rel=0.05)
    with pytest.raises(InputError, match="flat"):
        read_tape(437.0, to="top", flat_mm=50.0)


def test_how_a_tag_was_placed_is_in_the_tape_but_not_between_tape_and_photograph() -> None:
    """Photograph u^2 = 4 + 1 and tape u^2 = 4 + own^2 share the 4: the difference has 1 + own^2, the best value keeps the 4."""
    own = read_tape(412.0)
    tape = read_tape(412.0, to="tag", placement_u_mm=2.0)
    assert tape.u_mm == pytest.approx(math.hypot(own.u_mm, 2.0))
    seen = compare(413.0, 2.0 * 1.0, tape)
    assert seen.U_mm == pytest.approx(2.0 * math.hypot(1.0, own.u_mm))
    best = combine(413.0, 1.0, tape)
    weights = 1.0, own.u_mm**-2
    assert best.height_mm == pytest.approx((413.0 * weights[0] + 412.0 * weights[1]) / sum(weights))
    assert best.u_mm == pytest.approx(math.hypot(sum(weights) ** -0.5, 2.0))


@given(st.floats(300, 600), st.floats(0.1, 20), st.floats(300, 600))
def test_the_best_value_lies_between_and_is_surer_than_either(photo_mm: float, u_mm: float, tape_mm: float) -> None:
    tape = read_tape(tape_mm)
    best = combine(photo_mm, u_mm, tape)
    assert min(photo_mm, tape_mm) - 1e-9 <= best.height_mm <= max(photo_mm, tape_mm) + 1e-9
    assert best.u_mm < min(u_mm, tape.u_mm)


@pytest.mark.parametrize(("typed", "meant"), [("top", "top"), (" TAG ", "tag"), ("", "middle"), (None, "middle")])
def test_up_to_what_as_people_type_it(typed: str | None, meant: str) -> None:
    assert tape_to_from(typed, "--tape-to") == meant


def test_up_to_nothing_that_is_known() -> None:
    with pytest.raises(InputError, match="--tape-to"):
        tape_to_from("bumper", "--tape-to")


def test_instructions_say_where_from_where_to_and_in_which_state() -> None:
    bare = " ".join(tape_instructions("ball-50", State(coupled=False, laden=False)))
    assert "ground" in bare and "top of the ball" in bare and "half the ball's 50 mm" in bare
    two_inch = " ".join(tape_instructions("ball-50", State(coupled=False), ball_diameter_mm=50.8))
    assert "half the ball's 50.8 mm" in two_inch and "50 mm ball" not in two_inch
    assert "trailer not connected, unladen" in bare
    coupled = " ".join(tape_instructions("ball-50", State(coupled=True)))
    assert "trailer connected" in coupled and "centre mark" in coupled and "top of the ball" not in coupled
    assert "centre tag" in " ".join(tape_instructions("ball-50", State(), tagged=True))  # the head hides the ball
    assert "pin's bush" in " ".join(tape_instructions("pin", State(coupled=True)))


def test_cautions_carry_the_facts() -> None:
    """ACCC Product Safety, WorkSafe Queensland, UK Caravan Towing Code (read): the facts, in own words."""
    text = " ".join(CAUTIONS)
    facts = (
        "level ground",
        "chock",
        "brakes",
        "jockey wheel",
        "between vehicle and trailer",
        "tape",
        "Local codes",
    )
    assert [fact for fact in facts if fact not in text] == []
    assert [fact for fact in ("chock", "jack", "between", "tape") if fact not in SHORTER] == []
    assert len(SHORTER) <= 120 and max(len(line) for line in CAUTIONS) <= 200


@pytest.mark.parametrize(("photo_u_mm", "placement_mm"), [(2.0, 0.0), (0.7, 0.0), (2.0, 0.5)])
def test_two_figures_weigh_by_their_variances(photo_u_mm: float, placement_mm: float) -> None:
    """Weighted mean of independent figures, 1/u^2 each, u^-2 of the mean their sum; what both share stays."""
    tape = replace(read_tape(450), placement_u_mm=placement_mm)
    own_u = math.sqrt(tape.u_mm**2 - placement_mm**2)
    both = combine(454.0, photo_u_mm, tape)
    weights = photo_u_mm**-2, own_u**-2
    assert both.height_mm == pytest.approx((454.0 * weights[0] + 450.0 * weights[1]) / sum(weights), rel=1e-12)
    assert both.u_mm == pytest.approx(math.sqrt(1.0 / sum(weights) + placement_mm**2), rel=1e-12)
