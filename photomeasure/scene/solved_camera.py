"""A photograph's camera as it was solved."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    pass


Pose = tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]
