"""Where the real photographs lie: beside the repository, or where PHOTOMEASURE_SHARED_DATA says. Absent: tests are skipped."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

ROOT = Path(os.environ.get("PHOTOMEASURE_SHARED_DATA", Path(__file__).resolve().parents[2] / "shared" / "data"))


def folder(name: str) -> Path:
    """A folder of real photographs; skips the calling test, saying so, where it is absent."""
    path = ROOT / name
    if not path.is_dir():
        pytest.skip(f"the real photographs of {name} are not on this machine")
    return path
