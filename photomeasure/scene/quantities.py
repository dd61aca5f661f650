"""What input quantities are called, so that every language has its name; code and records know them by the English one."""

from __future__ import annotations

import re

from calib.words.said import said

_NAMES = {
    name: name
    for name in (
        said("corner noise"),
        said("marker corner noise"),
        said("tag corners"),
        said("bar tag corners"),
        said("marks on the ground"),
        said("marks on the rail"),
        said("carried over"),
        said("sheet untouched"),
        said("bar turned"),
        said("trailer's turn"),
        said("trailer's distance"),
        said("rail's distance"),
        said("paper width"),
        said("proportions"),
        said("pick"),
        said("mark placement"),
        said("ball outline"),
        said("ball edge"),
        said("ball diameter"),
        said("tag placement"),
        said("placement before"),
        said("tag lie"),
        said("bar tag lie"),
        said("check bar x"),
        said("check bar y"),
        said("check bars"),
        said("rule"),
        said("card"),
        said("paper humidity"),
        said("print scale"),
        said("print scale, x against y"),
        said("sheet lean"),
        said("sheet roll"),
        said("sheet turn"),
        said("sheet place"),
        said("foot gap"),
        said("foot cut"),
        said("ground"),
        said("ground evenness"),
        said("ground slope"),
        said("ground sheet flatness"),
        said("ground sheet place"),
        said("depth"),
        said("tags on the rail"),
        said("second print"),
        said("second check bar x"),
        said("second check bar y"),
        said("second card"),
        said("second print scale"),
        said("second sheet lean"),
        said("second sheet roll"),
        said("second sheet place"),
        said("second foot gap"),
        said("second foot cut"),
        said("ground between the sheets"),
        said("focal length"),
        said("principal point"),
        said("distortion"),
        said("camera profile"),
        said("marker survey"),
        said("pose ambiguity"),
    )
}


_PARTS = {
    part: part
    for part in (
        said("turn"),
        said("lean"),
        said("roll"),
        said("across"),
        said("down"),
        said("along"),
        said("away"),
        said("slope across"),
        said("slope away"),
        said("lift"),
    )
}
_OF_A_TAG = re.compile(r"(?P<quantity>.+), tag (?P<tag>\d+), (?P<part>[a-z ]+)")
_BEFORE = ", before"
_OF_ONE = re.compile(r"(?P<quantity>.+) of (?P<what>camera|photograph) (?P<number>\d+)")
_NUMBERED = re.compile(r"(?P<quantity>[a-z ]+) (?P<which>k\d)")
_COMPONENT = re.compile(r"(?P<quantity>.+), component (?P<number>\d+)")


def named(quantity: str) -> str:
    """A quantity as it is called; one that has no other name by its own."""
    if quantity in _NAMES:
        return _NAMES[quantity]
    if quantity.endswith(_BEFORE):
        return said("{quantity}, before", quantity=named(quantity.removesuffix(_BEFORE)))
    if (one := _OF_A_TAG.fullmatch(quantity)) is not None and one["part"] in _PARTS:
        return said(
            "{quantity}, tag {tag}, {part}", quantity=named(one["quantity"]), tag=one["tag"], part=_PARTS[one["part"]]
        )
    if (one := _COMPONENT.fullmatch(quantity)) is not None:
        return said("{quantity}, component {number}", quantity=named(one["quantity"]), number=one["number"])
    if (one := _OF_ONE.fullmatch(quantity)) is not None and one["what"] == "camera":
        return said("{quantity} of camera {number}", quantity=named(one["quantity"]), number=one["number"])
    if one is not None:
        return said("{quantity} of photograph {number}", quantity=named(one["quantity"]), number=one["number"])
    if (one := _NUMBERED.fullmatch(quantity)) is not None and one["quantity"] in _NAMES:
        return said("{quantity} {which}", quantity=_NAMES[one["quantity"]], which=one["which"])
    whole, _, part = quantity.rpartition(", ")
    if whole in _NAMES and part in _PARTS:
        return said("{quantity}, {part}", quantity=_NAMES[whole], part=_PARTS[part])
    return quantity
