"""One photograph in two rigs of a run: by its bytes, or by what is seen in it where it was cut, shrunk or saved anew in between."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import chain
from typing import TYPE_CHECKING

from photomeasure.record.schema import Record

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

# Of the sheet's diagonal: a centre that was found twice in copies of one picture; one that two people marked. A sheet seen from the
# same direction is one of some ten thousand pairs (computed: within 15 degrees, 1.5 to 2.5 m), a coupling at the same place beside it
# one of a thousand to a hundred thousand again.
SAME_FOUND, SAME_MARK = 0.004, 0.012
MOST_OTHERS = 12  # that a row names
_AT_A_TIME = 2048


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
    """Of each rig's number the numbers of other rigs in which one of its photographs is found. photos: with their rig.

    Where one photograph is in very many rigs, each has some of the others, more than `MOST_OTHERS`: not millions of pairs.
    """
    found: dict[int, set[int]] = {}
    for one, other in chain(_by_digest(photos), _by_sight(photos)):
        found.setdefault(one, set()).add(other)
        found.setdefault(other, set()).add(one)
    return {rig: sorted(others) for rig, others in sorted(found.items())}


def _by_digest(photos: Sequence[tuple[int, PhotoSeen]]) -> Iterator[tuple[int, int]]:
    """Pairs of rigs; of each photograph with the next that are the same, one more than are listed."""
    rigs: dict[str, list[int]] = {}
    for rig, photo in photos:
        rigs.setdefault(photo.sha256, []).append(rig)
    for same in rigs.values():
        for at, one in enumerate(same):
            yield from ((one, other) for other in same[at + 1 : at + 2 + MOST_OTHERS] if other != one)


def _by_sight(photos: Sequence[tuple[int, PhotoSeen]]) -> Iterator[tuple[int, int]]:
    """Sorted by one of the sheet's proportions, so that only near ones are compared: ten thousand rigs take seconds, be they all
    photographed from one tripod."""
    import numpy as np  # the parent of a batch loads nothing that measuring needs before it is over

    from photomeasure.seen.same_picture import SAME_SHAPE_PX

    seen = [(rig, photo) for rig, photo in photos if photo.sheet_px is not None]
    if len(seen) < 2:
        return
    rigs = np.array([rig for rig, _ in seen])
    shapes, centres, diagonals_px = _in_own_frames([photo for _, photo in seen])
    seconds: dict[str, int] = {}
    taken = np.array([-1 if p.taken is None else seconds.setdefault(p.taken, len(seconds)) for _, p in seen])
    marked = np.array([photo.marked for _, photo in seen])
    order = np.argsort(shapes[:, 0], kind="stable")
    keys = shapes[order, 0]
    ends = np.searchsorted(keys, keys + 2.0 / diagonals_px.min(), side="right")
    for at, number in enumerate(order):
        pairs = 0
        for start in range(at + 1, int(ends[at]), _AT_A_TIME):
            near = order[start : min(start + _AT_A_TIME, int(ends[at]))]
            apart = np.abs(shapes[near] - shapes[number]).max(axis=1) * np.minimum(
                diagonals_px[near], diagonals_px[number]
            )
            clocks = (taken[near] >= 0) & (taken[number] >= 0)
            limit = np.where(marked[near] | marked[number], SAME_MARK, SAME_FOUND)
            beside = np.linalg.norm(centres[near] - centres[number], axis=1) < limit  # False where one has no centre
            same = np.where(clocks, taken[near] == taken[number], beside) & (apart < SAME_SHAPE_PX)
            for other in rigs[near[same & (rigs[near] != rigs[number])]][: MOST_OTHERS + 1 - pairs]:
                pairs += 1
                yield int(rigs[number]), int(other)
            if pairs > MOST_OTHERS:
                break


def _in_own_frames(photos: Sequence[PhotoSeen]) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Of each photograph (N, 4) the sheet's second and fourth corner and (N, 2) the centre in the sheet's own frame, whose origin is
    the first corner and whose unit the diagonal; (N,) that diagonal in pixels."""
    import numpy as np

    from photomeasure.seen.same_picture import in_their_own_frame

    shapes, centres, diagonals_px = [], [], []
    for photo in photos:
        corners = np.array(photo.sheet_px)
        centre = np.array([photo.centre_px or (np.nan, np.nan)])
        within = in_their_own_frame(corners, np.concatenate([corners[[1, 3]], centre]))
        shapes.append(within[:2].ravel())
        centres.append(within[2])
        diagonals_px.append(float(np.linalg.norm(corners[2] - corners[0])))
    return np.array(shapes), np.array(centres), np.array(diagonals_px)
