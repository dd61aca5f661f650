"""What is kept of photographs between two marks: everything but the pictures themselves."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from photomeasure.pipeline import Standing
from photomeasure.seen.look import View


def slim(standing: Standing, names: Mapping[Path, str]) -> Standing:
    """The same without pixels and files: a photograph of 12 million pixels shrinks to some kilobytes; its size stays known.
    names: of each stored photograph the person's own, for sentences."""
    return replace(
        standing,
        looked=tuple(_slim(view, names) for view in standing.looked),
        views=tuple(_slim(view, names) for view in standing.views),
    )


def _slim(view: View, names: Mapping[Path, str]) -> View:
    photo = view.photo
    return replace(view, photo=replace(photo.without_picture(), path=Path(names[photo.path])))
