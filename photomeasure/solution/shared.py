"""The rows of a scene that another scene may share, with their numbers in the solution."""

from __future__ import annotations

from collections.abc import Iterator

from photomeasure.scene.scene import Scene
from photomeasure.scene.shared import KnownRow, camera_row, prior_row
from photomeasure.solution.model import camera_parameters
from photomeasure.solution.row_places import RowPlaces


def known_rows(scene: Scene) -> list[KnownRow]:
    """What all photographs of the scene's phones have in common, then the priors, by name."""
    return [*_of_cameras(scene), *(prior_row(prior) for prior in scene.priors)]


def rows_of(scene: Scene, places: RowPlaces) -> Iterator[tuple[int, KnownRow]]:
    """The same with each row's number among the rows of `solution.rows.rows`."""
    for number, one in zip(places.cameras, camera_parameters(scene), strict=True):
        if one.photo is None:
            yield number, camera_row(scene.cameras[one.camera], one.column, one.name)
    for number, prior in zip(places.priors, scene.priors, strict=True):
        yield number, prior_row(prior)


def _of_cameras(scene: Scene) -> Iterator[KnownRow]:
    for one in camera_parameters(scene):
        if one.photo is None:
            yield camera_row(scene.cameras[one.camera], one.column, one.name)
