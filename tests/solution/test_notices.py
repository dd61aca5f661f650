"""What the photographs contradict is said, and honest photographs are left in peace. References: simulated rigs."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from photomeasure.asked.bars import Bars
from photomeasure.scene.priors import DEG
from photomeasure.solution.contradicted import contradicted
from photomeasure.solution.estimate import Estimate
from photomeasure.solution.notices import told
from photomeasure.solution.unusable import unusable
from photomeasure.solution.withdrawn import reconciled
from tests.draws import draws
from tests.points.groups import GROUPS, LEFT, MIDDLE, RIGHT, STANDING, groups, solved_scenes
from tests.points.simulate import Harm, Shot

GROUND = Shot(lenses_mm=((0.0, -2000.0, 700.0),), ground_sheet=True)
THREE = Shot(lenses_mm=(LEFT, MIDDLE, RIGHT), ground_sheet=True)


def notices(solved: Estimate) -> tuple[str, ...]:
    return told([quantity for quantity, _ in contradicted(solved)], solved)


def said(shot: Shot, harm: Harm | None, count: int) -> list[tuple[str, ...]]:
    scenes = solved_scenes(shot, count, seed=31, harm=harm)
    return [notices(solved) for _, solved in scenes if isinstance(solved, Estimate)]


@pytest.mark.parametrize("count", draws(20, 50))
@pytest.mark.parametrize("name", groups())
def test_honest_photographs_are_left_in_peace(name: str, count: int) -> None:
    """0.05 % a statement and about a dozen statements: at most two of 50 scenes, of 20 one."""
    assert sum(bool(sentences) for sentences in said(GROUPS[name], None, count)) <= (2 if count > 20 else 1)


@pytest.mark.parametrize(
    ("shot", "harm", "word"),
    [
        # of 3 degrees seven in ten are named, for a picture may be stretched by as much; the interval holds them all the same
        (GROUND, Harm(values={"sheet.lean": lambda rng: -4.0 * DEG}), "leans forward"),
        (GROUND, Harm(values={"sheet.gap": lambda rng: 6.0}), "one plane"),
        (GROUND, Harm(focal_factor=1.25), "focal length"),
        (Shot(lenses_mm=STANDING), Harm(focal_factor=0.75), "focal length|middle|stretched"),
        (Shot(), Harm(values={"photo*.q1": lambda rng: 10.0}), "middle"),
        (THREE, Harm(values={"centre.y": lambda rng: 70.0}), "in depth"),
        (
            THREE,
            Harm(values={"print.x": lambda rng: 1.0, "print.y": lambda rng: 0.975}),
            "check bars",
        ),
        (THREE, Harm(values={"sheet.roll": lambda rng: 2.0 * DEG}), "turned against the ground|one plane"),
        (Shot(source="ball"), Harm(values={"ball.radius": lambda rng: 29.5}), "ball|depth|lean"),
        (Shot(source="tag"), Harm(values={"tag.roll": lambda rng: 40.0 * DEG}), "tag"),
    ],
)
def test_what_users_do_is_said_with_a_remedy(shot: Shot, harm: Harm, word: str) -> None:
    """In at least 7 of 10 scenes, and the sentence names it."""
    told = said(shot, harm, 10)
    assert sum(any(w in sentence for w in word.split("|") for sentence in each) for each in told) >= 7, told


@pytest.mark.parametrize(("bar_y_mm", "told"), [(248.5, False), (251.5, False), (247.0, True), (242.5, True)])
def test_bars_that_no_printer_makes_so_unlike_are_doubted(bar_y_mm: float, told: bool) -> None:
    """Against 250 mm beside a true 180 mm: feed errors of 0.4 % are seen (published); both are read to half a millimetre."""
    ((_, solved),) = solved_scenes(Shot(bars=Bars(x_mm=180.0, y_mm=bar_y_mm)), 1, seed=33)
    assert isinstance(solved, Estimate)
    assert any("check bars" in sentence for sentence in notices(solved)) is told


def test_the_depth_sentence_tells_how_far() -> None:
    told = said(THREE, Harm(values={"centre.y": lambda rng: 70.0}), 3)
    millimetres = [int(sentence.split(" lies ")[1].split(" mm")[0]) for each in told for sentence in each]
    assert millimetres and all(60 <= value <= 80 for value in millimetres)


def test_nothing_is_said_of_what_cannot_be_seen() -> None:
    """One photograph from the coupling's height cannot tell lean, depth or falsely read bars."""
    for harm in (
        Harm(values={"sheet.lean": lambda rng: 3.0 * DEG}),
        Harm(values={"centre.y": lambda rng: 40.0}),
        Harm(values={"print.x": lambda rng: 0.97, "print.y": lambda rng: 0.97}),
    ):
        assert sum(bool(sentences) for sentences in said(Shot(), harm, 20)) <= 2


def test_the_test_value_has_unit_spread_over_honest_scenes() -> None:
    """w = r / sqrt(1 - h) is standard normal when everything is as assumed: the threshold means what it says."""
    from photomeasure.solution import mistakes as module

    values = []
    for _, solved in solved_scenes(Shot(lenses_mm=STANDING), 80, seed=32):
        assert isinstance(solved, Estimate)
        assert all(sigmas > module.NOTICE_SIGMAS for _, sigmas in contradicted(solved))
        basis = np.linalg.qr(solved.rows.jacobian)[0]
        redundancy = 1.0 - (basis**2).sum(axis=1)
        row = solved.rows.quantities.index("focal length")
        values.append(solved.rows.residual[row] / np.sqrt(redundancy[row]))
    assert np.std(values) == pytest.approx(1.0, abs=0.25)
    assert abs(np.mean(values)) < 0.35


def test_corners_beyond_all_bowed_paper_are_no_solution() -> None:
    """Sheets bowed by 20 mm are measured, with a warning; a solution that no flat sheet explains is none."""
    scenes = solved_scenes(Shot(), 6, seed=5, harm=Harm(bow_mm=20.0))
    bowed = [reconciled(made.scene, solved) for made, solved in scenes if isinstance(solved, Estimate)]
    assert len(bowed) == 6 and max(done.estimate.noise_scale for done in bowed) > 10.0
    assert all(unusable(done) is None for done in bowed)
    wrong = replace(bowed[0], estimate=replace(bowed[0].estimate, noise_scale=120.0))
    refused = unusable(wrong)
    assert refused is not None and refused.code == "no-solution" and "120 times" in refused.reason
