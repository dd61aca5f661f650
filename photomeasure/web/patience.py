"""Connections on which nothing is asked do not keep others out."""

from __future__ import annotations

import asyncio
from typing import Any

from uvicorn.protocols.http.h11_impl import H11Protocol

MOST_IDLE = 60  # connections without a request; the one that has been idle longest makes room
IDLE_S = 20.0


class Patient(H11Protocol):
    """Connections on which nothing is asked are closed after a while, and the oldest of them as soon as there are many."""

    idle_since: float | None = None
    _timer: asyncio.TimerHandle | None = None

    def connection_made(self, transport: Any) -> None:
        super().connection_made(transport)
        self._idle()

    def data_received(self, data: bytes) -> None:
        super().data_received(data)
        if self.cycle is not None and not self.cycle.response_complete:
            self._busy()
        elif self.idle_since is None:
            self._idle()

    def on_response_complete(self) -> None:
        super().on_response_complete()
        if self.cycle is None or self.cycle.response_complete:
            self._idle()

    def connection_lost(self, exc: Exception | None) -> None:
        self._busy()
        super().connection_lost(exc)

    def _idle(self) -> None:
        self._busy()
        self.idle_since = self.loop.time()
        self._timer = self.loop.call_later(IDLE_S, self._drop)
        waiting = [other for other in self.connections if isinstance(other, Patient) and other.idle_since is not None]
        if len(waiting) > MOST_IDLE:
            min(waiting, key=lambda other: other.idle_since or 0.0)._drop()

    def _busy(self) -> None:
        self.idle_since = None
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None

    def _drop(self) -> None:
        self._busy()
        self.transport.abort()
