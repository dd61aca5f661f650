"""The first page: what a reader needs at a glance, fitted so that the tape's box always stands on it.

Title, verdict, scale and tape's box have fixed places; picture and texts beside it share the height that is
left. Texts that do not fit beside the picture open the next page.
"""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.platypus import Flowable

from calib.drawing.colours import MID
from calib.drawing.pen import Pen
from calib.words.said import said, say, say_many
from photomeasure.record.cautions import SHORTER
from photomeasure.record.schema import Record
from photomeasure.shown import words
from photomeasure.shown.quantities import mostly
from photomeasure.shown.report.badge import HEIGHT_MM as BADGE_MM
from photomeasure.shown.report.badge import draw_badge
from photomeasure.shown.report.blocks import Drawn, beside, facts, gap, headed, height_mm, listed
from photomeasure.shown.report.page import date_words
from photomeasure.shown.report.picture import Picture, picture, picture_size_mm
from photomeasure.shown.report.scale import HEIGHT_MM as SCALE_MM
from photomeasure.shown.report.scale import draw_scale
from photomeasure.shown.report.style import (
    DIGEST,
    LEAD,
    QUIET,
    RULE,
    SMALL,
    SMALL_BOLD,
    STRONG,
    paragraph,
    printable,
)
from photomeasure.shown.report.tape_box import tape_box
from photomeasure.shown.rows import case_words, file_name, rule_rows, state_words
from photomeasure.shown.sections import sections
from photomeasure.shown.span import span_of

TITLE = said("Coupling height from photographs")
_TAG_MM = 4.4  # under the badge, where it says that it is indicative
_TITLE_MM, _GUTTER_MM, _PICTURE_MM = 13.0, 6.0, 104.0
_OVERVIEW_MM, _BESIDE_MM, _SMALL_MM, _CAPTION_MM = 60.0, 38.0, 22.0, 6.0
_LEAST_MM = 45.0  # a picture smaller than this shows nothing
Left = tuple[int, int]  # a block, and which of its parts is the first that is left
NEXT_PAGE, IN_ANNEX = said("More of this on the next page."), said("More of this in the annex.")


def first_page(
    record: Record,
    pictures: Sequence[Picture],
    body_mm: tuple[float, float],
    overviews: Sequence[bytes] = (),
    name: str = "",
    more: str = NEXT_PAGE,
) -> tuple[list[Flowable], list[Flowable]]:
    """The first page's contents, and the texts that had no room on it. name: of the rig, by default the record's;
    more: the line that says where those texts are."""
    width, height = body_mm
    above, below = _above(record, width, name or record.rig or ""), _below(record)
    left_mm = height - height_mm(above, width) - height_mm(below, width) - 5.0
    middle, over = _middle(record, pictures, overviews, width, max(left_mm, _LEAST_MM), more)
    return [*above, *middle, gap(3.0), *below], over


def _above(record: Record, width: float, name: str) -> list[Flowable]:
    contents: list[Flowable] = [
        Drawn(width, _TITLE_MM, lambda pen: _title(pen, record, width, name)),
        gap(3.0),
        Drawn(width, BADGE_MM + _TAG_MM, lambda pen: _answer(pen, record, width)),
        gap(2.5),
    ]
    if record.refusal is not None:
        contents += [paragraph(record.refusal.reason, LEAD), gap(1.5), paragraph(record.refusal.remedy, STRONG)]
    else:
        contents.append(paragraph(record.sentence, LEAD))
    span = span_of(record, width)
    if span is not None:
        contents += [gap(1.5), Drawn(width, SCALE_MM, lambda pen: draw_scale(pen, record, span))]
        contents.append(paragraph(_legend(record), QUIET))
    if record.rule is not None:
        rows = rule_rows(record.rule, judged=record.refusal is None)
        contents += [gap(2.0), *facts(rows, width, 19.0, SMALL)]
    return [*contents, gap(3.0)]


def _title(pen: Pen, record: Record, width: float, name: str) -> None:
    pen.text((0.0, 6.4), _clipped(pen, name or TITLE, width), size=17, bold=True)
    count = len(record.photos)
    when = say(
        "Photographed {when}; computed {computed}",
        when=words.photographed(record),
        computed=date_words(record.computed),
    )
    free = width - pen.width_of(when, size=8) - 3.0
    longest = (
        say_many("Coupling height from {count} photograph.", "Coupling height from {count} photographs.", count=count)
        if name
        else say_many(
            "From {count} photograph with a printed target.",
            "From {count} photographs with a printed target.",
            count=count,
        )
    )
    lefts = (longest, say_many("From {count} photograph.", "From {count} photographs.", count=count), "")
    left = next(text for text in lefts if not text or pen.width_of(text, size=8) <= free)
    pen.text((0.0, 2.2), left, size=8, colour=MID)
    pen.text((width, 2.2), when, size=8, anchor="right", colour=MID)
    pen.line((0.0, 0.0), (width, 0.0), weight=0.3, colour=RULE)


def _clipped(pen: Pen, text: str, width: float) -> str:
    """A rig's name in one line of the title."""
    text = printable(text)
    while len(text) > 1 and pen.width_of(text, size=17, bold=True) > width:
        text = text[:-2].rstrip() + "\N{HORIZONTAL ELLIPSIS}"
    return text


def _answer(pen: Pen, record: Record, width: float) -> None:
    height, spread, interval = words.height(record), words.plus_minus(record), words.interval(record)
    if height is None or spread is None:
        draw_badge(pen, record, (0.0, _TAG_MM), width)
        return
    after = pen.width_of(f" {spread}", size=14)
    figure = after + pen.width_of(height, size=24, bold=True)
    draw_badge(pen, record, (0.0, _TAG_MM), width - figure - 5.0)
    pen.text((width - after, _TAG_MM + 4.8), height, size=24, bold=True, anchor="right")
    pen.text((width, _TAG_MM + 4.8), spread, size=14, anchor="right")
    known = (
        say("95 % interval {interval}", interval=interval)
        if record.tape is None
        else say("by the photograph; 95 % interval {interval}", interval=interval)
    )
    pen.text((width, _TAG_MM + 0.2), known, size=8, anchor="right", colour=MID)


def _legend(record: Record) -> str:
    if record.tape is None:
        drawn = [say("Millimetres above the ground. Black: the coupling's centre with its 95 % interval.")]
    else:
        drawn = [
            say(
                "Millimetres above the ground. Black: the coupling's centre by the photograph with its 95 % interval. "
                "Open diamond: by the tape."
            )
        ]
    if words.band(record.rule) is not None:
        guarded = record.rule is not None and bool(record.rule.guard_band_mm)
        drawn.append(
            say("Blue: the band, paler where it is kept free for the uncertainty (guard band).")
            if guarded
            else say("Blue: the band.")
        )
    return " ".join(drawn)


def _below(record: Record) -> list[Flowable]:
    """The tape's box and the cautions: in short where more pages follow, in full where this is the only one."""
    full = record.refusal is not None
    told = listed(record.cautions, SMALL) if full else [paragraph(SHORTER, SMALL_BOLD)]
    return [tape_box(record), gap(2.5), *told]


def _middle(
    record: Record, pictures: Sequence[Picture], overviews: Sequence[bytes], width: float, room: float, more: str
) -> tuple[list[Flowable], list[Flowable]]:
    """The first picture with the texts beside it, in `room` mm of height."""
    shown_mm = picture_size_mm(pictures[0][1], _PICTURE_MM, room - 4.0)[0] if pictures else 0.0
    beside_mm = width - shown_mm - (_GUTTER_MM if pictures else 0.0)
    shown = [picture(pictures[0][1], _PICTURE_MM, room - 4.0)] if pictures else []
    if len(pictures) > 1:
        shown.append(paragraph(say("Photograph 1 of {pictures}; the others follow.", pictures=len(pictures)), QUIET))
    spare = room - 4.0 - height_mm(shown, max(shown_mm, 1.0)) - _CAPTION_MM
    top: list[Flowable] = []
    if overviews and pictures and spare >= _SMALL_MM:
        shown += [gap(1.5), *_whole(overviews[0], shown_mm, min(spare, _OVERVIEW_MM))]
    elif overviews:  # beside the picture, where there is one
        top = [*_whole(overviews[0], beside_mm, _BESIDE_MM if pictures else _OVERVIEW_MM), gap(2.5)]
    kept, over = _fitting(_texts(record, beside_mm), beside_mm, room - 4.0 - height_mm(top, beside_mm))
    kept = [*top, *kept]
    if over:
        kept.append(paragraph(more, QUIET))
    if not pictures:
        return kept, _full_width(record, width, over)
    columns = (shown_mm + _GUTTER_MM, beside_mm)
    return [beside(shown, kept, columns)], _full_width(record, width, over)


def _whole(data: bytes, width: float, height: float) -> list[Flowable]:
    return [paragraph(say("The whole photograph"), QUIET), picture(data, width, height)]


def _texts(record: Record, width: float) -> list[list[Flowable]]:
    """Blocks of text, the most wanted first."""
    return [
        *(headed(part.title, listed(part.lines, SMALL)) for part in sections(record, "paper") if part.beside),
        headed(say("Photographed state, as stated"), [paragraph(state_words(record.state), SMALL)]),
        headed(say("The case, as stated"), listed(case_words(record), SMALL)),
        headed(say("Where the uncertainty mostly comes from"), _mostly(record)),
        headed(say("Photographs"), _files(record)) if record.refusal is not None else [],
    ]


def _mostly(record: Record) -> list[Flowable]:
    return [paragraph(mostly(record.budget, 3), SMALL)] if record.budget else []


def _files(record: Record) -> list[Flowable]:
    """A refusal's photographs, which have no other page: name and digest."""
    return [
        part
        for photo in record.photos
        for part in (
            paragraph(file_name(photo), SMALL),
            paragraph(
                say("SHA-256 {sha256}", sha256=photo.sha256) if photo.sha256 else say("The file could not be read."),
                DIGEST,
            ),
        )
    ]


def _fitting(blocks: list[list[Flowable]], width: float, room: float) -> tuple[list[Flowable], list[Left]]:
    """What fits under one another, in order, and what of which block is left; no heading stands alone."""
    kept: list[Flowable] = []
    used = 4.0  # the line that says that there is more
    for number, block in enumerate(blocks):
        count = 0
        while count < len(block) and used + height_mm(block[: count + 1], width) <= room:
            count += 1
        if count < len(block):
            count = 0 if count == 1 else count
            rest = [(i, 1) for i in range(number + 1, len(blocks)) if blocks[i]]
            return kept + block[:count], [(number, max(count, 1)), *rest]
        used += height_mm(block, width) + 2.5
        kept += [*block, gap(2.5)] if block else []
    return kept, []


def _full_width(record: Record, width: float, left: Sequence[Left]) -> list[Flowable]:
    """What did not fit, for the next page's full width, each under its heading."""
    blocks = _texts(record, width) if left else []
    return [part for number, start in left for part in (blocks[number][0], *blocks[number][start:], gap(2.5))]
