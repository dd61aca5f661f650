"""`photomeasure kit remember` and `kit card`: a print's check bars, measured once in its life."""

from __future__ import annotations

from pathlib import Path

from calib.outcome.refusal import Refusal
from calib.words.said import joined, said, say


def remember(number: int, bar_x_mm: float | None, bar_y_mm: float | None) -> int:
    """Keep the bars of the print with this number; returns exit code 0. Raises InputError for a number that is none."""
    from calib.outcome.errors import InputError
    from photomeasure.asked.prints import print_path, remember_bars
    from photomeasure.seen.camera_for import profile_folder

    _check_number(number)
    if bar_x_mm is None and bar_y_mm is None:
        raise InputError(
            said("No bar was given."),
            expected=said("what a ruler or calipers read on bar X, on bar Y, or both"),
            remedy=said("add --bar-x MM --bar-y MM"),
        )
    bars = remember_bars(profile_folder(), number, bar_x_mm, bar_y_mm).bars
    path = print_path(profile_folder(), number)
    read = joined(
        said("bar {axis} {mm:g} mm", axis=axis, mm=mm)
        for axis, mm in (("X", bars.x_mm), ("Y", bars.y_mm))
        if mm is not None
    )
    print(say("Print {number:06d}: {read}. Remembered in {path}.", number=number, read=read, path=path))
    print(say("measure takes these where the number is read from the photograph and nothing else was typed or ticked."))
    return 0


def card(photo: Path, number: int | None) -> int:
    """Read a print's scale from a card that lies on it, and remember it; returns exit code 0, or 3 where it cannot be read.

    number: of the print, where the photograph does not show it. Raises InputError where neither says it, or they differ.
    """
    from photomeasure.asked.bars import Bars
    from photomeasure.asked.prints import RememberedPrint, remember_print, remembered_print
    from photomeasure.seen.camera_for import camera_for, profile_folder
    from photomeasure.seen.card.scale import card_scale
    from photomeasure.seen.image import load

    loaded = load(photo)
    if isinstance(loaded, Refusal):
        return _unread(loaded)
    camera = camera_for(loaded, None, profile_folder())
    if isinstance(camera, Refusal):
        return _unread(camera)
    read = card_scale(loaded.grey, camera.mean)
    if isinstance(read, Refusal):
        return _unread(read)
    of_print = _number_of(read.number, number)
    before = remembered_print(profile_folder(), of_print)
    known = Bars() if before is None else before.bars
    (x, y), (u_x, u_y) = read.bars_mm, read.bars_u_mm
    bars = Bars(
        x_mm=known.x_mm if x is None else round(x, 3),
        y_mm=known.y_mm if y is None else round(y, 3),
        x_u_mm=known.x_u_mm if x is None else u_x,
        y_u_mm=known.y_u_mm if y is None else u_y,
        correlation=read.correlation,
    )
    for axis, scale, u, length, u_mm in zip("XY", read.scale, read.u, read.bars_mm, read.bars_u_mm, strict=True):
        if scale is None or u is None or length is None or u_mm is None:
            print(
                say(
                    "Bar {axis}: the card's edges across it do not show on black; move the card, or read that bar with a "
                    "ruler.",
                    axis=axis,
                )
            )
        else:
            print(
                say(
                    "Bar {axis}: {length:.2f} mm, u {u_mm:.2f} mm (printed at {scale:.2f} %, u {u:.2f} %)",
                    axis=axis,
                    length=length,
                    u_mm=u_mm,
                    scale=100 * scale,
                    u=100 * u,
                )
            )
    path = remember_print(profile_folder(), RememberedPrint(number=of_print, bars=bars))
    print(
        say(
            "Print {number:06d}: remembered in {path}; measure takes it where the number is read from the photograph.",
            number=of_print,
            path=path,
        )
    )
    print(
        say(
            "The photograph was not kept. Never photograph a payment card for this: the back of a loyalty card will do."
        )
    )
    return 0


def _unread(refusal: Refusal) -> int:
    print(say("Cannot read the print's scale ({code}). {reason}", code=refusal.code, reason=refusal.reason))
    print(say("What to do: {remedy}", remedy=refusal.remedy))
    return 3


def _check_number(number: int) -> None:
    """Raises InputError for a number that no print has."""
    from calib.kit.number import MAX_NUMBER
    from calib.outcome.errors import InputError

    if not 1 <= number <= MAX_NUMBER:
        raise InputError(
            said("--number is {number}.", number=number),
            expected=said("1 to {max_number}, as printed on the upright sheet", max_number=MAX_NUMBER),
            remedy=said("read the six figures beside the sheet's lower left code again"),
        )


def _number_of(seen: int | None, told: int | None) -> int:
    from calib.outcome.errors import InputError

    if told is not None:
        _check_number(told)
    if seen is not None and told is not None and seen != told:
        raise InputError(
            said("--number is {told}, and the photograph shows print {seen:06d}.", told=told, seen=seen),
            expected=said("the number of the print that the card lies on"),
            remedy=said("leave --number out, or photograph the other print"),
        )
    number = told if seen is None else seen
    if number is None:
        raise InputError(
            said("The print's number cannot be read from the photograph."),
            expected=said("the strip at the sheet's left in view and sharp, or the number given"),
            remedy=said(
                "add --number N, as printed on the upright sheet, or photograph again with the whole sheet in view"
            ),
        )
    return number
