"""The paper of the path-traced rigs keeps its size whatever the printer does, and is cut where it is said to be.

Expected sizes are arithmetic on A4 (ISO 216: 210 x 297 mm) with the print centred, as "fit to page" puts it.
"""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

PAPER = Path(__file__).resolve().parents[2] / "sample_images" / "scene" / "paper.py"
PX_PER_MM, FOOT_MM = 10, 12.0


@pytest.fixture(scope="module")
def paper() -> ModuleType:
    """Loaded by its path: the renderer's other modules need the path tracer."""
    spec = importlib.util.spec_from_file_location("rendered_paper", PAPER)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def _block(
    paper: ModuleType, scale: float, below_mm: float = 0.0, off_mm: tuple[float, float] = (0.0, 0.0)
) -> list[float]:
    """Left, right, lower and upper end of a black block of 170 x 250 mm whose lower edge is the foot line, and the piece's size."""
    white = np.ones((297 * PX_PER_MM, 210 * PX_PER_MM), np.float32)
    white[(297 - 12 - 250) * PX_PER_MM : (297 - 12) * PX_PER_MM, 20 * PX_PER_MM : 190 * PX_PER_MM] = 0.0
    page = paper.Page(white=white, width_mm=210.0, height_mm=297.0, cut_mm=FOOT_MM)
    piece = paper.on_paper(page, paper.Sheet(scale=(scale, scale), off_mm=off_mm), below_mm=below_mm)
    black = piece.ink[..., 0] < 0.5
    rows, columns = np.flatnonzero(black.any(axis=1)), np.flatnonzero(black.any(axis=0))
    sx, sy = piece.width_mm / black.shape[1], piece.height_mm / black.shape[0]
    ends = (columns[0] * sx, (columns[-1] + 1) * sx, (len(black) - 1 - rows[-1]) * sy, (len(black) - rows[0]) * sy)
    return [*(float(end) for end in ends), piece.width_mm, piece.height_mm]


@pytest.mark.parametrize("scale", [1.0, 0.97, 0.941])
def test_margins_grow_where_the_print_shrinks(paper: ModuleType, scale: float) -> None:
    left, right, low, high, width, height = _block(paper, scale)
    foot_on_page = 148.5 + (FOOT_MM - 148.5) * scale  # of the page's middle, which stays in the paper's middle
    assert [width, height] == pytest.approx([210.0, 297.0 - foot_on_page], abs=0.1)
    assert [left, right] == pytest.approx([105.0 - 85.0 * scale, 105.0 + 85.0 * scale], abs=0.1)
    assert [low, high] == pytest.approx([0.0, 250.0 * scale], abs=0.1)


@pytest.mark.parametrize("below_mm", [-0.5, 0.5, 12.0])
def test_what_is_left_below_the_line_lifts_it(paper: ModuleType, below_mm: float) -> None:
    _, _, low, high, _, _ = _block(paper, 0.96, below_mm)
    assert [low, high] == pytest.approx([max(below_mm, 0.0), below_mm + 240.0], abs=0.1)


def test_a_print_may_lie_off_the_middle(paper: ModuleType) -> None:
    left, right, low, _, width, height = _block(paper, 0.96, off_mm=(2.0, -1.5))
    assert [left, right, width] == pytest.approx([2.0 + 105.0 - 81.6, 2.0 + 105.0 + 81.6, 210.0], abs=0.1)
    assert low == pytest.approx(0.0, abs=0.1)
    assert height == pytest.approx(297.0 - (148.5 - 1.5 - 136.5 * 0.96), abs=0.1)
