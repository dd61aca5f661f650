"""Who is signed in: kept here, the browser only holds a word that nobody can guess."""

from __future__ import annotations

import hashlib
import secrets
import time
from collections import OrderedDict
from collections.abc import Callable
from contextvars import ContextVar
from dataclasses import dataclass

from starlette.requests import HTTPConnection

IDLE_S, LONGEST_S = 7 * 86_400.0, 30 * 86_400.0  # without a visit; in all
MOST = 200  # at the same time; the one that was used longest ago makes room


@dataclass(slots=True, kw_only=True)
class Session:
    """csrf: the word that every form of this session carries; edition: of the password that opened it."""

    csrf: str
    edition: str
    begun_s: float
    seen_s: float


current: ContextVar[Session | None] = ContextVar("session of this request", default=None)


def signed_in(request: HTTPConnection) -> bool:
    """Whether this request comes with a session; False where no password is set."""
    return request.scope.get("photomeasure.session") is not None


class Sessions:
    """Sessions by the digest of their word: who reads this memory cannot come in with what is read."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._open: OrderedDict[str, Session] = OrderedDict()

    def begin(self, edition: str) -> str:
        """A new session; returns its word."""
        word, now = secrets.token_urlsafe(32), self._clock()
        self._open[_digest(word)] = Session(csrf=secrets.token_urlsafe(24), edition=edition, begun_s=now, seen_s=now)
        while len(self._open) > MOST:
            self._open.popitem(last=False)
        return word

    def of(self, word: str, edition: str) -> Session | None:
        """The session of a word, as long as it lasts and the password has not changed."""
        digest = _digest(word)
        session, now = self._open.get(digest), self._clock()
        if session is None:
            return None
        if session.edition != edition or now - session.seen_s > IDLE_S or now - session.begun_s > LONGEST_S:
            del self._open[digest]
            return None
        session.seen_s = now
        self._open.move_to_end(digest)
        return session

    def end(self, word: str) -> None:
        self._open.pop(_digest(word), None)


def _digest(word: str) -> str:
    return hashlib.sha256(word.encode()).hexdigest()
