"""When the height in the state that counts is worked out, and when it is left alone. References: the sum written out."""

from __future__ import annotations

import math

import pytest

from photomeasure.asked.sag import LOAD_DROP_MM, Sag
from photomeasure.asked.state import State
from photomeasure.rules.model import Band, BandState, Decision
from photomeasure.verdict.adjustment import adjustment
from photomeasure.verdict.conformity import measured_height
from photomeasure.verdict.no_drop import when_settled
from photomeasure.verdict.settled import LEVELLED_WITHIN_MM, settled_height
from photomeasure.verdict.state_of_band import Difference, Open, differences

KNOWN = measured_height(450.0, 1.2)
STOOD = Sag(ball_load_kg=100.0, stand_mass_kg=80.0, stand_drop_mm=8.0)
LOADED = Sag(load_drop_mm=20.0)


def row(about: Open, *, unsaid: bool = False) -> Difference:
    return Difference(why="", remedy="", about=about, unsaid=unsaid)


def test_only_what_statics_can_undo_is_undone() -> None:
    """The trailer's weight and the load; not the ground, not another thing that was measured, not a doubt."""
    told = Sag(ball_load_kg=100.0, stand_mass_kg=80.0, stand_drop_mm=8.0, load_drop_mm=20.0)
    for other in ("what", "level_ground", "level_control", "measurement"):
        assert settled_height(KNOWN, told, State(coupled=False), [row("coupled"), row(other)]) is None
    assert settled_height(KNOWN, told, State(), [row("coupled", unsaid=True)]) is None


def test_a_coupled_rig_is_not_worked_back_to_a_bare_ball_and_only_then() -> None:
    """Nobody knows what was on the ball; an unladen one may still be worked on to a laden one, coupled as it is."""
    assert settled_height(KNOWN, STOOD, State(coupled=True), [row("coupled")]) is None
    laden = settled_height(KNOWN, LOADED, State(coupled=True), [row("laden")])
    assert laden is not None and laden.height_mm == 430.0
    assert laden.u_mm == pytest.approx(math.sqrt(1.2**2 + LOAD_DROP_MM**2 / 3.0))
    bare = settled_height(KNOWN, STOOD, State(coupled=False), [row("coupled")])
    assert bare is not None and bare.height_mm == pytest.approx(440.0)


def test_both_drops_add_up_and_what_was_not_said_is_not_guessed() -> None:
    told = Sag(ball_load_kg=100.0, stand_mass_kg=80.0, stand_drop_mm=8.0, load_drop_mm=20.0)
    both = settled_height(KNOWN, told, State(coupled=False, laden=False), [row("coupled"), row("laden")])
    coupled = settled_height(KNOWN, told, State(coupled=False), [row("coupled")])
    assert both is not None and coupled is not None
    assert both.height_mm == pytest.approx(420.0)
    assert both.u_mm**2 - coupled.u_mm**2 == pytest.approx(LOAD_DROP_MM**2 / 3.0)
    assert settled_height(KNOWN, LOADED, State(coupled=False), [row("coupled")]) is None
    assert settled_height(KNOWN, STOOD, State(laden=False), [row("laden")]) is None


def test_a_vehicle_that_levels_itself_comes_back_to_its_height() -> None:
    state = State(coupled=False, level_control=True)
    known = settled_height(KNOWN, Sag(), state, [row("coupled"), row("laden")])
    assert known is not None and known.height_mm == KNOWN.height_mm
    assert known.u_mm == pytest.approx(math.hypot(1.2, LEVELLED_WITHIN_MM / math.sqrt(3.0)))


@pytest.mark.parametrize(
    ("about", "opening"),
    [
        (("coupled",), "With the trailer connected it would stand at 390 to 410 mm"),
        (("laden",), "Laden as the rule says it would stand at 390 to 410 mm"),
        (("coupled", "laden"), "With the trailer connected and laden as the rule says it would stand at 390 to 410 mm"),
    ],
)
def test_the_height_that_was_worked_out_is_told_with_its_interval(about: tuple[Open, ...], opening: str) -> None:
    """400 mm, U 10."""
    rows = [row(name) for name in about]
    there = measured_height(400.0, 5.0, interval_mm=(390.0, 410.0))
    band = Band(low_mm=350.0, high_mm=395.0, state=BandState(what="vehicle ball"))
    change = adjustment(there, band, Decision(kind="guarded"), 0.95, firm=False)
    assert when_settled(change, there, rows).sentence.startswith(opening)


@pytest.mark.parametrize(("wanted", "seen"), [(True, False), (False, True), (True, None), (False, None)])
def test_what_the_rule_is_for_is_told_before_what_was_photographed(wanted: bool, seen: bool | None) -> None:
    """Trailer connected or not: the rule's first, then what it was, or that nobody said."""
    band = Band(low_mm=350.0, high_mm=460.0, state=BandState(what="vehicle ball", coupled=wanted))
    (found,) = [one for one in differences(band, State(coupled=seen), "vehicle ball") if one.about == "coupled"]
    rule, was = found.why.split("; ")
    assert rule == f"The rule is for a{' connected trailer' if wanted else ' trailer that is not connected'}"
    assert found.unsaid == (seen is None) == was.startswith("nobody said")
    assert ("not connected" in was) == (seen is False)
