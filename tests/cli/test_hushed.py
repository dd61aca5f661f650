"""Nothing that a library says to programmers is printed beside an answer."""

from __future__ import annotations

import subprocess
import sys

import pytest

NOISY = (
    "import os, sys, warnings; from photomeasure.cli.whole import hush_libraries; hush_libraries(); "
    "warnings.warn('noise of a library', RuntimeWarning); print(os.environ['OPENCV_LOG_LEVEL']); "
    "import cv2; cv2.imread('/nowhere/no.jpg')"  # OpenCV warns of it by default
)


@pytest.mark.parametrize(("options", "heard"), [((), False), (("-W", "default"), True)])
def test_library_warnings(options: tuple[str, ...], heard: bool) -> None:
    """But for those who ask Python for them."""
    done = subprocess.run([sys.executable, *options, "-c", NOISY], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "SILENT"
    assert ("noise of a library" in done.stderr) is heard
    assert "imread" not in done.stderr.replace(NOISY, "")  # Python 3.13 shows the line that warns
