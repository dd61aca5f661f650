"""Two upright sheets in a picture: two prints, told apart by their numbers; which of them is the first in all photographs."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from calib.outcome.refusal import Refusal
from calib.words.said import said

if TYPE_CHECKING:
    from photomeasure.seen.look import View


def first_and_second(views: Sequence[View]) -> tuple[View, ...] | Refusal:
    """The views with the same print as the first sheet in each; the world is made by its foot.

    The first is the print that the most photographs show, the lower number where two are shown as often. Refuses with
    `two-kits` where the numbers do not tell two prints apart.
    """
    if all(view.finding.second is None for view in views):
        return tuple(views)
    for view in views:
        refusal = _not_told_apart(view)
        if refusal is not None:
            return refusal
    shown = Counter(number for view in views for number in (view.number, view.second_number) if number is not None)
    if len(shown) > 2:
        return _refused(
            said(
                "The photographs show more than two prints of the sheet: {numbers}.",
                numbers=", ".join(f"{number:06d}" for number in sorted(shown)),
            )
        )
    first = min(shown, key=lambda number: (-shown[number], number))
    lacking = next((view for view in views if first not in (view.number, view.second_number)), None)
    if lacking is not None:
        return _refused(
            said(
                "{file} shows one sheet of two, and not the one (print {number:06d}) that the other photographs have in common.",
                file=lacking.photo.path.name,
                number=first,
            )
        )
    return tuple(view if view.number == first else _exchanged(view) for view in views)


def one_printer(first: int, second: int) -> str:
    """What is taken for granted of a second print whose check bars nobody measured."""
    return said(
        "Print {second:06d} is taken to come from the same printer with the same setting as print {first:06d}. If it does not, "
        "measure its check bars too and tick them on it, or what is measured is wrong.",
        second=second,
        first=first,
    )


def _not_told_apart(view: View) -> Refusal | None:
    """Where a photograph of two sheets, or one beside such, does not show its prints' numbers, or shows one twice."""
    second = view.finding.second is not None
    if view.number is None or (second and view.second_number is None):
        return _refused(
            said(
                "Of two upright sheets the number of one cannot be read in {file}, so that nothing tells which print is which.",
                file=view.photo.path.name,
            )
        )
    if second and view.number == view.second_number:
        return _refused(
            said(
                "Both upright sheets in {file} are print {number:06d}: copies of one print cannot be told apart.",
                file=view.photo.path.name,
                number=view.number,
            )
        )
    return None


def _refused(reason: str) -> Refusal:
    return Refusal(
        code="two-kits",
        reason=reason,
        remedy=said(
            "Leave one upright sheet in view; or use two prints with numbers of their own (each kit that is made has another), "
            "near enough for both numbers to be read, and photograph again."
        ),
    )


def _exchanged(view: View) -> View:
    upright, second = view.finding.of_role("upright"), view.finding.second
    assert upright is not None and second is not None
    others = tuple(found for found in view.finding.sheets if found is not upright)
    return replace(
        view,
        finding=replace(view.finding, sheets=(second, *others), second=upright),
        answers=view.second_answers,
        number=view.second_number,
        second_answers=view.answers,
        second_number=view.number,
    )
