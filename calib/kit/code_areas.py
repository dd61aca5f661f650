"""What of a code is printed black, as rectangles."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from calib.kit.code_bits import CODE_BITS, CODE_CELLS, CODE_MODULES
from calib.kit.sheet import Code


def code_modules(code_id: int) -> NDArray[np.bool_]:
    """The code's modules as printed, True is white: (7, 7), row 0 at the top, the outer ring black."""
    modules = np.zeros((CODE_MODULES, CODE_MODULES), dtype=bool)
    bits = np.array([bit == "1" for bit in CODE_BITS[code_id]]).reshape(CODE_CELLS, CODE_CELLS)
    modules[1:-1, 1:-1] = bits
    return modules


def code_rectangles_mm(code: Code) -> NDArray[np.float64]:  # (M, 4) left, bottom, right, top
    """The black runs of a code, merged along rows, in page millimetres."""
    module = code.size_mm / CODE_MODULES
    left, top = code.centre_mm[0] - code.size_mm / 2, code.centre_mm[1] + code.size_mm / 2
    rectangles = []
    for row, white in enumerate(code_modules(code.id)):
        edges = np.flatnonzero(np.diff(np.concatenate([[True], white, [True]])))
        for start, stop in edges.reshape(-1, 2):
            rectangles.append(
                (left + start * module, top - (row + 1) * module, left + stop * module, top - row * module)
            )
    return np.array(rectangles)
