"""The rows of `hard_study`: what was done to the picture, what came of it in the first reading of this program, and the edit."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from tests.experiments.hard_edits import (
    Edit,
    bent,
    collage,
    cropped,
    cylindrical,
    keystone,
    mirrored,
    proportions,
    rows_lost,
    screenshot,
    sheared,
    shifted,
    stitched,
    stretched,
    toned,
    turned,
    whole,
    wobbled,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """quality: of the JPEG it is saved as. exif: whether the camera's EXIF is kept."""

    group: str
    what: str
    edit: Edit
    then: str = ""
    quality: int = 93
    exif: bool = True


def rows() -> Iterator[Row]:
    yield Row(group="whole", what="saved anew", edit=whole)
    yield Row(group="whole", what="quality 10", edit=whole, quality=10, then="inside or refused")
    yield Row(group="whole", what="EXIF taken off", edit=whole, exif=False)
    yield from _perspective()
    yield from _stretched()
    yield from _seams()
    for how in ("HDR", "halo", "sharpened", "beauty", "noise", "negative"):
        yield Row(group="filters", what=how, edit=toned(how), then="inside or refused")
    yield Row(group="frames", what="screenshot", edit=screenshot, exif=False, then="inside or refused")
    yield Row(group="frames", what="collage", edit=collage, then="inside or refused")
    yield Row(group="frames", what="mirrored", edit=mirrored(1), then="refused: no sheet")
    yield Row(group="frames", what="upside down and mirrored", edit=mirrored(0), then="refused: no sheet")


def _perspective() -> Iterator[Row]:
    for share, then in ((0.05, "+7.2 by 5"), (0.1, "+12.4 by 5"), (0.15, "+15.5 by 5, sure")):
        yield Row(group="perspective", what=f"keystone {share:g}", edit=keystone(share), then=then)
    yield Row(group="perspective", what="keystone -0.08", edit=keystone(-0.08))
    yield Row(group="perspective", what="keystone sideways 0.1", edit=keystone(0.1, sideways=True))
    for share, then in ((0.01, "-5.9 by 4, sure"), (0.02, "-11 by 5, sure"), (0.04, "-25 by 6, sure")):
        yield Row(group="perspective", what=f"rows sheared {share:g}", edit=sheared(share), then=then)
    yield Row(group="perspective", what="rows sheared -0.005", edit=sheared(-0.005))
    for share in (0.005, 0.02):
        yield Row(group="perspective", what=f"columns sheared {share:g}", edit=sheared(share, down=True))
    for deg in (1.0, 3.0, 8.0):
        yield Row(group="perspective", what=f"turned by {deg:g} degrees", edit=turned(deg))
    for k1 in (0.02, -0.02, 0.06):
        yield Row(group="perspective", what=f"lens correction {k1:g}", edit=bent(k1))
    for left, top, right, bottom in (
        (0.1, 0.0, 0.0, 0.0),
        (0.0, 0.0, 0.3, 0.0),
        (0.0, 0.2, 0.0, 0.0),
        (0.0, 0.0, 0.0, 0.15),
    ):
        what = f"cut by {left:g} {top:g} {right:g} {bottom:g}"
        yield Row(group="perspective", what=what, edit=cropped(left, top, right, bottom))


def _stretched() -> Iterator[Row]:
    for share in (0.0025, 0.005, -0.005, 0.01, -0.01, 0.02, 0.05):
        then = {0.005: "1.0 by 1.1, nothing said", 0.01: "said"}.get(share, "")
        yield Row(group="aspect", what=f"down {100 * share:+g} %", edit=stretched(0.0, share), then=then)
    for share in (0.005, -0.005, 0.01, -0.01):
        what = f"down {100 * share:+g} %, cut to the old size"
        yield Row(group="aspect", what=what, edit=stretched(0.0, share, cut=share > 0))
        what = f"across {100 * share:+g} %, cut to the old size"
        yield Row(group="aspect", what=what, edit=stretched(share, 0.0, cut=share > 0))
    for ratio in (0.9, 1.0, 1.2, 16 / 9, 9 / 16):
        then = "inside, sure beside 3-5 warnings"
        yield Row(group="aspect", what=f"squeezed to {ratio:.2f}", edit=proportions(ratio), then=then)


def _seams() -> Iterator[Row]:
    for where in ("sheet", "between", "coupling"):
        for lost in (8, 16, 32):
            then = "-11 by 1.1, nothing said" if lost == 16 else ""
            yield Row(group="seams", what=f"{lost} rows lost, {where}", edit=rows_lost(lost, where), then=then)
        for by in (5, 64):
            then = "+2.3 by 1.7" if by == 64 else ""
            yield Row(group="seams", what=f"rows moved by {by} px, {where}", edit=shifted(by, where), then=then)
        for by in (5, 10, 20):
            edit = shifted(by, where, along="column")
            yield Row(group="seams", what=f"columns moved by {by} px, {where}", edit=edit)
        for along in ("row", "column"):
            for shift in (5.0, 10.0, 20.0):
                for move in ((shift, 0.0), (0.0, shift)):
                    edit = stitched(where, along=along, shift_px=move)
                    yield Row(
                        group="stitched", what=f"stitched at a {along}, {where}, {move[0]:g} {move[1]:g} px", edit=edit
                    )
            edit = stitched(where, along=along, scale=0.01)
            yield Row(group="stitched", what=f"stitched at a {along}, {where}, grown 1 %", edit=edit)
            edit = stitched(where, along=along, turn_deg=0.5)
            yield Row(group="stitched", what=f"stitched at a {along}, {where}, turned 0.5 degrees", edit=edit)
    for share in (0.75, 1.0):
        yield Row(group="stitched", what=f"panorama on a cylinder, {share:g}", edit=cylindrical(share))
    for wobble in (1.0, 3.0):
        yield Row(group="stitched", what=f"rows wobble by {wobble:g} px", edit=wobbled(wobble))
