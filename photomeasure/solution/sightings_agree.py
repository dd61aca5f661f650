"""Whether each photograph sees the coupling's centre where the others put it.

All outline points, tag corners or the pick of one photograph are moved together, across the picture: the test is of the two
coordinates of that move. Tested in a lump with the scatter of a hundred outline points, four pixels of a wrong outline do
not show. With whitened residuals r = (I - H) e, H the hat matrix, and the move's columns B, the score B'r has covariance
B'(I - H) B; its square over that is chi-square with as many degrees of freedom as the other photographs can check (score
test; Rao 1948, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.scene.scene import OutlineView, Scene
from photomeasure.solution.model import Layout, centre_px
from photomeasure.solution.row_places import RowPlaces
from photomeasure.solution.rows import Rows

MIN_REDUNDANCY = 0.02  # share of a move that the others must tell for it to be checked at all

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Agreement:
    """One photograph's sighting of the centre: chi-square of a move of it, and how probable more is by chance."""

    photo: int
    chi2: float
    p: float


def agreements(scene: Scene, where: Layout, x: Array, solved: Rows, covariance: Array) -> tuple[Agreement, ...]:
    """Of each photograph that sees the centre and that others check; x (P,), rows and covariance (P, P) at the solution."""
    found: list[Agreement] = []
    for photo, rows, move in _moves(scene, where, x, solved.places):
        residual, jacobian = solved.residual[rows], solved.jacobian[rows]
        by_move = move.T @ jacobian
        whole = move.T @ move
        root = np.linalg.inv(np.linalg.cholesky(whole))
        checked, axes = np.linalg.eigh(root @ (whole - by_move @ covariance @ by_move.T) @ root.T)
        score = axes.T @ (root @ (move.T @ residual))
        seen = checked > MIN_REDUNDANCY
        if seen.any():
            from scipy.special import chdtrc  # slow to load, and one photograph does not need it

            chi2 = float((score[seen] ** 2 / checked[seen]).sum())
            found.append(Agreement(photo=photo, chi2=chi2, p=float(chdtrc(int(seen.sum()), chi2))))
    return tuple(found)


def _moves(scene: Scene, where: Layout, x: Array, places: RowPlaces) -> list[tuple[int, slice, Array]]:
    """Photograph, rows and whitened move (R, 2) of each sighting."""
    moves = []
    across = np.eye(2)
    for view, own in zip(scene.planes, places.planes, strict=True):
        if view.plane == "tag":
            moves.append((view.photo, own, _together(across, view.sigma_px)))
    for point, own in zip(scene.points, places.points, strict=True):
        moves.append((point.photo, own, across / point.sigma_px))
    for outline, own in zip(scene.outlines, places.outlines, strict=True):
        moves.append((outline.photo, own, _outwards(scene, where, x, outline)))
    return moves


def _together(across: Array, sigma_px: Array) -> Array:
    return np.asarray(np.concatenate([across / sigma for sigma in sigma_px]))


def _outwards(scene: Scene, where: Layout, x: Array, outline: OutlineView) -> Array:
    """(N, 2): an outline point counts by how far it is moved away from the ball's centre."""
    away = outline.px - centre_px(scene, where, x, outline)
    return np.asarray(away / np.linalg.norm(away, axis=1, keepdims=True) / outline.sigma_px[:, None])
