"""A mistake is named only where it would explain just this difference; a pixel's proportions are told as a share."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from photomeasure.record.input_rows import _camera_row
from photomeasure.record.tape_contradicts import _likely
from photomeasure.scene.scene import CameraPrior


@pytest.mark.parametrize(
    ("height_mm", "centre_mm", "coupling", "from_", "named"),
    [
        (400.0, 425.0, "ball-50", "middle", "read to the top of the ball"),  # by half of 50 mm too high
        (400.0, 428.0, "ball-50", "middle", "read to the top of the ball"),  # within U 2 and 2 u of 1.5
        (400.0, 430.0, "ball-50", "middle", None),
        (400.0, 425.0, "pin", "middle", None),
        (400.0, 425.0, "ball-50", "top", None),
        (425.0, 400.0, "ball-50", "middle", "6 % higher"),  # what a print at 94 % does, and no ball's top
        (440.0, 400.0, "ball-50", "middle", None),
        (None, 425.0, "ball-50", "middle", None),
    ],
)
def test_the_mistake_that_explains_a_difference(
    height_mm: float | None, centre_mm: float, coupling: str, from_: str, named: str | None
) -> None:
    record = SimpleNamespace(height_mm=height_mm, U_mm=2.0, asked=None, state=SimpleNamespace(coupling=coupling))
    difference = None if height_mm is None else height_mm - centre_mm
    tape = SimpleNamespace(difference_mm=difference, u_mm=1.5, from_=from_, centre_mm=centre_mm)
    told = _likely(record, tape)  # type: ignore[arg-type]
    assert len(told) == (named is not None)
    assert named is None or named in " ".join(told)


def test_a_pixels_proportions_are_a_share_of_the_focal_length() -> None:
    """fx up by 3 and fy down by 3 of 3000 px: height over width by 0.2 %."""
    basis = np.zeros((9, 1))
    basis[:2, 0] = 3.0, -3.0
    mean = np.array([3000.0, 3000.0, 2000.0, 1500.0, 0.0, 0.0, 0.0, 0.0, 0.0])
    camera = CameraPrior(
        mean=mean, basis=basis, quantities=("proportions",), size_px=(4000, 3000), kind="exif", source=""
    )
    row = _camera_row(camera, "", 0, 0.3)
    assert (row.quantity, row.value, row.unit, row.height_u_mm) == ("proportions", 1.0, "1", 0.3)
    assert row.u == pytest.approx(0.002, rel=1e-12)
