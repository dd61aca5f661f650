"""What the photographs contradict, in sentences with a remedy for the person who took them."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np
from numpy.typing import NDArray

from calib.words.said import said
from photomeasure.scene.bar_tag import CARRIED, MOVED, TURNED
from photomeasure.scene.print_scale import PRINT_ANISOTROPY_U
from photomeasure.scene.priors import SQRT3
from photomeasure.scene.quantities import named
from photomeasure.scene.scene import BEFORE, CENTRE, SECOND_PLACE
from photomeasure.solution.estimate import Estimate
from photomeasure.solution.mistakes import ASPECT, BARS, SKEW
from photomeasure.solution.model import intrinsics_of


def _intrinsics(solved: Estimate, photo: int) -> NDArray[np.float64]:
    return intrinsics_of(solved.scene, solved.where, solved.x, photo)


_STATED = {
    "exif": said("the one that the file states"),
    "assumed": said("the one of a phone's main camera"),
    "profile": said("the one of the camera profile"),
}


def _percent(value: float) -> str:
    if abs(value) >= 1.5:
        return said("{percent:.0f} %", percent=abs(value))
    return said("{percent:.1f} %", percent=abs(value))


def _focal_length(solved: Estimate) -> str:
    camera = solved.scene.cameras[0]
    change = 100.0 * float(_intrinsics(solved, 0)[0] / camera.mean[0] - 1.0)
    values = {"change": _percent(change), "stated": _STATED[camera.kind]}
    if solved.scene.shows_sheets and change > 0:
        return said(
            "The perspective of the sheet speaks for a focal length {change} longer than {stated}: the picture may have been "
            "zoomed, cropped or edited, or taken with another lens. Send the photograph as the camera wrote it, from the main "
            "camera without zoom, or calibrate the camera.",
            **values,
        )
    if solved.scene.shows_sheets:
        return said(
            "The perspective of the sheet speaks for a focal length {change} shorter than {stated}: the picture may have been "
            "zoomed, cropped or edited, or taken with another lens. Send the photograph as the camera wrote it, from the main "
            "camera without zoom, or calibrate the camera.",
            **values,
        )
    if change > 0:
        return said(
            "The perspective of the markers speaks for a focal length {change} longer than {stated}: the picture may have been "
            "zoomed, cropped or edited, or taken with another lens. Send the photograph as the camera wrote it, from the main "
            "camera without zoom, or calibrate the camera.",
            **values,
        )
    return said(
        "The perspective of the markers speaks for a focal length {change} shorter than {stated}: the picture may have been "
        "zoomed, cropped or edited, or taken with another lens. Send the photograph as the camera wrote it, from the main "
        "camera without zoom, or calibrate the camera.",
        **values,
    )


def axis_off_share(solved: Estimate) -> float:
    """How far the lens's axis lies from where it was expected, over the picture's long side: the largest of the photographs."""
    off = [
        np.linalg.norm(_intrinsics(solved, photo)[2:4] - solved.scene.cameras[number].mean[2:4])
        for photo, number in enumerate(solved.scene.camera_of)
    ]
    return float(max(off)) / max(solved.scene.cameras[0].size_px)


def focal_off_share(solved: Estimate) -> float:
    """By which share the first photograph's focal length is longer or shorter than stated: 1 is twice or half as long."""
    ratio = float(_intrinsics(solved, 0)[0] / solved.scene.cameras[0].mean[0])
    return max(ratio, 1.0 / max(ratio, 1e-6)) - 1.0


def _principal_point(solved: Estimate) -> str:
    share = 100.0 * axis_off_share(solved)
    return said(
        "The lens's axis seems to lie {share} of the picture's long side away from its middle: the "
        "picture looks cropped, zoomed or edited. Send the photograph whole, as the camera wrote it.",
        share=_percent(share),
    )


def _distortion(solved: Estimate) -> str:
    if not solved.scene.shows_sheets:
        return said(
            "The lens bends lines more than a phone's main camera does, or markers are not where the bay "
            "file has them. Calibrate the camera, which a bay deserves, or survey the bay's markers again."
        )
    return said(
        "The lens bends lines more than a phone's main camera does, or the sheet is bowed. Use the main "
        "camera (1x) without an effect or filter, flatten the sheet on something stiff, or calibrate the "
        "camera."
    )


def _lean(solved: Estimate) -> str:
    lean = float(np.degrees(solved.value("sheet.lean")))
    way = said("back") if lean > 0 else said("forward")
    if any(view.plane == "ground" for view in solved.scene.planes):
        return said(
            "The upright sheet leans {way} by {lean:.1f} degrees against the ground sheet; it was allowed "
            "for. Stand it against something square, on the same hard ground, and photograph again.",
            way=way,
            lean=abs(lean),
        )
    return said(
        "What is seen of the coupling fits better if the upright sheet leans {way}: it may lean, or the "
        "ball is not of the stated diameter. Stand the sheet against something square, measure the ball, "
        "and photograph again.",
        way=way,
    )


def _depth(solved: Estimate) -> str:
    prior = next(prior for prior in solved.scene.priors if prior.quantity == "depth")
    stated = sum(
        value * solved.value(name)
        for name, value in prior.coefficients.items()
        if name.removeprefix(BEFORE) in (*CENTRE, *SECOND_PLACE)
    )
    off = abs(stated - prior.mean)
    if solved.scene.markers:
        return said(
            "The coupling's centre lies {off:.0f} mm from the bay's coupling plane. Place the rig where the "
            "bay's marks say, check what was measured and its size, and photograph again; or photograph from "
            "two sides and leave the plane out of the bay file.",
            off=off,
        )
    if solved.scene.n_photos > 1:
        return said(
            "The coupling's centre lies {off:.0f} mm from where the sheet's place puts it in depth; these "
            "photographs show it and it was allowed for. Stand the sheet in the coupling's plane before a "
            "single photograph is relied on.",
            off=off,
        )
    return said(
        "By its size in the picture the coupling lies {off:.0f} mm from where the sheet's place puts it "
        "in depth: the sheet stands out of the coupling's plane, or what is measured is not of the "
        "stated size. Stand the sheet in the coupling's plane, check the ball's diameter, and photograph "
        "again.",
        off=off,
    )


def _always(sentence: str) -> Callable[[Estimate], str]:
    return lambda _: sentence


_CHECK_BARS = _always(
    said(
        "The readings of the check bars do not fit each other or the sheet in the picture. Measure both printed check "
        "bars again with a ruler, each along its own direction, and make sure that the picture was neither stretched nor cropped."
    )
)


def _foot(solved: Estimate) -> str:
    gap_mm = solved.value("sheet.gap")
    if any(view.plane == "ground" for view in solved.scene.planes) and abs(gap_mm) > 1.0:
        if gap_mm > 0:
            where = said("The foot line stands {mm:.0f} mm above the ground sheet's plane", mm=abs(gap_mm))
        else:
            where = said("The foot line stands {mm:.0f} mm below the ground sheet's plane", mm=abs(gap_mm))
    else:
        where = said("The foot line of the upright sheet and the ground sheet do not lie in one plane")
    return said(
        "{where}. Cut the sheet along the foot line, stand it on the bare hard ground that the coupling "
        "is above, lay the ground sheet flat on the same ground, and photograph again.",
        where=where,
    )


def _roll(solved: Estimate) -> str:
    turned = abs(float(np.degrees(solved.value("sheet.roll"))))
    if turned < 1.0:
        return said(
            "The upright sheet is turned against the ground, more than a foot line on hard ground should be. Press the whole foot "
            "line on the ground and photograph again."
        )
    return said(
        "The upright sheet is turned against the ground by {turned:.0f} degrees, more than a foot line on hard ground should be. "
        "Press the whole foot line on the ground and photograph again.",
        turned=turned,
    )


def _print(solved: Estimate) -> str:
    shares = [100.0 * (solved.value(f"print.{axis}") - 1.0) for axis in "xy"]
    share = sum(shares) / 2
    if share < 0:
        return said(
            "The print looks {share} smaller than it was designed, which is not what was typed for the check bars: were they measured? "
            "Measure both printed bars with a ruler, check the ball's diameter, and measure again.",
            share=_percent(share),
        )
    return said(
        "The print looks {share} larger than it was designed, which is not what was typed for the check bars: were they measured? "
        "Measure both printed bars with a ruler, check the ball's diameter, and measure again.",
        share=_percent(share),
    )


_EDITED = _always(
    said(
        "The picture was sheared, straightened or stretched by an editor after it was taken: no camera sees a sheet like that. "
        "Send the photograph as the camera wrote it."
    )
)
_SECOND_PRINT = _always(
    said(
        "The two upright sheets do not stand on one ground if their prints are of the stated sizes: they may come from different "
        "printers, or be printed at different sizes. Measure the check bars of both prints and tick them on each sheet, and "
        "photograph again, or leave one sheet in view."
    )
)
_SECOND_FOOT = _always(
    said(
        "The two upright sheets do not stand as two sheets on one ground do: one of them may stand on something, lean, or be "
        "cut beside its line. Stand both with the whole foot line on the bare hard ground, and photograph again."
    )
)
_SENTENCES: dict[str, Callable[[Estimate], str]] = {
    "focal length": _focal_length,
    "principal point": _principal_point,
    "distortion": _distortion,
    "camera profile": _always(
        said(
            "The camera profile does not fit this picture. Calibrate this very lens again with the zoom and focus that are "
            "used here, or measure without the profile."
        )
    ),
    "print scale": _CHECK_BARS,
    "print scale, x against y": _CHECK_BARS,
    "check bar x": _CHECK_BARS,
    "check bar y": _CHECK_BARS,
    "rule": _CHECK_BARS,
    "card": _CHECK_BARS,
    "paper humidity": _CHECK_BARS,
    "sheet lean": _lean,
    "sheet roll": _roll,
    "foot gap": _foot,
    "foot cut": _foot,
    "ground sheet flatness": _foot,
    BARS: _print,
    SKEW: _EDITED,
    ASPECT: _EDITED,
    "proportions": _EDITED,
    "depth": _depth,
    "sheet turn": _depth,
    "ball diameter": _always(
        said(
            "The ball's outline does not fit the ball's stated diameter. Measure the ball with callipers and state "
            "its diameter, or mark the centre in the picture."
        )
    ),
    "ball edge": _always(
        said(
            "The ball's outline is larger or smaller than the ball should look. Shade it from glare and tap on it to "
            "focus, check the ball's diameter and the check bars, or mark the centre in the picture."
        )
    ),
    "tag lie": _always(
        said(
            "The centre tag does not lie as a tag on the coupling's side should. Press it flat on the side, upright, its "
            "middle at the height of the centre, and photograph again."
        )
    ),
    TURNED: _always(
        said(
            "The tag on the tow bar is turned against before by more than a load turns a bar: it may have come loose and been "
            "pressed on anew, or hang on one corner. Compare it with the photograph from before; if it moved, measure the bare "
            "ball again."
        )
    ),
    CARRIED: _always(
        said(
            "The tag on the tow bar does not lie as it did before: it may have come loose, or is bent. Compare it with the "
            "photograph from before; if it moved, measure the bare ball again."
        )
    ),
    MOVED: _always(
        said(
            "Between the photographs from before and the others the sheet or the rig was moved along the ground, though it was "
            "said that nobody touched them. It counts as moved: the height stands, the sinking is less sure."
        )
    ),
    **dict.fromkeys(
        ("second print", "second check bar x", "second check bar y", "second card", "second print scale"), _SECOND_PRINT
    ),
    **dict.fromkeys(
        ("second foot gap", "second foot cut", "second sheet roll", "second sheet lean", "ground between the sheets"),
        _SECOND_FOOT,
    ),
    "marker survey": _always(
        said(
            "Photographs and survey disagree about where the bay's markers are: one may have been moved or mistaken for "
            "another. Survey the bay's markers again, or leave the doubtful one out of the bay file."
        )
    ),
}


def told(quantities: Iterable[str], solved: Estimate) -> tuple[str, ...]:
    """A sentence for each of them, with what the solution says; and one more where the check bars contradict each other."""
    sentences: dict[str, None] = {}
    for quantity in quantities:
        sentence = _SENTENCES.get(quantity)
        sentences[sentence(solved) if sentence is not None else _of_any(quantity)] = None
    if bars_apart(solved):
        sentences[_CHECK_BARS(solved)] = None
    return tuple(sentences)


def bars_apart(solved: Estimate) -> bool:
    """Whether the two check bars were read further apart than a printer's feed and both readings can make them."""
    bars = [prior for prior in solved.scene.priors if prior.quantity in ("check bar x", "check bar y")]
    if len(bars) < 2:
        return False
    scales, readings = [], 0.0
    for bar in bars:
        drawn_mm = next(iter(bar.coefficients.values()))
        scales.append(bar.mean / drawn_mm)
        readings += SQRT3 * bar.u / drawn_mm  # half-width of a rectangle
    return abs(scales[0] - scales[1]) > SQRT3 * PRINT_ANISOTROPY_U + readings


def _of_any(quantity: str) -> str:
    return said(
        "The photographs contradict what was assumed of the {quantity}. Compare the instructions with "
        "what was done, and photograph again.",
        quantity=named(quantity),
    )
