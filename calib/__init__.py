"""Sheets, codes, saddles, cameras: the part that knows nothing of couplings.

What programs may use is listed here, and nothing else: modules beneath may move. Names are loaded when they are used.
"""

from importlib import import_module
from typing import Any

_WHERE = {
    "InputError": "calib.outcome.errors",
    "Refusal": "calib.outcome.refusal",
    "View": "calib.camera.views",
    "Calibration": "calib.calibration.calibrate",
    "calibrate": "calib.calibration.calibrate",
    "Profile": "calib.profile.profile",
    "load_profile": "calib.profile.load",
    "find_sheets": "calib.finding.sheets",
    "write_target": "calib.kit.sheets",
}
__all__ = list(_WHERE)


def __getattr__(name: str) -> Any:
    """A public name, from where it is (PEP 562)."""
    if name in _WHERE:
        return getattr(import_module(_WHERE[name]), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted(__all__)
