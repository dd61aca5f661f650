"""Where Debian's opencv-doc package keeps its example pictures; tests that need them skip where it is absent."""

from __future__ import annotations

from pathlib import Path

import pytest

FOLDER = Path("/usr/share/doc/opencv-doc/examples/data")


def opencv_doc() -> Path:
    """The folder of examples; skips the calling test where the package is not installed."""
    if not (FOLDER / "left01.jpg").is_file():
        pytest.skip("Debian's opencv-doc is not installed (apt-get install opencv-doc)")
    return FOLDER
