"""Photographs of a board to views for a calibration: of one camera and zoom, measured, turned alike."""

from __future__ import annotations

import datetime as dt
import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from calib.calibration.calibrate import Dropped
from calib.camera.turning import turn, turned_pixels, turned_size
from calib.camera.views import PointsSeen
from calib.finding.boards import PRINT_PX, Charuco, Chessboard, find_board
from calib.finding.sheets import FoundSheet, find_sheets, only_one
from calib.outcome.progress import Progress
from calib.outcome.refusal import Refusal
from calib.words.said import joined, said
from photomeasure.asked.limits import bars_meant, check_length
from photomeasure.scene.print_scale import PRINT_ANISOTROPY_U, bar_u_mm
from photomeasure.seen.camera_by_exif import FULL_FRAME_LONG_MM, ExifFacts
from photomeasure.seen.image import Photo, load


@dataclass(frozen=True, slots=True, kw_only=True)
class KitSheet:
    """The kit's own sheet and what a ruler reads on its check bars (None: not measured)."""

    bar_x_mm: float | None = None
    bar_y_mm: float | None = None

    def text(self) -> str:
        return said("sheet of the kit")

    def ratio_u(self) -> float:
        """Standard uncertainty of the print's height against its width, a share: as `measure` takes it."""
        if self.bar_x_mm is None or self.bar_y_mm is None:
            return PRINT_ANISOTROPY_U
        return math.hypot(*(bar_u_mm(bar) / bar for bar in (self.bar_x_mm, self.bar_y_mm)))


MOST_UNLIKE = 1 / 3  # of the photographs: where more are of another camera, there is no telling which is meant

Target = KitSheet | Chessboard | Charuco


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardPhotos:
    """What the photographs give: views with their files' digests and times, all of one camera, one size and one way up.

    focal_px: a first guess from EXIF, None where it is silent.
    """

    views: tuple[PointsSeen, ...]
    digests: dict[str, str]
    taken: dict[str, dt.datetime]
    size_px: tuple[int, int]
    orientation: int
    facts: ExifFacts
    focal_px: float | None
    unused: tuple[Dropped, ...]


def board_photos(paths: Sequence[Path], target: Target, progress: Progress) -> BoardPhotos | Refusal:
    """Read and measure every photograph; one that does not show the board, or is unlike the others, is left out with its
    reason. Each picture is let go before the next one is read: the memory is one photograph's.

    Most of them say which camera, lens, zoom, size and way up it is. Refuses where there is no such majority.
    """
    unused: list[Dropped] = []
    photos: list[Photo] = []
    measured: dict[Path, PointsSeen | list[tuple[str, PointsSeen]] | Refusal] = {}
    for number, path in enumerate(paths):
        progress(f"measuring {path.name}", number / len(paths))
        photo = load(path)
        if isinstance(photo, Refusal):
            unused.append(_unused(path, photo))
        else:
            measured[photo.path] = _measured(photo, target)
            photos.append(photo.without_picture())
    if not photos:
        return Refusal(
            code="unreadable",
            reason=said(
                "None of the photographs can be read. {reasons}", reasons=joined([gone.reason for gone in unused], " ")
            ),
            remedy=said("Give photographs as the camera wrote them: JPEG, HEIC, PNG, TIFF or WebP."),
        )
    first = _like_most(photos)
    unlike = {photo.path: why for photo in photos if (why := _unlike(first, photo)) is not None}
    if len(unlike) > MOST_UNLIKE * len(photos):
        other = next(photo for photo in photos if photo.path in unlike)
        return _mixed(first, other, unlike[other.path])
    views: list[tuple[Photo, PointsSeen | list[tuple[str, PointsSeen]]]] = []
    for photo in photos:
        if photo.path in unlike:
            unused.append(
                Dropped(
                    name=photo.path.name, reason=said("{reason}, unlike most of the others", reason=unlike[photo.path])
                )
            )
            continue
        if (turned := held_unlike(first, photo)) is not None:
            unused.append(Dropped(name=photo.path.name, reason=turned))
            continue
        found = measured[photo.path]
        if isinstance(found, Refusal):
            unused.append(_unused(photo.path, found))
        else:
            views.append((photo, found))
    if not views:
        return _no_board(target, unused)
    return BoardPhotos(
        views=tuple(_alike(photo, view, first) for photo, view in _of_one_sheet(views)),
        digests={photo.path.name: photo.sha256 for photo in photos},
        taken={photo.path.name: photo.facts.taken for photo in photos if photo.facts.taken is not None},
        size_px=first.size_px,
        orientation=first.camera_orientation,
        facts=first.facts,
        focal_px=_focal_px(first),
        unused=tuple(unused),
    )


def _like_most(photos: Sequence[Photo]) -> Photo:
    """The first photograph that most of the others are like: of that camera, and held so that they can be turned to it."""
    return max(
        photos,
        key=lambda one: (
            sum(_unlike(one, other) is None for other in photos),
            sum(held_unlike(one, other) is None for other in photos),
        ),
    )


def _no_board(target: Target, unused: Sequence[Dropped]) -> Refusal:
    """Not one photograph shows it: then it is seldom the photographs."""
    remedy = said("Show the whole sheet, sharp and evenly lit.")
    if not isinstance(target, KitSheet):
        remedy = said(
            "Check the board's stated numbers: a chessboard's inner corners are counted, one less than its squares each way; a "
            "ChArUco board's squares are, and its dictionary has to be named."
        )
    reasons = [joined((gone.name, gone.reason), ": ") for gone in unused[:3]]
    if len(unused) > 3:
        reasons.append(said("and {count} more", count=len(unused) - 3))
    return Refusal(
        code="no-board",
        reason=said(
            "The {target} was found in none of the photographs ({reasons}).",
            target=target.text(),
            reasons=joined(reasons, "; "),
        ),
        remedy=remedy,
    )


def _unused(path: Path, refusal: Refusal) -> Dropped:
    """With a reason that does not say the name again."""
    reason = refusal.reason.removeprefix(f"{path.name}: ")
    own = f"{path.name} "
    return Dropped(name=path.name, reason=f"it {reason.removeprefix(own)}" if reason.startswith(own) else reason)


def _focal_px(photo: Photo) -> float | None:
    """EXIF's 35 mm-equivalent by the long side; good enough to start from."""
    f35 = photo.facts.focal_35mm
    return None if f35 is None else f35 / FULL_FRAME_LONG_MM * max(photo.size_px)


def _unlike(first: Photo, photo: Photo) -> str | None:
    """In what two photographs are not of one camera, lens, zoom and size; None where nothing speaks against it."""
    pairs = (
        (said("camera"), (first.facts.make, first.facts.model), (photo.facts.make, photo.facts.model)),
        (said("lens"), first.facts.lens, photo.facts.lens),
        (said("focal length"), first.facts.focal_mm, photo.facts.focal_mm),
        (said("35 mm-equivalent focal length"), first.facts.focal_35mm, photo.facts.focal_35mm),
        (said("digital zoom"), first.facts.digital_zoom, photo.facts.digital_zoom),
        (said("size"), sorted(first.size_px), sorted(photo.size_px)),
    )
    for what, one, other in pairs:
        if one != other:
            return said("its {what} is {other}, not {first}", what=what, other=_shown(other), first=_shown(one))
    return None


def another_camera(first: Photo, photo: Photo) -> Refusal | None:
    """The refusal where two photographs are not of one camera, lens, zoom and size; None where nothing speaks against it."""
    why = _unlike(first, photo)
    return None if why is None else _mixed(first, photo, why)


def _mixed(first: Photo, other: Photo, why: str) -> Refusal:
    return Refusal(
        code="mixed-cameras",
        reason=said(
            "The photographs are of more than one camera, lens, zoom or size: {other} against {first}, {why}.",
            other=other.path.name,
            first=first.path.name,
            why=why,
        ),
        remedy=said("Calibrate one camera at one zoom at a time, with photographs as it wrote them, uncropped."),
    )


def held_unlike(first: Photo, photo: Photo) -> str | None:
    """Why a photograph cannot be turned to lie as the first does; None where it can.

    One stands upright, the other lies, and EXIF does not say which way the camera was turned.
    """
    matrix = turn(photo.camera_orientation, first.camera_orientation)
    if turned_size(photo.size_px, matrix) == first.size_px:
        return None
    if photo.size_px[1] > photo.size_px[0]:
        return said(
            "it stands upright, unlike {first}, and the file does not say which way the camera was turned: give all photographs "
            "the same way up, as the camera wrote them",
            first=first.path.name,
        )
    return said(
        "it lies on its side, unlike {first}, and the file does not say which way the camera was turned: give all photographs the "
        "same way up, as the camera wrote them",
        first=first.path.name,
    )


def _shown(value: object) -> str:
    if isinstance(value, tuple):
        return " ".join(str(part) for part in value if part) or said("not stated")
    if isinstance(value, list):
        return " x ".join(str(part) for part in reversed(value)) + " px"
    return said("not stated") if value is None else f"{value}"


def _measured(photo: Photo, target: Target) -> PointsSeen | list[tuple[str, PointsSeen]] | Refusal:
    """One view of a board, or one view for each sheet of the kit seen."""
    if not isinstance(target, KitSheet):
        return find_board(photo.grey, target, photo.path.name)
    found = find_sheets(photo.grey)
    if not isinstance(found, Refusal):
        found = only_one(found)
    if isinstance(found, Refusal):
        return found
    sheets = [(str(sheet.sheet.role), _sheet_view(sheet, target, photo.path.name)) for sheet in found.sheets]
    usable = [(role, view) for role, view in sheets if role != "centre-tag"]
    if usable:
        return usable
    return Refusal(
        code="no-sheet",
        reason=said("{photo}: neither the upright nor the ground sheet was found.", photo=photo.path.name),
        remedy=said("Show the whole sheet, sharp and evenly lit."),
    )


def _sheet_view(found: FoundSheet, target: KitSheet, name: str) -> PointsSeen:
    """The sheet's saddles as printed: page millimetres times what the rule reads over what was drawn."""
    read = (target.bar_x_mm, target.bar_y_mm)
    drawn = bars_meant(found.sheet, read)
    for axis, bar, length in zip("XY", read, drawn, strict=True):
        if bar is not None:
            check_length(f"bar {axis}", bar, length)
    scale = np.array([1.0 if bar is None else bar / length for bar, length in zip(read, drawn, strict=True)])
    local = found.sheet.local_mm(found.sheet.points_mm[found.index]) * scale
    return PointsSeen(
        name=name,
        object_mm=np.column_stack([local, np.zeros(len(local))]),
        image_px=found.points_px,
        sigma_px=np.hypot(found.sigma_px, PRINT_PX),
    )


def _of_one_sheet(
    views: Sequence[tuple[Photo, PointsSeen | list[tuple[str, PointsSeen]]]],
) -> list[tuple[Photo, PointsSeen]]:
    """One view a photograph: of the kit, the sheet that most photographs show, so that its flatness can be judged."""
    roles = Counter(role for _, view in views if isinstance(view, list) for role, _ in view)
    chosen = roles.most_common(1)[0][0] if roles else None
    picked: list[tuple[Photo, PointsSeen]] = []
    for photo, view in views:
        if isinstance(view, PointsSeen):
            picked.append((photo, view))
        else:
            picked += [(photo, seen) for role, seen in view if role == chosen]
    return picked


def _alike(photo: Photo, view: PointsSeen, first: Photo) -> PointsSeen:
    """The view with its pixels turned as the first photograph is: a camera turned on its side is the same camera."""
    matrix = turn(photo.camera_orientation, first.camera_orientation)
    return PointsSeen(
        name=view.name,
        object_mm=view.object_mm,
        image_px=turned_pixels(view.image_px, photo.size_px, matrix),
        sigma_px=view.sigma_px,
    )
