"""Sheets, codes, saddles, cameras: the part that knows nothing of couplings.

What programs may use is listed here, and nothing else: modules beneath may move. Names are loaded when they are used.
"""

from calib.outcome.late import late

_WHERE = {
    "InputError": "calib.outcome.errors",
    "Refusal": "calib.outcome.refusal",
    "PointsSeen": "calib.camera.views",
    "Calibration": "calib.calibration.calibrate",
    "calibrate": "calib.calibration.calibrate",
    "Profile": "calib.profile.profile",
    "load_profile": "calib.profile.load",
    "find_sheets": "calib.finding.sheets",
    "write_target": "calib.kit.sheets",
}
__all__ = list(_WHERE)


__getattr__ = late(__name__, _WHERE)


def __dir__() -> list[str]:
    return sorted(__all__)
