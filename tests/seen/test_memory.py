"""What a photograph of 48 million pixels costs in memory: the command and its decoder together, through the door.

`within` enlarged, nothing rendered. The most that is promised is 400 MB, resident, what both share counted twice; measured values are in
`tests/experiments/faults_study.md`.
"""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from tests.experiments.memory_study import make, measured

MOST_MB = 400.0

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="memory is read from /proc")


@pytest.mark.parametrize(
    "kind",
    ["tif", *(pytest.param(kind, marks=pytest.mark.slow) for kind in ("jpg", "heic", "avif", "png", "webp", "tiff"))],
)
def test_48_million_pixels_within_400_mb(kind: str, tmp_path: Path) -> None:
    if kind == "heic":
        pytest.importorskip("pillow_heif", reason="pillow-heif, the HEIC encoder of the tests, is not installed")
    make(tmp_path, 48, [kind])
    most, came = measured(tmp_path / f"within-48.{kind}")
    assert 200.0 < most.both < MOST_MB, most  # less would be no measurement at all
    assert came.endswith(" mm") and abs(float(came.split()[0]) - 402.0) < 0.2
