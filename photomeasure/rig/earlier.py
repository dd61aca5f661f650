"""A plan that is there already: of the same rig it may be made anew, of another one it is never replaced."""

from __future__ import annotations

from pathlib import Path

from calib.outcome.errors import InputError
from calib.outcome.reading import json_of, text_of
from calib.words.said import said
from photomeasure.rig.setup import Setup

_TOLD_BY = ("title", "vehicle", "trailer")


def refuse_other_plan(path: Path, setup: Setup) -> None:
    """Raise InputError where `path` holds the plan of another rig: another title, vehicle or trailer."""
    try:
        there = json_of(text_of(path))
        before = tuple(there[name] for name in _TOLD_BY)
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return  # no plan: whether it may be written over is told elsewhere
    now = (setup.title, setup.vehicle.name, setup.trailer.name)
    if before != now:
        raise InputError(
            said(
                "{path} is the plan of another rig ({listed}): it is not written over.",
                path=path,
                listed=", ".join(map(str, before)),
            ),
            expected=said("a place at which no plan is yet, or one of the same title, vehicle and trailer"),
            remedy=said("name another folder or file for this plan, or move that one away"),
        )
