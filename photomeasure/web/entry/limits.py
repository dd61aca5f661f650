"""How often something may be tried from one address: some at once, then one after the other."""

from __future__ import annotations

import ipaddress
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field

_MOST_KNOWN = 20_000  # addresses; the one that was quiet longest is forgotten


class Rate:
    """A bucket for every address: `at_once` tries, and another one every `every_s` seconds."""

    def __init__(self, at_once: int, every_s: float, clock: Callable[[], float] = time.monotonic) -> None:
        self._most, self._every_s, self._clock = float(at_once), every_s, clock
        self._left: OrderedDict[str, tuple[float, float]] = OrderedDict()  # tries left, and when that was

    def wait_s(self, who: str) -> float:
        """Seconds until the next try; 0 where it may be now."""
        return max(1.0 - self._now(who), 0.0) * self._every_s

    def take(self, who: str) -> float:
        """One try: 0 where it may be, or the seconds to wait."""
        left = self._now(who)
        if left < 1.0:
            return (1.0 - left) * self._every_s
        self._put(who, left - 1.0)
        return 0.0

    def give_back(self, who: str) -> None:
        """A try that counts for nothing after all."""
        self._put(who, min(self._now(who) + 1.0, self._most))

    def _now(self, who: str) -> float:
        left, at = self._left.get(who, (self._most, 0.0))
        return min(left + (self._clock() - at) / self._every_s, self._most) if who in self._left else self._most

    def _put(self, who: str, left: float) -> None:
        self._left[who] = (left, self._clock())
        self._left.move_to_end(who)
        if len(self._left) > _MOST_KNOWN:
            self._left.popitem(last=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """sign_in: wrong passwords. guesses: addresses at which nothing is. uploads: photographs that are sent.

    Five slips are somebody who has forgotten, then one try every three minutes is 480 a day. Thirty wrong addresses are
    old links; a link of 128 bits is not found by ten tries a minute. An upload every three seconds is more than a phone
    sends, and a yard with twenty phones behind one address begins with 120 (judgement).
    """

    sign_in: Rate = field(default_factory=lambda: Rate(5, 180.0))
    guesses: Rate = field(default_factory=lambda: Rate(30, 6.0))
    uploads: Rate = field(default_factory=lambda: Rate(120, 3.0))


def who_of(client: tuple[str, int] | None, *, known: bool) -> str:
    """Whose tries are counted together: an address, or the network that one household has in IPv6 (/64). "" where nobody can be
    told apart: on this machine, or behind a proxy that is not trusted to say (known: False)."""
    if client is None or not known:
        return ""
    try:
        address = ipaddress.ip_address(client[0].partition("%")[0])
    except ValueError:
        return client[0][:64]
    if address.is_loopback:
        return ""
    if isinstance(address, ipaddress.IPv6Address):
        return str(address.ipv4_mapped or ipaddress.ip_network((address, 64), strict=False))
    return str(address)
