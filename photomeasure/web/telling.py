"""Tells an address of the dealer's own that something came: what, and in which case, nothing of people.

What is sent is `{"event": "photographs", "case": "KEY"}`; the key is that of the dealer's own page of the case and opens nothing
without its address. Whoever wants to be rung up, or to have a lamp lit, lets a program of theirs listen there.
"""

from __future__ import annotations

import asyncio
import json
import urllib.request
from http.client import HTTPException
from typing import Literal
from urllib.parse import urlsplit

from starlette.concurrency import run_in_threadpool

from calib.outcome.errors import InputError
from calib.words.said import said
from photomeasure.web import log

Event = Literal["photographs", "message"]
TIMEOUT_S = 5.0
PAUSES_S = (2.0, 20.0)  # before it is tried again; then it is given up: the list has it in any case


def address_to_tell(url: str) -> str:
    """As typed, where it can be told. Raises InputError."""
    try:
        parts = urlsplit(url.strip())
        fit = parts.scheme in ("http", "https") and bool(parts.hostname) and parts.username is None and parts.port != 0
    except ValueError:
        fit = False
    if not fit:
        raise InputError(
            said("--tell {url} is no address that can be told.", url=url),
            expected=said("an address that begins with http:// or https://, without name and password in it"),
            remedy=said("give the address at which a program of yours listens, such as http://127.0.0.1:9000/came"),
        )
    return url.strip()


class _NoRedirect(urllib.request.HTTPRedirectHandler):
    """What is told goes to the address that was named, and nowhere else."""

    def redirect_request(self, *_: object) -> None:
        return None


class Teller:
    """url: None tells nobody."""

    def __init__(self, url: str | None, pauses_s: tuple[float, ...] = PAUSES_S) -> None:
        self._url, self._pauses_s = url, pauses_s
        self._telling: set[asyncio.Task[None]] = set()
        self._opener = urllib.request.build_opener(_NoRedirect(), urllib.request.ProxyHandler({}))

    def soon(self, event: Event, case: str) -> None:
        """Nobody waits for it."""
        if self._url is not None:
            task = asyncio.create_task(self._tell(self._url, json.dumps({"event": event, "case": case}).encode()))
            self._telling.add(task)
            task.add_done_callback(self._telling.discard)

    async def _tell(self, url: str, body: bytes) -> None:
        for pause_s in (*self._pauses_s, None):
            if await run_in_threadpool(self._told, url, body):
                return
            if pause_s is not None:
                await asyncio.sleep(pause_s)
        log.note("not told")

    def _told(self, url: str, body: bytes) -> bool:
        request = urllib.request.Request(url, body, {"content-type": "application/json"}, method="POST")
        try:
            with self._opener.open(request, timeout=TIMEOUT_S) as answer:
                return bool(200 <= answer.status < 300)
        except (OSError, HTTPException, ValueError):  # an HTTPError is an OSError
            return False

    def close(self) -> None:
        """Give up what is not told yet."""
        for task in self._telling:
            task.cancel()
