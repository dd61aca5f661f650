"""What makes a verdict indicative although the state of the rig is the rule's: each reason, and where it ends."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from photomeasure.rules.load import default_rule
from photomeasure.seen.centre.sightings import Sightings
from photomeasure.solution.estimate import Estimate, estimate
from photomeasure.solution.withdrawn import Reconciled
from photomeasure.verdict.doubts import doubts
from tests.points.groups import LEFT, MIDDLE, RIGHT
from tests.points.simulate import Shot, simulate

NOON = dt.datetime(2026, 5, 4, 12, 0, 0)
PX = np.array([2000.0, 1500.0])
RULE = default_rule("ball-50").model_copy(update={"confidence": "read"})


def solved(shot: Shot) -> Estimate:
    result = estimate(simulate(shot, np.random.default_rng(3)).scene)
    assert isinstance(result, Estimate)
    return result


ONE = solved(Shot())
GROUND = solved(Shot(ground_sheet=True))
THREE = solved(Shot(lenses_mm=(LEFT, MIDDLE, RIGHT)))


def why(
    result: Estimate = ONE,
    *blamed: str,
    left: tuple[str, ...] = (),
    source: str = "ball",
    contradictions: tuple[str, ...] = (),
    sheets: tuple[NDArray[np.float64], ...] = (),
    **more: object,
) -> list[str]:
    settled = Reconciled(
        stated=result,
        estimate=result,
        blamed=tuple((what, 5.0) for what in blamed),
        withdrawn=blamed,
        left=tuple((what, 4.0) for what in left),
    )
    photos = result.scene.n_photos
    sightings = Sightings(way=source, centre_px=(PX,) * photos, contradictions=contradictions)  # type: ignore[arg-type]
    found = doubts(settled, sightings, [sheets] * photos, more.pop("rule", RULE), **more)  # type: ignore[arg-type]
    assert all(one.remedy for one in found)
    return [one.why for one in found]


def test_nothing_is_doubted_where_nothing_is_amiss() -> None:
    assert why() == [] and why(GROUND) == [] and why(THREE) == []


@pytest.mark.parametrize(
    ("result", "what", "doubted"),
    [
        (ONE, "focal length", False),  # the photograph tells it instead
        (ONE, "camera profile", False),
        (ONE, "sheet lean", True),
        (GROUND, "sheet lean", False),  # against the ground sheet it is seen
        (GROUND, "sheet roll", False),
        (GROUND, "ground sheet flatness", True),
        (ONE, "depth", True),
        (THREE, "depth", False),  # triangulated
        (ONE, "check bar x", True),
        (ONE, "ball diameter", True),
    ],
)
def test_a_statement_that_is_contradicted(result: Estimate, what: str, doubted: bool) -> None:
    """Unless the photographs themselves tell what is so instead; and what is contradicted all the same is doubted always."""
    named = [sentence for sentence in why(result, what) if what in sentence]
    assert bool(named) is doubted
    assert any(what in sentence for sentence in why(result, what, left=(what,)))


def test_a_sheet_that_leans_a_lot_is_doubted_although_it_is_seen() -> None:
    leaning = replace(GROUND, x=GROUND.x.copy())
    leaning.x[GROUND.where.index["sheet.lean"]] = np.radians(8.0)
    assert any("sheet lean" in sentence for sentence in why(leaning, "sheet lean"))


@pytest.mark.parametrize(("hours", "doubted"), [(0.1, False), (11.0, True)])
def test_photographs_of_one_sitting(hours: float, doubted: bool) -> None:
    """In whichever order they are given; one without a clock is no reason."""
    taken = [("b.jpg", NOON + dt.timedelta(hours=hours)), ("c.jpg", None), ("a.jpg", NOON)]
    told = [sentence for sentence in why(THREE, taken=taken) if "hours apart" in sentence]
    assert bool(told) is doubted
    assert all("a.jpg and b.jpg" in sentence for sentence in told)


@pytest.mark.parametrize(
    ("height_mm", "seldom"), [(199.9, True), (200.0, False), (1000.0, False), (1000.1, True), (420.0, False)]
)
def test_a_mark_where_no_coupling_is(height_mm: float, seldom: bool) -> None:
    there = replace(ONE, height_mm=height_mm)
    assert any("seldom" in sentence for sentence in why(there, source="pick")) is seldom
    assert not any("seldom" in sentence for sentence in why(there, source="ball"))  # the program looks there only


def test_a_mark_on_the_sheet() -> None:
    sheet = np.array([[1900.0, 1400.0], [2100.0, 1400.0], [2100.0, 1600.0], [1900.0, 1600.0]])
    assert any("printed sheet" in sentence for sentence in why(sheets=(sheet,), source="pick"))
    assert why(sheets=(sheet + 500.0,), source="pick") == [] == why(sheets=(sheet,), source="tag")


def test_two_ways_that_do_not_agree_and_a_rule_from_memory() -> None:
    assert why(contradictions=("The ball is 9 mm above the tag.",)) == ["The ball is 9 mm above the tag."]
    assert any("from memory" in one for one in why(rule=RULE.model_copy(update={"confidence": "memory"})))
    assert not any("from memory" in one for one in why(rule=RULE))


def test_so_many_warnings_are_a_reason_themselves() -> None:
    counts = [any("warnings stand beside" in one for one in why(notes=count)) for count in range(12)]
    assert counts == sorted(counts) and not counts[1] and counts[-1]
