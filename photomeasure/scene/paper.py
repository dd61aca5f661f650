"""What the paper itself says, where its edges are seen: the print's scale across it, and where the foot line is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from calib.words.said import said
from photomeasure.scene.scene import Prior

PAPER_WIDTH = "paper width"
APART_SIGMAS = 2.1  # one true print in fifty, were paper as likely at the ends of ISO 216 as in the middle (computed)
LEAST_GAP_MM = 2.5  # of paper below the foot line: less is how people cut
UNCUT_U_MM = 1.0
VOUCHES_WITHIN = 0.016  # of the print's scale: paper that agrees tells a print at 97 or 98 % from a true one only if it is seen as well as that


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """width_mm, u_mm: between the paper's sides in printed millimetres, or None; lower_mm: of the paper's lower edge above the
    foot line, printed millimetres, below 0 where paper goes on beneath it; None where it is not seen."""

    width_mm: float | None
    u_mm: float
    lower_mm: float | None


def paper_priors(papers: Sequence[Paper | None], drawn_width_mm: float, typed_scale: float) -> list[Prior]:
    """The width of the paper, which no printer changes, where it speaks against the print's scale as it was typed.

    drawn_width_mm: of the paper that the page was drawn for. typed_scale: by the check bar along it. Nothing where the paper's
    sides are not seen; nor where they are nearer than they should be, for paper is cut; nor where they agree, for then the
    ball is to be heard alone.
    """
    apart = _apart(papers, drawn_width_mm, typed_scale)
    if apart is None or apart.over_mm < APART_SIGMAS * apart.u_mm:
        return []
    return [
        Prior(
            quantity=PAPER_WIDTH,
            coefficients={"print.x": apart.width_mm},
            mean=drawn_width_mm,
            u=apart.u_mm,
            unit="mm",
            source=said(
                "the paper's sides seen in the picture: ISO 216, ± 2 mm, their edges and how they curl (judgement)"
            ),
        )
    ]


def paper_vouches(papers: Sequence[Paper | None], drawn_width_mm: float, typed_scale: float) -> bool:
    """Whether the paper is as wide as the typed scale makes it, and is seen well enough to be wider if that was a mistake."""
    apart = _apart(papers, drawn_width_mm, typed_scale)
    if apart is None or APART_SIGMAS * apart.u_mm > VOUCHES_WITHIN * drawn_width_mm:
        return False
    return abs(apart.over_mm) < APART_SIGMAS * apart.u_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class _Apart:
    """width_mm: in printed millimetres; over_mm: by how much it is wider than paper is, u_mm: of both."""

    width_mm: float
    over_mm: float
    u_mm: float


def _apart(papers: Sequence[Paper | None], drawn_width_mm: float, typed_scale: float) -> _Apart | None:
    seen = [paper for paper in papers if paper is not None and paper.width_mm is not None]
    widths = [paper.width_mm for paper in seen if paper.width_mm is not None]
    if not widths:
        return None
    width_mm, u_mm = float(np.mean(widths)), max(paper.u_mm for paper in seen)  # its own tolerance is the same in all
    return _Apart(width_mm=width_mm, over_mm=width_mm * typed_scale - drawn_width_mm, u_mm=u_mm)


def uncut_mm(papers: Sequence[Paper | None]) -> float | None:
    """How far paper goes on below the foot line; None where it ends there, or is not seen to go on."""
    below = [-paper.lower_mm for paper in papers if paper is not None and paper.lower_mm is not None]
    return float(np.median(below)) if below and np.median(below) > LEAST_GAP_MM else None


def on_uncut_paper(priors: Sequence[Prior], papers: Sequence[Paper | None]) -> list[Prior]:
    """The same, but for a sheet that was not cut: it stands on its paper's edge, the foot line that much above the ground."""
    strip_mm = uncut_mm(papers)
    if strip_mm is None:
        return list(priors)
    return [
        replace(
            prior,
            mean=strip_mm,
            u=UNCUT_U_MM,
            distribution="normal",
            source=said("the sheet was not cut along its foot line: paper is seen below it"),
        )
        if prior.quantity == "foot gap"
        else prior
        for prior in priors
    ]
