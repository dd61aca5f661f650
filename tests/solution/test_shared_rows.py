"""Rows that another scene may share have the number, the name and the coefficients that they have in the solution."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from photomeasure.scene.scene import MarkerView, Prior
from photomeasure.scene.shared import prior_row
from photomeasure.solution.model import layout
from photomeasure.solution.rows import rows
from photomeasure.solution.shared import known_rows, rows_of
from tests.points.groups import LEFT, RIGHT
from tests.points.simulate import Shot, simulate


def marks(photo: int, *names: str) -> MarkerView:
    count = len(names)
    return MarkerView(
        photo=photo, names=names, world_mm=np.eye(3)[:count], px=np.ones((count, 2)), sigma_px=np.ones(count), u_mm=1.0
    )


def test_each_row_is_found_under_its_number() -> None:
    """With a bay's markers that two photographs share: between cameras and priors stand three rows of each surveyed point."""
    scene = simulate(Shot(lenses_mm=(LEFT, RIGHT)), np.random.default_rng(3)).scene
    scene = replace(scene, markers=tuple(marks(photo, *names) for photo, names in ((0, "ab"), (1, "bc"), (1, "b"))))
    where = layout(scene)
    found = rows(scene, where, np.full(len(where.names), 0.1))
    numbered = list(rows_of(scene, found.places))
    assert [row.name for _, row in numbered] == [row.name for row in known_rows(scene)]
    assert len(numbered) > len(scene.priors) > 0
    for number, row in numbered:
        assert row.name.removeprefix("camera: ").startswith(found.quantities[number])
        slope = -found.jacobian[number]
        told = {where.names[i]: float(slope[i]) for i in np.flatnonzero(slope)}
        assert told.keys() == row.coefficients.keys()
        assert np.allclose([told[name] for name in told], [row.coefficients[name] for name in told], rtol=1e-12)


def test_a_parameter_that_a_row_does_not_move_is_not_in_its_name() -> None:
    row = Prior(quantity="depth", coefficients={"b": 2.0, "a": 1.0, "c": 0.0}, mean=3.0, u=0.5, unit="mm", source="")
    named = prior_row(row)
    assert named.name == "depth [a b]"
    assert named.coefficients == {"b": 4.0, "a": 2.0, "c": 0.0} and named.mean == 6.0
