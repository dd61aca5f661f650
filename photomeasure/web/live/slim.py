"""What is kept of photographs between two marks: everything but the pictures themselves."""

from __future__ import annotations

from dataclasses import replace

from photomeasure.pipeline import Standing
from photomeasure.seen.look import View


def slim(standing: Standing) -> Standing:
    """The same without pixels and files: a photograph of 12 million pixels shrinks to some kilobytes; its size stays known."""
    return replace(
        standing,
        looked=tuple(_slim(view) for view in standing.looked),
        views=tuple(_slim(view) for view in standing.views),
    )


def _slim(view: View) -> View:
    return replace(view, photo=view.photo.without_picture())
