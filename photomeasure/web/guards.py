"""What stands between the network and the page: its name, the token, who is signed in, where a POST comes from, how large it
is, how often it is tried, and what a browser is allowed to do with the answer."""

from __future__ import annotations

import re
import secrets
import time
from collections import Counter
from collections.abc import Callable, Collection, Mapping, Sequence
from urllib.parse import quote

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import ClientDisconnect, Request
from starlette.responses import RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from calib.words.said import said
from photomeasure.web import log
from photomeasure.web.entry.limits import Limits, who_of
from photomeasure.web.entry.sessions import Session, current
from photomeasure.web.entry.sign_in import SignIn
from photomeasure.web.pace import Pace, paced
from photomeasure.web.problems import FORM_BYTES as FORM_BYTES
from photomeasure.web.problems import (
    PageError,
    another_name,
    fault,
    from_elsewhere,
    not_here,
    of_the_disk,
    signed_out,
    too_large,
    too_many_at_once,
    too_often,
)
from photomeasure.web.scheme import wish, wish_in

PHOTO_BYTES = 64_000_000  # a photograph of 50 million pixels has 10 to 25 MB
MOST_PHOTOS = 3
UPLOAD_BYTES = MOST_PHOTOS * PHOTO_BYTES + 100_000
ONE_PHOTO_BYTES = PHOTO_BYTES + 100_000
BOARD_BYTES = 320_000_000  # twenty photographs of a board, of a phone with 50 million pixels
PIECE_BYTES = 1_000_000  # of a photograph that comes in pieces
MOST_BODIES = 12  # that come from one address at the same time
# What stands outside of the token, by the first part of its address: what customers see looks at its links itself
CUSTOMERS, HEALTH = "send", "health"
_WAY_IN = frozenset({"", "sign-in", "sign-out"})  # where a password is set
_OPEN_INSIDE = ("static/", "look.css", "manifest.webmanifest")  # the program's own files, nobody's data

_HEADERS = {
    # no script or style but our own files, nothing from elsewhere, nobody's frame
    "content-security-policy": "default-src 'none'; img-src 'self' blob:; style-src 'self'; script-src 'self'; "
    "connect-src 'self'; manifest-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "same-origin",  # the address is the secret; "no-referrer" would make the Origin of forms null
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(self), geolocation=(), microphone=(), payment=(), usb=()",
    "x-robots-tag": "noindex, nofollow",
}
_BY_HTTPS = {
    "strict-transport-security": "max-age=31536000"
}  # once seen by https, for a year by nothing else (RFC 6797)

# where customers send a photograph whole, begin one, and send a piece of it
_UPLOADS = re.compile(rf"/{CUSTOMERS}/[^/]+/(photographs|arriving|arriving/[^/]+)")
_HOST = re.compile(r"(\[[\da-f:.]+\]|[^\[\]:]+)(:\d*)?", re.IGNORECASE)  # name or address, and a port (RFC 9110, 7.2)

Respond = Callable[[PageError], Response]


class Guard:
    """Lets through what is meant for it and has the token, comes from the page itself where it changes anything, is not too
    large and not tried too often; and asks for a session where a password is set.

    hosts: names and addresses that the page answers to (any other may be a name made to point here: DNS rebinding).
    turn_away: makes the answer to whoever has not shown the token, and must not tell it; respond: the answer to others.
    uploads: the places inside that take photographs, with how many bytes. origins: the page's own, as a proxy shows it. sign_in: the way in
    where a password is set. told_apart: whether the addresses that requests come from are people's own.
    """

    def __init__(
        self,
        app: ASGIApp,
        *,
        token: str,
        hosts: Sequence[str],
        uploads: Mapping[str, int],
        turn_away: Respond,
        respond: Respond,
        pace: Pace | None = None,
        origins: Sequence[str] = (),
        sign_in: SignIn | None = None,
        limits: Limits | None = None,
        told_apart: bool = True,
    ) -> None:
        self._app, self._token = app, token
        self._hosts = frozenset(host.lower() for host in hosts)
        self._turn_away, self._respond = turn_away, respond
        self._uploads = dict(uploads)
        self._pace = Pace() if pace is None else pace
        self._origins = frozenset(origins)
        self._sign_in, self._limits, self._told_apart = sign_in, limits or Limits(), told_apart
        self._open = {CUSTOMERS, HEALTH} | (_WAY_IN if sign_in is not None else set())
        self._https = _BY_HTTPS if any(origin.startswith("https:") for origin in origins) else {}
        self._most_bodies = MOST_BODIES * (5 if origins else 1)  # a proxy sends for everybody
        self._sending: Counter[str] = Counter()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        begun = time.monotonic()
        sender = _Sender(send, scope["method"], self._https)
        try:
            await self._answer(scope, receive, sender)
        finally:
            log.note_request(scope["method"], scope["path"], sender.status, time.monotonic() - begun)

    async def _answer(self, scope: Scope, receive: Receive, sender: _Sender) -> None:
        who = scope["photomeasure.who"] = who_of(scope.get("client"), known=self._told_apart)
        session = self._session(scope)
        scope["photomeasure.session"] = session
        first = scope["path"].removeprefix("/").partition("/")[0]
        inside = secrets.compare_digest(first.encode(), self._token.encode())
        problem = self._stranger(scope, who, known=inside or first in self._open, session=session)
        if problem is not None:
            if problem.status == 404 and who and session is None:
                self._limits.guesses.take(who)
            await self._turn_away(problem)(scope, receive, sender)
            return
        if inside and self._sign_in is not None and session is None and not self._open_inside(scope["path"]):
            await self._to_the_way_in(scope)(scope, receive, sender)
            return
        # a customer's page has no session, even where the dealer looks at it in his own browser
        wanted = wish.set(wish_in(Headers(scope=scope).get("cookie", "")))
        before = current.set(None if first == CUSTOMERS else session)
        try:
            await self._let_through(scope, receive, sender, self._respond if inside else self._turn_away)
        finally:
            current.reset(before)
            wish.reset(wanted)
        if not inside and sender.status == 404 and who and session is None:
            self._limits.guesses.take(who)  # an address of a customer at which nothing is

    async def _let_through(self, scope: Scope, receive: Receive, sender: _Sender, respond: Respond) -> None:
        uploads = scope["method"] == "POST" and self._begins_an_upload(scope["path"])
        limit = self._limit(scope["path"])
        problem = self._judged(scope, limit)
        client = (scope.get("client") or ("", 0))[0]
        who = scope["photomeasure.who"]
        if problem is None and scope["method"] == "POST" and self._sending[client] >= self._most_bodies:
            problem = too_many_at_once()
        if problem is None and uploads and who and (wait_s := self._limits.uploads.take(who)):
            problem = too_often(said("Things were sent from this address too often."), wait_s)
        if problem is not None:
            await respond(problem)(scope, receive, sender)
            return
        arrived = self._sends(client)
        try:
            await self._app(scope, paced(receive, limit, self._pace, arrived), sender)
        except ClientDisconnect:
            pass  # whoever sent it has gone away: no fault, and nobody to answer
        except Exception as error:  # one line for whoever runs it, a sentence for whoever uses it
            log.what_went_wrong(error)
            if not sender.started:
                await respond(of_the_disk(error) or fault())(scope, receive, sender)
        finally:
            arrived()

    def _limit(self, path: str) -> int:
        """Bytes of a body that this address takes."""
        if path in self._uploads:
            return self._uploads[path]
        of_a_customer = _UPLOADS.fullmatch(path)
        if of_a_customer is None:
            return FORM_BYTES
        what = of_a_customer[1]
        return ONE_PHOTO_BYTES if what == "photographs" else FORM_BYTES if what == "arriving" else PIECE_BYTES

    def _begins_an_upload(self, path: str) -> bool:
        """A photograph, or the first word of one: its pieces belong to that, and are as many as it is large."""
        of_a_customer = _UPLOADS.fullmatch(path)
        return path in self._uploads or (of_a_customer is not None and of_a_customer[1] in ("photographs", "arriving"))

    def _session(self, scope: Scope) -> Session | None:
        return None if self._sign_in is None else self._sign_in.session(Request(scope))

    def _open_inside(self, path: str) -> bool:
        return path.removeprefix(f"/{self._token}/").startswith(_OPEN_INSIDE)

    def _to_the_way_in(self, scope: Scope) -> Response:
        if scope["method"] not in ("GET", "HEAD"):
            return self._turn_away(signed_out())
        if Headers(scope=scope).get("sec-fetch-mode", "navigate") != "navigate":  # a picture, a script's question
            return self._turn_away(signed_out())
        return RedirectResponse(f"/sign-in?to={quote(scope['path'])}", 303)

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

    def _stranger(self, scope: Scope, who: str, *, known: bool, session: Session | None) -> PageError | None:
        """What is wrong with a request that knows neither our name nor any address of ours. Who has tried too many is given no
        answer at all for a while, or it could be told from the answers which of them was right."""
        host = _HOST.fullmatch(Headers(scope=scope).get("host", ""))
        if host is None or host[1].lower() not in self._hosts:
            return another_name()
        if who and session is None and (wait_s := self._limits.guesses.wait_s(who)):
            return too_often(said("An address at which nothing is was asked for too often."), wait_s)
        return None if known else not_here()

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

    def __init__(self, send: Send, method: str, more: Mapping[str, str]) -> None:
        self._send, self._method, self._more = send, method, more
        self.status = 0

    @property
    def started(self) -> bool:
        return self.status > 0

    async def __call__(self, message: Message) -> None:
        if message["type"] == "http.response.start":
            self.status = message["status"]
            headers = MutableHeaders(scope=message)
            for name, value in (*_HEADERS.items(), *self._more.items()):
                headers.setdefault(name, value)
            if self._method not in ("GET", "HEAD") and message["status"] >= 400:
                headers["connection"] = "close"  # what is still being sent is not waited for
            headers.setdefault("cache-control", "no-store")  # photographs and figures stay in no shared cache
        await self._send(message)
