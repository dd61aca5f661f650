"""A scene as whitened residuals and their Jacobian, by the formulas of `model`.

Each residual is (observed - predicted) or (prior - parameter), over its standard uncertainty; the sum of squares is
minimised by `photomeasure.solution.estimate`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.scene.scene import CENTRE, LineView, MarkerView, OutlineView, PlaneView, PointView, Scene
from photomeasure.solution.model import (
    Layout,
    Points,
    camera_parameters,
    line_points,
    photographed,
    plane_points,
    shared_markers,
    write_slopes,
)
from photomeasure.solution.outlines import Outlined, write_outlines
from photomeasure.solution.row_places import RowPlaces, row_places

Array = NDArray[np.float64]
PixelView = PlaneView | PointView | MarkerView | LineView

SURVEY = "marker survey"  # input quantity: where a bay's markers are, as its survey found them


@dataclass(frozen=True, slots=True, kw_only=True)
class Rows:
    """Whitened residuals (R,), their Jacobian (R, parameters), the input quantity of each row, and which rows are whose.

    survey_share: (R,) part of each row's variance that is the survey of a bay's markers and not its own quantity.
    """

    residual: Array
    jacobian: Array
    quantities: tuple[str, ...]
    observed: NDArray[np.bool_]  # (R,) False for priors
    survey_share: Array
    places: RowPlaces


def rows(scene: Scene, where: Layout, x: Array) -> Rows:
    """All whitened residuals (R,) of a scene and their Jacobian (R, P) at the parameters x (P,), observations first, priors after."""
    return Whitening(scene, where).at(x)


class Whitening:
    """`rows` of one scene at any parameters: what does not hang on them is worked out once."""

    def __init__(self, scene: Scene, where: Layout) -> None:
        self._scene, self._where = scene, where
        # pixels as seen (N, 2), standard uncertainty of each row (2 N,), and which rows
        self._views: list[tuple[PixelView, Array, Array, slice]] = []
        self._outlines: list[tuple[OutlineView, slice]] = []
        quantities: list[str] = []
        self._places = of = row_places(scene, where)
        views: list[PixelView | OutlineView] = [
            *scene.planes,
            *scene.points,
            *scene.markers,
            *scene.outlines,
            *scene.lines,
        ]
        placed = (*of.planes, *of.points, *of.markers, *of.outlines, *of.lines)
        for view, own in zip(views, placed, strict=True):
            quantities.extend([view.quantity] * (own.stop - own.start))
            if isinstance(view, OutlineView):
                self._outlines.append((view, own))
                continue
            sigma_px = np.atleast_1d(view.total_px if isinstance(view, MarkerView) else view.sigma_px)
            self._views.append((view, view.px.reshape(-1, 2), np.repeat(sigma_px, 2), own))
        means, of_priors, prior_quantities = _priors(scene, where)
        self._seen = len(quantities)
        self._means = means
        self._blank = np.concatenate([np.zeros((self._seen, len(where.names))), of_priors])
        self._quantities = (*quantities, *prior_quantities)
        self._observed = np.arange(len(self._quantities)) < self._seen
        self._survey_share = np.zeros(len(self._quantities))
        for view, _, _, those in self._views:
            if isinstance(view, MarkerView):
                self._survey_share[those] = np.repeat(view.survey_share, 2)

    def at(self, x: Array) -> Rows:
        """The rows at the parameters x (P,); infinite residuals where a focal length is not positive."""
        return self.at_each([x])[0]

    def at_each(self, several: Sequence[Array]) -> list[Rows]:
        """The same at several parameters."""
        outlined: list[Outlined] = []
        found = [self._but_outlines(x, outlined) for x in several]
        if outlined:
            write_outlines(self._scene, self._where, outlined)
        return found

    def _but_outlines(self, x: Array, outlined: list[Outlined]) -> Rows:
        """The rows with those of outlines still to be written, which are added to `outlined`."""
        scene, where = self._scene, self._where
        cameras = [photographed(scene, where, x, photo) for photo in range(scene.n_photos)]
        residual, jacobian = np.empty(len(self._quantities)), self._blank.copy()
        if min(camera.intrinsics[:2].min() for camera in cameras) <= 0.0:
            # a step of the search that went through the lens: no camera sees so
            return self._rows(np.full(len(residual), np.inf), jacobian)
        for view, seen_px, sigma_px, own in self._views:
            (points, slope), at = _world(scene, where, x, view)
            camera = cameras[view.photo]
            px, slopes = camera.seen(points)
            residual[own] = (seen_px - px).ravel() / sigma_px
            slopes /= -sigma_px[:, None]
            write_slopes(jacobian[own], where, scene, view.photo, camera.turn, slope, at, slopes)
        outlined += [
            Outlined(view=view, photo=cameras[view.photo], x=x, residual=residual[own], jacobian=jacobian[own])
            for view, own in self._outlines
        ]
        residual[self._seen :] = self._means + self._blank[self._seen :] @ x
        return self._rows(residual, jacobian)

    def _rows(self, residual: Array, jacobian: Array) -> Rows:
        return Rows(
            residual=residual,
            jacobian=jacobian,
            quantities=self._quantities,
            observed=self._observed,
            survey_share=self._survey_share,
            places=self._places,
        )


def _world(scene: Scene, where: Layout, x: Array, view: PixelView) -> tuple[Points, NDArray[np.int64]]:
    """World points of what is seen, their derivative, and the parameters that they are by."""
    if isinstance(view, PlaneView):
        return plane_points(scene, where, x, view)
    if isinstance(view, MarkerView):
        return _marker_points(where, x, view)
    if isinstance(view, LineView):
        return line_points(where, x, view)
    at = where.at(*scene.names(CENTRE, before=view.before))
    return (x[at][None], np.eye(3)[None]), at


def _marker_points(where: Layout, x: Array, view: MarkerView) -> tuple[Points, NDArray[np.int64]]:
    shared = [i for i, name in enumerate(view.names) if f"{name}.x" in where.index]
    at = where.at(*(f"{view.names[i]}.{axis}" for i in shared for axis in "xyz"))
    points, slope = view.world_mm.copy(), np.zeros((len(view.names), 3, len(at)))
    for number, i in enumerate(shared):
        points[i] += x[at[3 * number : 3 * number + 3]]
        slope[i, :, 3 * number : 3 * number + 3] = np.eye(3)
    return (points, slope), at


def _priors(scene: Scene, where: Layout) -> tuple[Array, Array, list[str]]:
    """Every prior as a row: its mean over u (n,), derivatives of its residual (n, parameters), and the quantity of each."""
    index, quantities = where.index, list[str]()
    at: list[tuple[int, int, float]] = []  # row, parameter, derivative
    for one in camera_parameters(scene):
        at.append((len(quantities), index[one.name], -1.0))
        quantities.append(scene.cameras[one.camera].quantities[one.column])
    for name in shared_markers(scene):
        if f"{name}.x" not in index:  # a layout made after corners were dropped
            continue
        u_mm = next(view.u_mm for view in scene.markers if name in view.names)
        for axis in "xyz":
            at.append((len(quantities), index[f"{name}.{axis}"], -1.0 / u_mm))
            quantities.append(SURVEY)
    means = np.zeros(len(quantities) + len(scene.priors))
    means[len(quantities) :] = [prior.mean / prior.u for prior in scene.priors]
    for prior in scene.priors:
        at += [(len(quantities), index[name], -(value / prior.u)) for name, value in prior.coefficients.items()]
        quantities.append(prior.quantity)
    jacobian = np.zeros((len(quantities), len(where.names)))
    if at:
        rows_at, columns, values = zip(*at, strict=True)
        jacobian[rows_at, columns] = values
    return means, jacobian, quantities


def prior_rows(scene: Scene, where: Layout, x: Array) -> tuple[Array, Array, list[str]]:
    """Every prior as a row: residuals over u (n,), their derivatives (n, parameters), and the quantity of each."""
    means, jacobian, quantities = _priors(scene, where)
    return means + jacobian @ x, jacobian, quantities
