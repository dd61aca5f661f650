"""Input quantities as a person would say them, where the short answer tells what the uncertainty mostly comes from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from photomeasure.record.schema import BudgetRow

PLAIN: Mapping[str, str] = {
    "corner noise": "how sharply the sheet is seen",
    "marker corner noise": "how sharply the markers are seen",
    "tag corners": "how sharply the tag is seen",
    "pick": "where the mark was set",
    "mark placement": "where the mark was set on a hidden centre",
    "ball outline": "how sharply the ball is seen",
    "ball edge": "where the ball's edge lies in the picture",
    "ball diameter": "how worn the ball is",
    "tag placement": "where the tag was stuck",
    "tag lie": "how flat the tag lies",
    "bar tag lie": "how flat the bar tag lies",
    "check bar x": "reading check bar X",
    "check bar y": "reading check bar Y",
    "rule": "the ruler's own error",
    "paper humidity": "how the paper grew or shrank",
    "print scale": "the scale of the print",
    "print scale, x against y": "the scale of the print, across against up",
    "sheet lean": "how the sheet leans",
    "sheet roll": "how the sheet is tilted sideways",
    "sheet turn": "how the sheet is turned",
    "sheet place": "where the sheet stands",
    "foot gap": "how the sheet's foot meets the ground",
    "foot cut": "where the sheet was cut",
    "ground": "the ground between sheet and coupling",
    "ground evenness": "how even the ground is",
    "ground slope": "the slope of the ground",
    "ground sheet flatness": "how flat the ground sheet lies",
    "ground sheet place": "where the ground sheet lies",
    "depth": "how far the coupling is from the sheet's plane",
    "focal length": "the lens's focal length",
    "principal point": "where the lens's axis lies",
    "distortion": "the lens's distortion",
    "camera profile": "the camera profile",
    "marker survey": "the survey of the markers",
    "pose ambiguity": "a second way to read the picture",
}


def plain(quantity: str) -> str:
    """In plain words; a quantity that has none goes by its own name."""
    return PLAIN.get(quantity, quantity)


def mostly(budget: Sequence[BudgetRow], shown: int) -> str:
    """The largest shares: "where the tag was stuck (91 %), how the sheet leans (2 %)"."""
    return ", ".join(f"{plain(row.quantity)} ({100 * row.share:.0f} %)" for row in budget[:shown])
