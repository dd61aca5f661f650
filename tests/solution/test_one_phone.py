"""Several photographs by one phone: what they share is shared, what each has for itself is its own."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from types import SimpleNamespace

import numpy as np

from calib.outcome.refusal import Refusal
from photomeasure.scene.scene import CameraPrior
from photomeasure.seen.camera_by_exif import ExifFacts, camera_prior
from photomeasure.seen.camera_for import from_profile
from photomeasure.solution.estimate import Estimate, estimate
from photomeasure.solution.model import camera_parameters
from photomeasure.solution.scene_of import cameras_of
from tests.calib.profile.test_profile import profile
from tests.points.groups import LEFT, MIDDLE, RIGHT
from tests.points.simulate import Shot, simulate

NOON = dt.datetime(2026, 5, 2, 12, 0)  # without a zone, as EXIF has it
THREE = Shot(lenses_mm=(LEFT, MIDDLE, RIGHT), ground_sheet=True, source="ball")


def view(facts: ExifFacts, size_px: tuple[int, int] = (4000, 3000)) -> SimpleNamespace:
    return SimpleNamespace(photo=SimpleNamespace(facts=facts), camera=camera_prior(size_px, facts))


def test_photographs_of_one_phone_have_one_camera_whenever_they_were_taken() -> None:
    facts = ExifFacts(make="Ferncombe", model="Yard 9", focal_35mm=26.0, taken=NOON)
    later = replace(facts, taken=NOON + dt.timedelta(seconds=40))
    tele = replace(facts, focal_35mm=52.0)
    _, camera_of = cameras_of([view(facts), view(later), view(tele), view(facts, (3000, 4000))])  # type: ignore[list-item]
    assert camera_of == (0, 0, 1, 2)


def test_focal_length_and_distortion_are_shared_and_the_axis_is_each_photographs() -> None:
    scene = simulate(THREE, np.random.default_rng(3)).scene
    photos = {one.name: one.photo for one in camera_parameters(scene)}
    assert photos == {
        "camera0.q0": None, "camera0.q3": None, "camera0.q4": None, "camera0.q5": None,
        **{f"photo{photo}.q{column}": photo for photo in range(3) for column in (1, 2)},
    }  # fmt: skip
    solved = estimate(scene)
    assert isinstance(solved, Estimate)
    assert {"ball.edge0", "ball.edge1", "ball.edge2"} <= set(solved.where.names)


def test_a_profile_gives_each_photograph_the_stabilisers_share_and_no_more() -> None:
    """All columns together are the profile's own covariance."""
    known = profile()
    photo = SimpleNamespace(facts=ExifFacts(), size_px=(known.width, known.height))
    camera = from_profile(known, photo, "invented")  # type: ignore[arg-type]
    assert isinstance(camera, CameraPrior)
    np.testing.assert_allclose(camera.basis @ camera.basis.T, known.prior()[1], rtol=1e-6, atol=1e-12)
    own = camera.basis[:, list(camera.own)]
    assert np.flatnonzero(own.any(axis=1)).tolist() == [2, 3]


def test_a_stabiliser_that_moves_the_axis_is_no_contradiction() -> None:
    """Axis and ball's edge drawn anew in each photograph (32 and 0.4 px): none of 25 sets is refused.

    With one axis and one edge for all three, 15 and 8 of 120 such sets were refused.
    """
    rng = np.random.default_rng(11)
    outcomes = [estimate(simulate(THREE, rng).scene) for _ in range(25)]
    assert not [one for one in outcomes if isinstance(one, Refusal)]
