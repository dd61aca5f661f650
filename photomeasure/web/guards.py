"""What stands between the network and the page: its name, the token, where a POST comes from, how large it is, and what a
browser is allowed to do with the answer."""

from __future__ import annotations

import re
import secrets
import sys
from collections import Counter
from collections.abc import Callable, Collection, Sequence

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import ClientDisconnect
from starlette.responses import Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from photomeasure.web.pace import Pace, paced
from photomeasure.web.problems import (
    PageError,
    another_name,
    fault,
    from_elsewhere,
    not_here,
    too_large,
    too_many_at_once,
)

PHOTO_BYTES = 64_000_000  # a photograph of 50 million pixels has 10 to 25 MB
MOST_PHOTOS = 3
UPLOAD_BYTES = MOST_PHOTOS * PHOTO_BYTES + 100_000
FORM_BYTES = 100_000
MOST_BODIES = 12  # that come from one address at the same time

_HEADERS = {
    # no script or style but our own files, nothing from elsewhere, nobody's frame
    "content-security-policy": "default-src 'none'; img-src 'self' blob:; style-src 'self'; script-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "same-origin",  # the address is the secret; "no-referrer" would make the Origin of forms null
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
}

_HOST = re.compile(r"(\[[\da-f:.]+\]|[^\[\]:]+)(:\d*)?", re.IGNORECASE)  # name or address, and a port (RFC 9110, 7.2)

Respond = Callable[[PageError], Response]


class Guard:
    """Lets through what is meant for it and has the token, comes from the page itself where it changes anything, and is
    not too large.

    hosts: names and addresses that the page answers to (any other may be a name made to point here: DNS rebinding).
    turn_away: makes the answer to whoever has not shown the token, and must not tell it; respond: the answer to others.
    upload_path: the one place that takes photographs. origins: the page's own, as a proxy shows it.
    """

    def __init__(
        self,
        app: ASGIApp,
        *,
        token: str,
        hosts: Sequence[str],
        upload_path: str,
        turn_away: Respond,
        respond: Respond,
        upload_bytes: int = UPLOAD_BYTES,
        pace: Pace | None = None,
        origins: Sequence[str] = (),
    ) -> None:
        self._app, self._token = app, token
        self._hosts = frozenset(host.lower() for host in hosts)
        self._turn_away, self._respond = turn_away, respond
        self._upload_path, self._upload_bytes = upload_path, upload_bytes
        self._pace = Pace() if pace is None else pace
        self._origins = frozenset(origins)
        self._most_bodies = MOST_BODIES * (5 if origins else 1)  # a proxy sends for everybody
        self._sending: Counter[str] = Counter()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        sender = _Sender(send, scope["method"])
        stranger = self._stranger(scope)
        if stranger is not None:
            await self._turn_away(stranger)(scope, receive, sender)
            return
        limit = self._upload_bytes if scope["path"] == self._upload_path else FORM_BYTES
        problem = self._judged(scope, limit)
        who = (scope.get("client") or ("", 0))[0]
        if problem is None and scope["method"] == "POST" and self._sending[who] >= self._most_bodies:
            problem = too_many_at_once()
        if problem is not None:
            await self._respond(problem)(scope, receive, sender)
            return
        arrived = self._sends(who)
        try:
            await self._app(scope, paced(receive, limit, self._pace, arrived), sender)
        except ClientDisconnect:
            pass  # whoever sent it has gone away: no fault, and nobody to answer
        except (
            Exception
        ) as error:  # a fault of the program: one line for whoever runs it, a sentence for whoever uses it
            print(f"photomeasure: fault of the program: {type(error).__name__}: {error}", file=sys.stderr)
            if not sender.started:
                await self._respond(fault())(scope, receive, sender)
        finally:
            arrived()

    def _sends(self, who: str) -> Callable[[], None]:
        """One more body comes from there; what is returned says that it has come, or will not."""
        self._sending[who] += 1
        coming = True

        def arrived() -> None:
            nonlocal coming
            if coming:
                coming = False
                self._sending[who] -= 1
                if not self._sending[who]:
                    del self._sending[who]

        return arrived

    def _stranger(self, scope: Scope) -> PageError | None:
        """What is wrong with a request that knows neither our name nor the token."""
        host = _HOST.fullmatch(Headers(scope=scope).get("host", ""))
        if host is None or host[1].lower() not in self._hosts:
            return another_name()
        first = scope["path"].removeprefix("/").partition("/")[0]
        return None if secrets.compare_digest(first.encode(), self._token.encode()) else not_here()

    def _judged(self, scope: Scope, limit: int) -> PageError | None:
        headers = Headers(scope=scope)
        if scope["method"] in ("GET", "HEAD"):
            return None
        if not _from_the_page(headers, scope["scheme"], self._origins):
            return from_elsewhere()
        length = headers.get("content-length", "0")
        return too_large(limit) if not length.isdecimal() or int(length) > limit else None


def _from_the_page(headers: Headers, scheme: str, origins: Collection[str]) -> bool:
    """By what browsers say of themselves and no page can change; programs that say nothing have the token at least."""
    site, origin = headers.get("sec-fetch-site"), headers.get("origin")
    if site is not None and site not in ("same-origin", "none"):
        return False
    return origin is None or origin in origins or origin == f"{scheme}://{headers.get('host', '')}"


class _Sender:
    """Sends with our headers on every answer, and knows whether one has begun."""

    def __init__(self, send: Send, method: str) -> None:
        self._send, self._method = send, method
        self.started = False

    async def __call__(self, message: Message) -> None:
        if message["type"] == "http.response.start":
            self.started = True
            headers = MutableHeaders(scope=message)
            for name, value in _HEADERS.items():
                headers.setdefault(name, value)
            if self._method not in ("GET", "HEAD") and message["status"] >= 400:
                headers["connection"] = "close"  # what is still being sent is not waited for
            headers.setdefault("cache-control", "no-store")  # photographs and figures stay in no shared cache
        await self._send(message)
