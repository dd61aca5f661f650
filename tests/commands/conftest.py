"""Calibrating with fewer lens models, where it proves nothing which of them is taken."""

from __future__ import annotations

from functools import partial

import pytest

from calib.calibration import calibrate as module
from tests.calib.finding.board_views import SHORT


@pytest.fixture
def few_lens_models(monkeypatch: pytest.MonkeyPatch) -> None:
    """The two that the cameras of the tests need: each one more is solved and held out anew in every photograph."""
    monkeypatch.setattr(module, "calibrate", partial(module.calibrate, models=SHORT))
