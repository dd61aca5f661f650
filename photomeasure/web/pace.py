"""At what pace a body has to come, so that nobody holds the page up by sending next to nothing."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable
from dataclasses import dataclass

from starlette.types import Message, Receive

from photomeasure.web.problems import too_large, too_slow


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """What a body is given: a pause of at most pause_s, and in all grace_s and a second for every bytes_per_s that came.

    A phone in a yard with one bar of reception sends some 5 kB/s; a pause of half a minute is a lift or a cellar (judgement).
    """

    pause_s: float = 60.0
    grace_s: float = 60.0
    bytes_per_s: float = 1000.0

    def left_s(self, taken_s: float, total_bytes: int) -> float:
        return min(self.pause_s, self.grace_s + total_bytes / self.bytes_per_s - taken_s)


def paced(receive: Receive, limit_bytes: int, pace: Pace, arrived: Callable[[], None]) -> Receive:
    """The body as it comes, as long as it is within the limit (one in chunks does not say its length before) and comes at a
    pace that a slow network has; arrived: called when it is there."""
    begun, total, ended = time.monotonic(), 0, False

    async def receiving() -> Message:
        nonlocal total, ended
        if ended:
            return await receive()  # waits for the browser to go away: as long as it likes
        try:
            left_s = max(pace.left_s(time.monotonic() - begun, total), 0.0)
            message = await asyncio.wait_for(receive(), left_s)
        except TimeoutError:
            raise too_slow() from None
        total += len(message.get("body", b""))
        if total > limit_bytes:
            raise too_large(limit_bytes)
        ended = not message.get("more_body", False)
        if ended:
            arrived()
        return message

    return receiving
