"""`photomeasure kit remember`: a print's check bars, measured once in its life."""

from __future__ import annotations


def remember(number: int, bar_x_mm: float | None, bar_y_mm: float | None) -> int:
    """Keep the bars of the print with this number; returns exit code 0. Raises InputError for a number that is none."""
    from calib.kit.number import MAX_NUMBER
    from calib.outcome.errors import InputError
    from photomeasure.asked.bars import Bars
    from photomeasure.asked.prints import RememberedPrint, remember_print, remembered_print
    from photomeasure.seen.camera_for import profile_folder

    if not 1 <= number <= MAX_NUMBER:
        raise InputError(
            f"--number is {number}.",
            expected=f"1 to {MAX_NUMBER}, as printed on the upright sheet",
            remedy="read the six figures beside the sheet's lower left code again",
        )
    if bar_x_mm is None and bar_y_mm is None:
        raise InputError(
            "No bar was given.",
            expected="what a ruler or calipers read on bar X, on bar Y, or both",
            remedy="add --bar-x MM --bar-y MM",
        )
    before = remembered_print(profile_folder(), number)
    known = Bars() if before is None else before.bars
    bars = Bars(x_mm=known.x_mm if bar_x_mm is None else bar_x_mm, y_mm=known.y_mm if bar_y_mm is None else bar_y_mm)
    path = remember_print(profile_folder(), RememberedPrint(number=number, bars=bars))
    read = ", ".join(f"bar {axis} {mm:g} mm" for axis, mm in (("X", bars.x_mm), ("Y", bars.y_mm)) if mm is not None)
    print(f"Print {number:06d}: {read}. Remembered in {path}.")
    print("measure takes these where the number is read from the photograph and nothing else was typed or ticked.")
    return 0
