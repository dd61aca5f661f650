"""What goes into a plan and what comes of it, by their names in the plan, as a person reads them."""

from __future__ import annotations

from collections.abc import Mapping

from calib.words.said import said

_NAMES: Mapping[str, str] = {
    name: name
    for name in (
        said("ball height"),
        said("drop when loaded"),
        said("levelling"),
        said("lift by bags or bars"),
        said("front axle load"),
        said("rear axle load"),
        said("wheelbase"),
        said("rear overhang"),
        said("front axle rate"),
        said("rear axle rate"),
        said("stand-test mass"),
        said("stand-test drop"),
        said("drop when coupled"),
        said("front to rear rate"),
        said("level coupling height"),
        said("coupling height as it stands"),
        said("pitch as it stands"),
        said("trailer's drop when loaded"),
        said("drawbar length"),
        said("axle spacing"),
        said("trailer axle rate"),
        said("ball load"),
        said("trailer mass"),
        said("centre of gravity height"),
        said("wheel centre height"),
        said("made drop or rise"),
    )
}


def named(name: str) -> str:
    """The name as a sentence that can be told in another language; one that is not known, as it is."""
    return _NAMES.get(name, name)


def sourced(source: str) -> str:
    """Where a value is from: typed, assumed, or a file's name as it is."""
    return {"typed": said("typed"), "assumed": said("assumed")}.get(source, source)


def called(name: str, offset_mm: float) -> str:
    """An outcome's name: what the plan itself calls so, told in another language; a part's own name as it was typed."""
    if name == "as it is":
        return said("as it is")
    if name == f"drop of {-offset_mm:g} mm":
        return said("drop of {mm:g} mm", mm=-offset_mm)
    return said("rise of {mm:g} mm", mm=offset_mm) if name == f"rise of {offset_mm:g} mm" else name
