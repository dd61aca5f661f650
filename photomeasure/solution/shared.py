"""The rows of a scene that another scene may share, with their numbers in the solution."""

from __future__ import annotations

from collections.abc import Iterator

from photomeasure.scene.scene import Scene
from photomeasure.scene.shared import KnownRow, camera_row, prior_row
from photomeasure.solution.model import camera_parameters


def known_rows(scene: Scene) -> list[KnownRow]:
    """What all photographs of the scene's phones have in common, then the priors, by name."""
    return [*_of_cameras(scene), *(prior_row(prior) for prior in scene.priors)]


def rows_of(scene: Scene, count: int) -> Iterator[tuple[int, KnownRow]]:
    """The same with each row's number among the `count` rows of `solution.rows.rows`."""
    priors = scene.priors
    cameras = list(camera_parameters(scene))
    first = _first_camera_row(scene, count, len(cameras))
    for number, one in enumerate(cameras, start=first):
        if one.photo is None:
            yield number, camera_row(scene.cameras[one.camera], one.column, one.name)
    for number, prior in enumerate(priors, start=count - len(priors)):
        yield number, prior_row(prior)


def _of_cameras(scene: Scene) -> Iterator[KnownRow]:
    for one in camera_parameters(scene):
        if one.photo is None:
            yield camera_row(scene.cameras[one.camera], one.column, one.name)


def _first_camera_row(scene: Scene, count: int, cameras: int) -> int:
    """Observations come first, then cameras, surveyed points (three rows each), priors."""
    seen: dict[str, int] = {}
    for view in scene.markers:
        for name in view.names:
            seen[name] = seen.get(name, 0) + 1
    return count - len(scene.priors) - 3 * sum(n > 1 for n in seen.values()) - cameras
