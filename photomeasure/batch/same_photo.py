"""One photograph in two rigs of a run: by its bytes, or by what is seen in it where it was cut, shrunk or saved anew in between."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from photomeasure.record.schema import Record

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

# Of the sheet's diagonal: a centre that was found twice in copies of one picture; one that two people marked. A sheet seen from the
# same direction is one of some ten thousand pairs (computed: within 15 degrees, 1.5 to 2.5 m), a coupling at the same place beside it
# one of a thousand to a hundred thousand again.
SAME_FOUND, SAME_MARK = 0.004, 0.012


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoSeen:
    """What a record keeps of a photograph: digest; corners of the sheet (4, 2) and centre (2,) in its picture; the clock's time."""

    sha256: str
    sheet_px: tuple[tuple[float, float], ...] | None = None
    centre_px: tuple[float, float] | None = None
    marked: bool = False
    taken: str | None = None


def photos_seen(record: Record) -> tuple[PhotoSeen, ...]:
    """The photographs of a record that have a digest."""
    centre = record.centre
    pixels = [None] * len(record.photos) if centre is None else centre.px
    return tuple(
        PhotoSeen(
            sha256=photo.sha256,
            sheet_px=None if photo.sheet_px is None else tuple((x, y) for x, y in photo.sheet_px),
            centre_px=None if px is None else (px[0], px[1]),
            marked=centre is not None and centre.source == "pick",
            taken=photo.taken,
        )
        for photo, px in zip(record.photos, pixels, strict=False)
        if photo.sha256 is not None
    )


def others_with(photos: Sequence[tuple[int, PhotoSeen]]) -> dict[int, list[int]]:
    """Of each rig's number the numbers of other rigs in which one of its photographs is found. photos: with their rig."""
    pairs = {*_by_digest(photos), *_by_sight(photos)}
    found: dict[int, list[int]] = {}
    for one, other in sorted(pairs | {(b, a) for a, b in pairs}):
        found.setdefault(one, []).append(other)
    return found


def _by_digest(photos: Sequence[tuple[int, PhotoSeen]]) -> set[tuple[int, int]]:
    rigs: dict[str, list[int]] = {}
    for rig, photo in photos:
        rigs.setdefault(photo.sha256, []).append(rig)
    return {(one, other) for same in rigs.values() for one in same for other in same if one < other}


def _by_sight(photos: Sequence[tuple[int, PhotoSeen]]) -> set[tuple[int, int]]:
    """Sorted by one of the sheet's proportions, so that only near ones are compared: ten thousand rigs take seconds."""
    import numpy as np  # the parent of a batch loads nothing that measuring needs before it is over

    from photomeasure.seen.same_picture import in_their_own_frame, same_shape

    seen = [(rig, photo, np.array(photo.sheet_px)) for rig, photo in photos if photo.sheet_px is not None]
    if len(seen) < 2:
        return set()
    key = np.array([in_their_own_frame(corners, corners)[1, 0] for _, _, corners in seen])
    order = np.argsort(key)
    widest = 2.0 / min(float(np.linalg.norm(corners[2] - corners[0])) for _, _, corners in seen)
    pairs = set()
    for at, number in enumerate(order):
        rig, photo, corners = seen[number]
        for other in order[at + 1 :]:
            if key[other] - key[number] > widest:
                break
            rig2, photo2, corners2 = seen[other]
            if rig != rig2 and same_shape(corners, corners2) and _same_centre(photo, corners, photo2, corners2):
                pairs.add((min(rig, rig2), max(rig, rig2)))
    return pairs


def _same_centre(one: PhotoSeen, corners: NDArray[np.float64], other: PhotoSeen, corners2: NDArray[np.float64]) -> bool:
    """Whether the coupling is at the same place beside the sheet, or both were taken in one second and nothing speaks against it."""
    import numpy as np

    from photomeasure.seen.same_picture import in_their_own_frame

    if one.taken is not None and other.taken is not None:
        return one.taken == other.taken
    if one.centre_px is None or other.centre_px is None:
        return False
    a = in_their_own_frame(corners, np.array([one.centre_px]))
    b = in_their_own_frame(corners2, np.array([other.centre_px]))
    limit = SAME_MARK if one.marked or other.marked else SAME_FOUND
    return bool(np.linalg.norm(a - b) < limit)
