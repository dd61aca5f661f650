"""How far a camera may differ from its profile: at another time, or in one go with the calibration's photographs."""

from __future__ import annotations

import datetime as dt

from calib.profile.match import Facts
from calib.profile.profile import Profile

# A phone is used, put away and warms up between two jobs; within the hour it is taken for the same phone in the same
# state. Judgement, no source.
ONE_GO = dt.timedelta(hours=1)


def apart_in_one_go(profile: Profile, facts: Facts) -> dt.timedelta | None:
    """Time between a photograph and the nearest of the profile's, where they were taken in one go; None otherwise.

    In one go: EXIF names make, model and focal length in both, all alike (see `profile_match.mismatch`, which is taken
    to have passed), and the times stated are within `ONE_GO`. What is silent proves nothing. Two phones of one model
    cannot be told apart: the words that state the use of this say what is assumed.
    """
    ours = profile.camera
    if not (ours.make and ours.model and ours.focal_mm and facts.make and facts.model and facts.focal_mm):
        return None
    if facts.taken is None or profile.taken_first is None or profile.taken_last is None:
        return None
    gap = max(profile.taken_first - facts.taken, facts.taken - profile.taken_last, dt.timedelta(0))
    return gap if gap <= ONE_GO else None
