"""Days and moments as people read them: by the clock of the machine that the page runs on, which is the dealer's."""

from __future__ import annotations

from datetime import datetime

from calib.words.said import date

DAY_S = 86_400.0


def day(at: float) -> str:
    """A day in words. at: seconds since 1970."""
    return date(datetime.fromtimestamp(at))


def moment(at: float) -> str:
    """The same with hour and minute."""
    return f"{day(at)}, {datetime.fromtimestamp(at):%H:%M}"
