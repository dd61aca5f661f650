"""What input quantities are called, so that every language has its name; code and records know them by the English one."""

from __future__ import annotations

from calib.words.said import said

_NAMES = {
    name: name
    for name in (
        said("corner noise"),
        said("marker corner noise"),
        said("tag corners"),
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


def named(quantity: str) -> str:
    """A quantity as it is called; one that has no other name by its own."""
    return _NAMES.get(quantity, quantity)
