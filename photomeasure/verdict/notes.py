"""What the reader must know before using a figure: what was contradicted, and what nobody said or measured."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np

from calib.words.said import said, said_many
from photomeasure.scene.paper import uncut_mm
from photomeasure.solution.geometry import turned_rad
from photomeasure.solution.unusable import sees_ground

if TYPE_CHECKING:
    from photomeasure.asked.bars import Bars
    from photomeasure.asked.request import Request
    from photomeasure.scene.paper import Paper
    from photomeasure.seen.seams import Seam
    from photomeasure.solution.estimate import Estimate

GROUND_ASSUMED = said("The ground was not said to be hard and flat, so it counts as rough, and the interval is wider.")
NO_BARS = said("The check bars were not measured, so the scale of the print is not known.")
ONE_BAR = said("Only one check bar was measured, so the scale of the print along the other is a guess.")
TOLD_LEAN_DEG = 1.5  # a lean that is mentioned, though it was allowed for
SCATTER = 2.5  # times what the corners claim
LONGEST = 2.3  # long side over short: phones cut down to 20 by 9, which is 2.22 (common practice, no source)
# Own scenes have phones held to 1.5 degrees; people to about 3 (judgement), of whom one in fifty is further off than this.
TURNED_DEG = 7.0
FAR_APART = dt.timedelta(minutes=30)  # nobody walks around a rig for longer (judgement)


def notes(
    request: Request, solved: Estimate, known: Iterable[str], taken: Sequence[tuple[str, dt.datetime | None]] = ()
) -> list[str]:
    """Every sentence once; known: those that are known already, among them what the photographs contradict.

    taken: name of each photograph and when its camera's clock says it was taken.
    """
    found = [*dict.fromkeys(known), *_of_clocks(taken)]
    if "print.x" in solved.where.index:
        found += _of_bars(request.bars)
    if solved.scene.cameras[0].kind == "assumed":
        found.append(said("The file does not tell the camera's focal length; a phone's main camera was assumed."))
    if request.state.level_ground is None and request.level_within_mm_per_m is None and request.bay is None:
        found.append(GROUND_ASSUMED)
    if not any("upright sheet leans" in sentence for sentence in found):
        found += _of_lean(solved)
    return [*found, *_of_corners(solved)]


def of_paper(papers: Sequence[Paper | None]) -> list[str]:
    """What the paper's lower edge says: it was not cut, or it is not where it should be."""
    strip_mm = uncut_mm(papers)
    if strip_mm is not None:
        return [
            said(
                "Paper goes on {strip_mm:.0f} mm below the foot line: the sheet was not cut along it, or "
                "something as white lies there. It was taken to stand on the paper's edge. Cut the sheet along "
                "the foot line, stand it on the ground, and photograph again.",
                strip_mm=strip_mm,
            )
        ]
    if any(paper is not None and paper.lower_mm is not None and paper.lower_mm > 0.0 for paper in papers):
        return [
            said(
                "The lower end of the upright sheet is not seen: it is folded under, sunk in, or something lies "
                "before it. Stand the whole sheet with its foot line on hard ground, its lower end free, and "
                "photograph again."
            )
        ]
    return []


def of_breaks(photos: Sequence[tuple[str, Seam | None]]) -> list[str]:
    """Photographs that break along a line: name, and where, as they are stored."""
    return [_broken(name, seam) for name, seam in photos if seam is not None]


def _broken(name: str, seam: Seam) -> str:
    if seam.along == "row":
        return said(
            "{name} breaks along a line, {share:.0f} % of the way through its rows: some seem to be missing or shifted there, as in a "
            "damaged file, and heights across it are wrong. Copy or send the file again as it came from the phone.",
            name=name,
            share=100.0 * seam.share,
        )
    return said(
        "{name} breaks along an upright line, {share:.0f} % of the way through its columns: it seems to be put together from pieces that "
        "do not fit, and heights across it are wrong. Send one photograph as the camera wrote it.",
        name=name,
        share=100.0 * seam.share,
    )


def of_moved(photos: Sequence[tuple[str, float]]) -> list[str]:
    """Photographs in which one end of a sheet does not lie where the other says: name, and by how many of its squares."""
    return [
        said(
            "In {name} one end of the sheet does not lie where the other says, by {off:.1f} of its squares: the picture was put "
            "together from pieces that do not fit, or the sheet is folded or torn. Heights across it are wrong.",
            name=name,
            off=cells,
        )
        for name, cells in photos
        if cells > 0.0
    ]


def of_shape(photos: Sequence[tuple[str, tuple[int, int]]]) -> list[str]:
    """Photographs longer than a camera's: name, and width and height."""
    return [
        said(
            "{name} is {ratio:.1f} times as long as it is wide, which no camera's picture is: a panorama, several pictures side by side, "
            "or a strip cut from one. Send the photograph whole, as the camera wrote it.",
            name=name,
            ratio=max(size) / min(size),
        )
        for name, size in photos
        if max(size) > LONGEST * min(size)
    ]


def of_turn(solved: Estimate) -> list[str]:
    """A sheet that is turned in the picture, and nothing tells whether it was the sheet or the phone."""
    turned_deg = abs(float(np.degrees(turned_rad(solved))))
    if sees_ground(solved) or not TURNED_DEG < turned_deg < 45.0:
        return []
    return [
        said(
            "The upright sheet is turned by {turned_deg:.0f} degrees in the picture: either the phone was "
            "held so, or the sheet does not stand on its whole foot line. Stand the sheet with its foot line "
            "on the ground, hold the phone upright, and photograph again.",
            turned_deg=turned_deg,
        )
    ]


def first_and_last(
    taken: Sequence[tuple[str, dt.datetime | None]],
) -> tuple[tuple[dt.datetime, str], tuple[dt.datetime, str]] | None:
    """Time and name of the earliest and of the latest photograph whose camera has a clock."""
    known = sorted((time, name) for name, time in taken if time is not None)
    return (known[0], known[-1]) if len(known) > 1 else None


def _of_clocks(taken: Sequence[tuple[str, dt.datetime | None]]) -> Iterator[str]:
    """Photographs of one rig that were taken far apart."""
    ends = first_and_last(taken)
    if ends is None or (between := ends[1][0] - ends[0][0]) < FAR_APART:
        return
    minutes = round(between.total_seconds() / 60)
    span = (
        said_many("{count} minute", "{count} minutes", count=minutes)
        if minutes < 120
        else said_many("{count} hour", "{count} hours", count=minutes // 60)
        if minutes < 2880
        else said_many("{count} day", "{count} days", count=minutes // 1440)
    )
    yield (
        said(
            "By the camera's clock the photographs were taken {span} apart ({first} and {last}); they count "
            "as one rig standing still. If anything was moved, loaded or unloaded in between, measure each "
            "by itself.",
            span=span,
            first=ends[0][1],
            last=ends[1][1],
        )
    )


def _of_bars(bars: Bars) -> Iterator[str]:
    """Check bars that nobody measured."""
    missing = (bars.x_mm is None) + (bars.y_mm is None)
    if missing:
        yield NO_BARS if missing == 2 else ONE_BAR


def _of_lean(solved: Estimate) -> Iterator[str]:
    """An upright sheet that does not stand square; nothing where none is seen."""
    if "sheet.lean" not in solved.where.index:
        return
    lean_deg, u_lean_deg = (np.degrees(value) for value in (solved.value("sheet.lean"), solved.u("sheet.lean")))
    if abs(lean_deg) > max(TOLD_LEAN_DEG, 2 * u_lean_deg):
        yield said(
            "The upright sheet leans by {lean_deg:.1f} degrees; it was allowed for, but stand it square.",
            lean_deg=abs(lean_deg),
        )


def _of_corners(solved: Estimate) -> Iterator[str]:
    """Corners that scatter, or were left out."""
    sheets, markers = solved.scene.shows_sheets, bool(solved.scene.markers)
    if solved.noise_scale > SCATTER:
        if sheets and markers:
            yield said(
                "The sheet's and the markers' corners scatter {times:.1f} times more than they should: the paper is bowed, the "
                "bay's survey is not as good as its file says or the lens distorts; the interval is wider for it.",
                times=solved.noise_scale,
            )
        elif sheets:
            yield said(
                "The sheet's corners scatter {times:.1f} times more than they should: the paper is bowed or the lens distorts; "
                "the interval is wider for it.",
                times=solved.noise_scale,
            )
        else:
            yield said(
                "The markers' corners scatter {times:.1f} times more than they should: the bay's survey is not as good as its "
                "file says or the lens distorts; the interval is wider for it.",
                times=solved.noise_scale,
            )
    if solved.dropped and sheets and markers:
        yield said(
            "{corners} corners of the sheet or the bay's markers did not fit and were left out.", corners=solved.dropped
        )
    elif solved.dropped and markers:
        yield said("{corners} corners of the bay's markers did not fit and were left out.", corners=solved.dropped)
    elif solved.dropped:
        yield said("{corners} corners of the sheet did not fit and were left out.", corners=solved.dropped)
