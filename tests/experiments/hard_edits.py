"""What people, editors and bad transfers do to a photograph afterwards: each as a function of a grey picture (h, w).

An edit gives the picture that comes out and where a point of the old picture is in it (None: wherever the program finds it).
`Known` says where sheet and coupling are, so that a seam can be laid across the one, the other or between.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Picture = NDArray[np.uint8]
Points = NDArray[np.float64]
Moved = Callable[[Points], Points]


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """Pixels in the whole picture: middle of the sheet, and the coupling's centre."""

    sheet_px: Points
    centre_px: Points

    def at(self, where: str) -> Points:
        """(2,) a place: across the `sheet`, across the `coupling`, or `between` them."""
        if where == "sheet":
            return self.sheet_px
        return self.centre_px if where == "coupling" else 0.5 * (self.sheet_px + self.centre_px)


Edit = Callable[[Picture, Known], tuple[Picture, Moved]]


def same(points: Points) -> Points:
    return points


def _by_matrix(matrix: NDArray[np.float64]) -> Moved:
    return lambda points: np.asarray(cv2.perspectiveTransform(points[None], matrix)[0], dtype=np.float64)


def _warped(
    picture: Picture, matrix: NDArray[np.float64], size: tuple[int, int] | None = None
) -> tuple[Picture, Moved]:
    size = size or (picture.shape[1], picture.shape[0])
    edited = cv2.warpPerspective(picture, matrix, size, flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(edited, dtype=np.uint8), _by_matrix(matrix)


def _remapped(picture: Picture, x: NDArray[np.float64], y: NDArray[np.float64]) -> Picture:
    """By where each new pixel comes from."""
    return np.asarray(
        cv2.remap(
            picture, x.astype(np.float32), y.astype(np.float32), cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE
        ),
        dtype=np.uint8,
    )


def _inverse(forward_of_new: Callable[[Points], Points]) -> Moved:
    """Where old points are, by fixed-point rounds on where new pixels come from."""

    def moved(points: Points) -> Points:
        new = points.copy()
        for _ in range(30):
            new = new - (forward_of_new(new) - points)
        return new

    return moved


def whole(picture: Picture, known: Known) -> tuple[Picture, Moved]:
    return picture, same


def keystone(share: float, *, sideways: bool = False) -> Edit:
    """An edge drawn out by a share of the width (of the height, sideways), as editors straighten walls."""

    def edit(picture: Picture, known: Known) -> tuple[Picture, Moved]:
        height, width = picture.shape
        to = np.array([[0, 0], [width, 0], [width, height], [0, height]], dtype=np.float32)
        of = to.copy()
        if sideways:
            of[0, 1], of[3, 1] = share * height / 2, height * (1 - share / 2)
        else:
            of[0, 0], of[1, 0] = share * width / 2, width * (1 - share / 2)
        return _warped(picture, np.asarray(cv2.getPerspectiveTransform(of, to), dtype=np.float64))

    return edit


def sheared(share: float, *, down: bool = False) -> Edit:
    """Rows moved sideways in proportion to their height, or columns down in proportion to their place."""

    def edit(picture: Picture, known: Known) -> tuple[Picture, Moved]:
        height, width = picture.shape
        matrix = np.eye(3)
        if down:
            matrix[1, 0], matrix[1, 2] = share, -share * width / 2
        else:
            matrix[0, 1], matrix[0, 2] = share, -share * height / 2
        return _warped(picture, matrix)

    return edit


def stretched(across: float, down: float, *, cut: bool = False) -> Edit:
    """Wider and higher by shares; cut: back to the picture's own size afterwards."""

    def edit(picture: Picture, known: Known) -> tuple[Picture, Moved]:
        height, width = picture.shape
        size = (round(width * (1 + across)), round(height * (1 + down)))
        sx, sy = size[0] / width, size[1] / height
        matrix = np.array([[sx, 0, 0.5 * sx - 0.5], [0, sy, 0.5 * sy - 0.5], [0, 0, 1.0]])
        if cut:
            off_x, off_y = (size[0] - width) / 2, (size[1] - height) / 2
            matrix = np.array([[1, 0, -off_x], [0, 1, -off_y], [0, 0, 1.0]]) @ matrix
            size = (width, height)
        return _warped(picture, matrix, size)

    return edit


def proportions(ratio: float) -> Edit:
    """Squeezed until it is so many times as wide as high."""
    return lambda picture, known: stretched(0.0, picture.shape[1] / picture.shape[0] / ratio - 1.0)(picture, known)


def turned(deg: float) -> Edit:
    """Turned by a few degrees and cut to what is left, as for a level horizon."""

    def edit(picture: Picture, known: Known) -> tuple[Picture, Moved]:
        height, width = picture.shape
        a = np.deg2rad(abs(deg))
        grown = max(np.cos(a) + np.sin(a) * height / width, np.cos(a) + np.sin(a) * width / height)
        matrix = np.vstack([cv2.getRotationMatrix2D(((width - 1) / 2, (height - 1) / 2), deg, float(grown)), [0, 0, 1]])
        return _warped(picture, matrix)

    return edit


def cropped(left: float, top: float, right: float, bottom: float) -> Edit:
    def edit(picture: Picture, known: Known) -> tuple[Picture, Moved]:
        height, width = picture.shape
        x0, y0 = round(left * width), round(top * height)
        kept = picture[y0 : height - round(bottom * height), x0 : width - round(right * width)]
        return np.ascontiguousarray(kept), lambda points: points - [x0, y0]

    return edit


def bent(k1: float) -> Edit:
    """An editor's lens correction: lines bent by a radial term, of the half diagonal."""

    def edit(picture: Picture, known: Known) -> tuple[Picture, Moved]:
        height, width = picture.shape
        middle, radius = np.array([(width - 1) / 2, (height - 1) / 2]), 0.5 * np.hypot(width, height)

        def source(new: Points) -> Points:
            off = new - middle
            return np.asarray(middle + off * (1 + k1 * ((off / radius) ** 2).sum(axis=-1, keepdims=True)))

        grid = np.stack(np.meshgrid(np.arange(width), np.arange(height)), axis=-1).astype(np.float64)
        at = source(grid)
        return _remapped(picture, at[..., 0], at[..., 1]), _inverse(source)

    return edit


def cylindrical(focal_share: float) -> Edit:
    """The sheet of a panorama: columns by angle, on a cylinder of radius `focal_share` of the long side."""

    def edit(picture: Picture, known: Known) -> tuple[Picture, Moved]:
        height, width = picture.shape
        f, cx, cy = focal_share * max(picture.shape), (width - 1) / 2, (height - 1) / 2

        def source(new: Points) -> Points:
            angle = (new[..., 0] - cx) / f
            return np.stack([cx + f * np.tan(angle), cy + (new[..., 1] - cy) / np.cos(angle)], axis=-1)

        grid = np.stack(np.meshgrid(np.arange(width), np.arange(height)), axis=-1).astype(np.float64)
        at = source(grid)

        def moved(points: Points) -> Points:
            angle = np.arctan((points[:, 0] - cx) / f)
            return np.stack([cx + f * angle, cy + (points[:, 1] - cy) * np.cos(angle)], axis=1)

        return _remapped(picture, at[..., 0], at[..., 1]), moved

    return edit


def wobbled(by_px: float, rows: float = 400.0) -> Edit:
    """Rows moved sideways to and fro, as a phone that shakes while it reads its sensor does."""

    def edit(picture: Picture, known: Known) -> tuple[Picture, Moved]:
        height, width = picture.shape
        x, y = np.meshgrid(np.arange(width, dtype=np.float64), np.arange(height, dtype=np.float64))
        by = by_px * np.sin(2 * np.pi * y / rows)

        def moved(points: Points) -> Points:
            return points - np.stack([by_px * np.sin(2 * np.pi * points[:, 1] / rows), np.zeros(len(points))], axis=1)

        return _remapped(picture, x + by, y), moved

    return edit


def stitched(
    where: str,
    *,
    along: str,
    shift_px: tuple[float, float] = (0.0, 0.0),
    scale: float = 0.0,
    turn_deg: float = 0.0,
    blend_px: int = 40,
) -> Edit:
    """Put together from two that do not quite fit, as panoramas and scans are.

    The seam runs along a row or column at a place of `Known`; what is beyond it (below, or to the right) is moved by
    `shift_px`, grown and turned about the seam's middle; over `blend_px` the one goes over into the other.
    """

    def edit(picture: Picture, known: Known) -> tuple[Picture, Moved]:
        at = known.at(where)
        matrix = np.vstack([cv2.getRotationMatrix2D((float(at[0]), float(at[1])), turn_deg, 1.0 + scale), [0, 0, 1]])
        matrix[:2, 2] += shift_px
        other, moved = _warped(picture, matrix)
        axis = 0 if along == "row" else 1
        place = at[1] if along == "row" else at[0]
        share = np.clip((np.arange(picture.shape[axis]) - place) / max(blend_px, 1) + 0.5, 0.0, 1.0)
        share = share[:, None] if along == "row" else share[None, :]
        mixed = np.rint((1.0 - share) * picture + share * other).astype(np.uint8)

        def to(points: Points) -> Points:
            beyond = (points[:, 1] if along == "row" else points[:, 0]) >= place
            return np.where(beyond[:, None], moved(points), points)

        return mixed, to

    return edit


def rows_lost(lost: int, where: str) -> Edit:
    """Rows of blocks that a damaged file lost."""

    def edit(picture: Picture, known: Known) -> tuple[Picture, Moved]:
        row = 16 * round(float(known.at(where)[1]) / 16)
        broken = np.vstack([picture[:row], picture[row + lost :]])
        return (
            broken,
            lambda points: points - np.stack([np.zeros(len(points)), np.where(points[:, 1] >= row, lost, 0)], axis=1),
        )

    return edit


def shifted(by_px: int, where: str, *, along: str = "row") -> Edit:
    """Everything below a row moved sideways, or everything right of a column moved down."""

    def edit(picture: Picture, known: Known) -> tuple[Picture, Moved]:
        at, first = known.at(where), 1 if along == "row" else 0
        place = 16 * round(float(at[first]) / 16)
        broken = picture.copy()
        if along == "row":
            broken[place:] = np.roll(broken[place:], by_px, axis=1)
        else:
            broken[:, place:] = np.roll(broken[:, place:], by_px, axis=0)
        by = [by_px, 0] if along == "row" else [0, by_px]
        return broken, lambda points: np.where((points[:, first] >= place)[:, None], points + by, points)

    return edit


def toned(how: str) -> Edit:
    """Filters that leave every line where it is."""

    def edit(picture: Picture, known: Known) -> tuple[Picture, Moved]:
        if how == "HDR":
            out = cv2.createCLAHE(clipLimit=4.0, tileGridSize=(8, 8)).apply(picture)
        elif how == "halo":
            soft = cv2.GaussianBlur(picture, (0, 0), 12)
            out = cv2.addWeighted(picture, 1.8, soft, -0.8, 0)
        elif how == "sharpened":
            soft = cv2.GaussianBlur(picture, (0, 0), 1.5)
            out = cv2.addWeighted(picture, 3.0, soft, -2.0, 0)
        elif how == "beauty":
            out = cv2.bilateralFilter(picture, 9, 40, 7)
        elif how == "noise":
            noise = np.random.default_rng(3).normal(0, 18, picture.shape)
            out = np.clip(picture + noise, 0, 255).astype(np.uint8)
        else:
            out = 255 - picture
        return np.asarray(out, dtype=np.uint8), same

    return edit


def mirrored(axis: int) -> Edit:
    return lambda picture, known: (np.ascontiguousarray(np.flip(picture, axis)), same)


def screenshot(picture: Picture, known: Known) -> tuple[Picture, Moved]:
    """Shown on a phone's screen between bars, and that taken."""
    width, frame_px = 1440, 400
    scale = width / picture.shape[1]
    small = cv2.resize(picture, (width, round(picture.shape[0] * scale)), interpolation=cv2.INTER_AREA)
    shot = np.full((small.shape[0] + 2 * frame_px, width), 20, np.uint8)
    shot[frame_px : frame_px + len(small)] = small
    cv2.putText(shot, "12:34", (40, 90), cv2.FONT_HERSHEY_SIMPLEX, 2.0, 255, 4)
    return shot, lambda points: (points + 0.5) * scale - 0.5 + [0, frame_px]


def collage(picture: Picture, known: Known) -> tuple[Picture, Moved]:
    """Beside another picture, both at half their size."""
    half = cv2.resize(picture, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    other = cv2.GaussianBlur(np.ascontiguousarray(np.flip(half, 0)), (0, 0), 9)
    return np.hstack([half, other]), lambda points: (points + 0.5) * 0.5 - 0.5
