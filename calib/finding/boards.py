"""Calibration boards of stated size: chessboards and ChArUco boards, found and measured to a few hundredths of a pixel.

OpenCV finds and orders the corners; each is then fitted as a blurred saddle, with its own uncertainty. A corner whose
fit does not look like a saddle is left out, never guessed.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.camera.views import PointsSeen
from calib.finding.saddle import fit_saddles
from calib.outcome.errors import InputError
from calib.outcome.refusal import Refusal
from calib.words.said import said

Array = NDArray[np.float64]
Grey = NDArray[np.uint8]

SEARCH_SIDES_PX = (1000, 1600, 3200)  # corners are looked for at these long sides and measured in the full picture
FEWEST_CORNERS = 12
CHESSBOARD_REACH = 0.6  # of a square on each side of a corner
CHARUCO_REACH = 0.85  # of the gap between a square's edge and its marker: what the marker darkens is no saddle
# added in quadrature to each corner's sigma: no printed or shown board is better placed (common practice, no source)
PRINT_PX = 0.03
WORST_SIGMA = 6.0  # times the median sigma of the picture's corners: beyond this a corner is left out


@dataclass(frozen=True, slots=True, kw_only=True)
class Chessboard:
    """`columns` x `rows` inner corners, `square_mm` apart."""

    columns: int
    rows: int
    square_mm: float

    def __post_init__(self) -> None:
        _check_grid(self.columns, self.rows, self.square_mm, "inner corners", 3)

    def object_mm(self) -> Array:
        """(rows * columns, 3) corners, row by row."""
        return _grid(self.columns, self.rows) * self.square_mm

    def text(self) -> str:
        return said(
            "chessboard of {columns} x {rows} inner corners, {mm:g} mm squares",
            columns=self.columns,
            rows=self.rows,
            mm=self.square_mm,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Charuco:
    """`columns` x `rows` squares of `square_mm` with markers of `marker_mm` from an OpenCV dictionary, first id 0.

    legacy:  layout of boards drawn by OpenCV before 4.6 where the number of rows is even.
    """

    columns: int
    rows: int
    square_mm: float
    marker_mm: float
    dictionary: str
    legacy: bool = False

    def __post_init__(self) -> None:
        _check_grid(self.columns, self.rows, self.square_mm, "squares", 3)
        if not 0 < self.marker_mm < self.square_mm:
            raise InputError(
                said(
                    "A marker of {marker_mm:g} mm does not fit a square of {square_mm:g} mm.",
                    marker_mm=self.marker_mm,
                    square_mm=self.square_mm,
                ),
                expected=said("a marker's side above zero and below the square's side, both in mm"),
                remedy=said("measure both on the board with a rule"),
            )
        dictionary_named(self.dictionary)

    def object_mm(self) -> Array:
        """((rows - 1) * (columns - 1), 3) inner corners, row by row, as OpenCV numbers them."""
        inner = _grid(self.columns - 1, self.rows - 1) + np.array([1.0, 1.0, 0.0])
        return np.asarray(inner * self.square_mm, dtype=np.float64)

    def text(self) -> str:
        return said(
            "ChArUco board of {columns} x {rows} squares, {mm:g} mm, markers {marker_mm:g} mm of {dictionary}",
            columns=self.columns,
            rows=self.rows,
            mm=self.square_mm,
            marker_mm=self.marker_mm,
            dictionary=self.dictionary,
        )


Board = Chessboard | Charuco


def _check_grid(columns: int, rows: int, square_mm: float, unit: str, fewest: int) -> None:
    if columns < fewest or rows < fewest or not 0 < square_mm < 1e5:
        raise InputError(
            said(
                "A board of {columns} x {rows} {unit} with squares of {square_mm:g} mm cannot be used.",
                columns=columns,
                rows=rows,
                unit=unit,
                square_mm=square_mm,
            ),
            expected=said("at least {fewest} x {fewest} {unit} and a square's side in mm", fewest=fewest, unit=unit),
            remedy=said("count the {unit} along both sides and measure one square, or several and divide", unit=unit),
        )


def _grid(columns: int, rows: int) -> Array:
    grid = np.zeros((rows * columns, 3))
    grid[:, 0] = np.tile(np.arange(columns), rows)
    grid[:, 1] = np.repeat(np.arange(rows), columns)
    return grid


def dictionary_named(name: str) -> cv2.aruco.Dictionary:
    """OpenCV's dictionary `name`, such as DICT_5X5_50; InputError where there is none of that name."""
    number = getattr(cv2.aruco, name, None) if name.startswith("DICT_") else None
    if not isinstance(number, int):
        known = sorted(entry for entry in dir(cv2.aruco) if entry.startswith("DICT_"))
        raise InputError(
            said("There is no marker dictionary called {name}.", name=repr(name)),
            expected=said("one of {listed}", listed=", ".join(known)),
            remedy=said("look at what the board was printed from"),
        )
    return cv2.aruco.getPredefinedDictionary(number)


def find_board(grey: Grey, board: Board, name: str) -> PointsSeen | Refusal:
    """Corners of `board` in a grey picture (h, w), as a view called `name`; a refusal where the board is not seen."""
    best = 0
    for side_px in SEARCH_SIDES_PX:
        small, scale = _shrunk(grey, side_px)
        if isinstance(board, Chessboard):
            index, corners_px = _chessboard_corners(small, board)
        else:
            index, corners_px = _charuco_corners(small, board)
        best = max(best, len(index))
        if len(index) >= FEWEST_CORNERS:
            corners_px = (corners_px + 0.5) * scale - 0.5  # pixel (0, 0) is a pixel's centre, not its corner
            return _measured(grey, board, index, corners_px, name)
        if scale == 1.0:
            break
    return _not_found(board, name, best)


def _not_found(board: Board, name: str, count: int) -> Refusal:
    return Refusal(
        code="board-not-found",
        reason=said("{name}: no {board} was found ({count} corners).", name=name, board=board.text(), count=count),
        remedy=said("Check the stated numbers of the board; show the whole board, sharp, evenly lit, without glare."),
    )


def _shrunk(grey: Grey, side_px: int) -> tuple[Grey, float]:
    scale = max(grey.shape[:2]) / side_px
    if scale <= 1.0:
        return grey, 1.0
    height, width = round(grey.shape[0] / scale), round(grey.shape[1] / scale)
    return np.asarray(cv2.resize(grey, (width, height), interpolation=cv2.INTER_AREA), dtype=np.uint8), scale


def _chessboard_corners(grey: Grey, board: Chessboard) -> tuple[NDArray[np.int64], Array]:
    """All corners or none. The older finder sees some boards that the newer misses: thin margins, few pixels."""
    size = (board.columns, board.rows)
    classic = cv2.CALIB_CB_ADAPTIVE_THRESH | cv2.CALIB_CB_NORMALIZE_IMAGE | cv2.CALIB_CB_FAST_CHECK
    for newer, flags in (
        (True, 0),
        (True, cv2.CALIB_CB_NORMALIZE_IMAGE),
        (False, classic),
        (True, cv2.CALIB_CB_NORMALIZE_IMAGE | cv2.CALIB_CB_EXHAUSTIVE),
    ):
        find = cv2.findChessboardCornersSB if newer else cv2.findChessboardCorners
        found, corners = find(grey, size, flags=flags)
        if found and corners is not None:
            return np.arange(board.columns * board.rows), np.asarray(corners, dtype=np.float64).reshape(-1, 2)
    return np.empty(0, dtype=np.int64), np.empty((0, 2))


def _charuco_corners(grey: Grey, board: Charuco) -> tuple[NDArray[np.int64], Array]:
    pattern = cv2.aruco.CharucoBoard(
        (board.columns, board.rows), board.square_mm, board.marker_mm, dictionary_named(board.dictionary)
    )
    pattern.setLegacyPattern(board.legacy)
    parameters = cv2.aruco.CharucoParameters()
    for parameters.checkMarkers in (True, False):  # the check drops whole boards at steep views: try again without
        corners, index, _, _ = cv2.aruco.CharucoDetector(pattern, parameters).detectBoard(grey)
        if index is not None and len(index) >= FEWEST_CORNERS:
            return np.asarray(index, dtype=np.int64).ravel(), np.asarray(corners, dtype=np.float64).reshape(-1, 2)
    return np.empty(0, dtype=np.int64), np.empty((0, 2))


def _cell_axes(object_mm: Array, corners_px: Array, square_mm: float) -> Array:
    """(N, 2, 2) step of one square along the board's x (column 0) and y (column 1), from each corner's neighbours."""
    where = {tuple(cell): row for row, cell in enumerate(np.rint(object_mm[:, :2] / square_mm).astype(int).tolist())}
    general = cv2.findHomography(object_mm[:, :2], corners_px, cv2.RANSAC, 5.0)[0]
    axes = np.empty((len(object_mm), 2, 2))
    for (column, row), here in where.items():
        for axis, (dx, dy) in enumerate(((1, 0), (0, 1))):
            after, before = where.get((column + dx, row + dy)), where.get((column - dx, row - dy))
            if after is not None and before is not None:
                axes[here, :, axis] = (corners_px[after] - corners_px[before]) / 2
            elif after is not None or before is not None:
                end, start = (after, here) if after is not None else (here, before)
                axes[here, :, axis] = corners_px[end] - corners_px[start]
            else:
                step = np.array([dx, dy]) * square_mm / 2
                ends = np.stack([object_mm[here, :2] + step, object_mm[here, :2] - step])
                forward, backward = cv2.perspectiveTransform(ends[None], general)[0]
                axes[here, :, axis] = forward - backward
    return axes


def _polarity(grey: Grey, corners_px: Array, axes_px: Array, share: float) -> NDArray[np.int8]:
    """(N,) +1 where the cell to the lower right is the darker one, -1 where the lighter."""
    diagonals = np.einsum("nij,kj->nki", axes_px, np.array([[1, 1], [-1, -1], [1, -1], [-1, 1]]) * share)
    at = np.rint(corners_px[:, None, :] + diagonals).astype(int)
    values = grey[np.clip(at[..., 1], 0, grey.shape[0] - 1), np.clip(at[..., 0], 0, grey.shape[1] - 1)].astype(float)
    return np.where(values[:, :2].sum(axis=1) < values[:, 2:].sum(axis=1), 1, -1).astype(np.int8)


def _measured(grey: Grey, board: Board, index: NDArray[np.int64], corners_px: Array, name: str) -> PointsSeen | Refusal:
    object_mm = board.object_mm()[index]
    if isinstance(board, Chessboard):
        reach = CHESSBOARD_REACH
    else:
        reach = CHARUCO_REACH * (1.0 - board.marker_mm / board.square_mm) / 2
    axes = _cell_axes(object_mm, corners_px, board.square_mm)
    polarity = _polarity(grey, corners_px, axes, min(0.3, 0.7 * reach))
    saddles = fit_saddles(grey, corners_px, axes, polarity, reach=reach)
    good = saddles.good & (saddles.sigma_px < WORST_SIGMA * np.median(saddles.sigma_px))
    if good.sum() < FEWEST_CORNERS:
        return _not_found(board, name, int(good.sum()))
    return PointsSeen(
        name=name,
        object_mm=object_mm[good],
        image_px=saddles.points_px[good],
        sigma_px=np.hypot(saddles.sigma_px[good], PRINT_PX),
    )
