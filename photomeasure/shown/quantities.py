"""Input quantities as a person would say them, where the short answer tells what the uncertainty mostly comes from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from calib.words.said import said, shown
from photomeasure.record.schema import BudgetRow

PLAIN: Mapping[str, str] = {
    "corner noise": said("how sharply the sheet is seen"),
    "marker corner noise": said("how sharply the markers are seen"),
    "tag corners": said("how sharply the tag is seen"),
    "bar tag corners": said("how sharply the bar tag is seen"),
    "marks on the ground": said("where the ground was marked"),
    "marks on the rail": said("where the rail was marked"),
    "tags on the rail": said("where the tags on the rail were stuck"),
    "pick": said("where the mark was set"),
    "mark placement": said("where the mark was set on a hidden centre"),
    "ball outline": said("how sharply the ball is seen"),
    "ball edge": said("where the ball's edge lies in the picture"),
    "ball diameter": said("how worn the ball is"),
    "placement before": said("where tag or mark was set before"),
    "tag placement": said("where the tag was stuck"),
    "tag lie": said("how flat the tag lies"),
    "bar tag lie": said("how flat the bar tag lies"),
    "check bar x": said("reading check bar X"),
    "card": said("how the card measured both bars"),
    "check bar y": said("reading check bar Y"),
    "rule": said("the ruler's own error"),
    "paper humidity": said("how the paper grew or shrank"),
    "print scale": said("the scale of the print"),
    "print scale, x against y": said("the scale of the print, across against up"),
    "sheet lean": said("how the sheet leans"),
    "sheet roll": said("how the sheet is tilted sideways"),
    "sheet turn": said("how the sheet is turned"),
    "sheet place": said("where the sheet stands"),
    "second print": said("whether both prints are of one size"),
    "second check bar x": said("reading check bar X of the second sheet"),
    "second check bar y": said("reading check bar Y of the second sheet"),
    "second print scale": said("the scale of the second print"),
    "second sheet lean": said("how the second sheet leans"),
    "second sheet roll": said("how the second sheet is tilted sideways"),
    "second sheet place": said("where the second sheet stands"),
    "second foot gap": said("how the second sheet's foot meets the ground"),
    "second foot cut": said("where the second sheet was cut"),
    "ground between the sheets": said("how even the ground is between the two sheets"),
    "foot gap": said("how the sheet's foot meets the ground"),
    "foot cut": said("where the sheet was cut"),
    "ground": said("the ground between sheet and coupling"),
    "ground evenness": said("how even the ground is"),
    "ground slope": said("the slope of the ground"),
    "ground sheet flatness": said("how flat the ground sheet lies"),
    "ground sheet place": said("where the ground sheet lies"),
    "depth": said("how far the coupling is from the sheet's plane"),
    "focal length": said("the lens's focal length"),
    "principal point": said("where the lens's axis lies"),
    "distortion": said("the lens's distortion"),
    "camera profile": said("the camera profile"),
    "marker survey": said("the survey of the markers"),
    "pose ambiguity": said("a second way to read the picture"),
}


def plain(quantity: str) -> str:
    """In plain words; a quantity that has none goes by its own name."""
    return shown(PLAIN.get(quantity, quantity))


def mostly(budget: Sequence[BudgetRow], shown: int) -> str:
    """The largest shares: "where the tag was stuck (91 %), how the sheet leans (2 %)"."""
    return ", ".join(f"{plain(row.quantity)} ({100 * row.share:.0f} %)" for row in budget[:shown])
