"""The language of a page: as it was chosen at its foot (kept in a cookie), else the browser's, else English."""

from __future__ import annotations

from http.cookies import CookieError, SimpleCookie
from urllib.parse import parse_qs

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from calib.words.language import LANGUAGES, Language, choose, wanted

COOKIE = "language"
_BY_HAND = "photomeasure.language-by-hand"  # in a request's scope: whether somebody chose it
_YEAR_S = 365 * 24 * 3600


def _known(name: str | None) -> Language | None:
    return next((language for language in LANGUAGES if language == name), None)


def _of_cookie(header: str) -> Language | None:
    try:
        kept = SimpleCookie(header).get(COOKIE)
    except CookieError:
        return None
    return None if kept is None else _known(kept.value)


def speak_as_meant(request: Request, language: str) -> None:
    """For the rest of the request the language that was meant for whoever reads it ("": none was), unless they chose one."""
    meant = _known(language)
    if meant is not None and not request.scope.get(_BY_HAND, False):
        choose(meant)


class Speaking:
    """Everything within a request is told in its language; `?language=de` chooses one, and it is kept."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        typed = parse_qs(scope.get("query_string", b"").decode("latin-1")[:2000]).get(COOKIE, [None])[0]
        asked = _known(typed)
        by_hand = asked or _of_cookie(headers.get("cookie", ""))
        scope[_BY_HAND] = by_hand is not None
        choose(by_hand or wanted(headers.get("accept-language", "")))

        async def kept(message: Message) -> None:
            if message["type"] == "http.response.start":
                answer = MutableHeaders(scope=message)
                answer.add_vary_header("accept-language")
                answer.add_vary_header("cookie")
                if asked is not None:
                    answer.append("set-cookie", f"{COOKIE}={asked}; Path=/; Max-Age={_YEAR_S}; SameSite=Lax; HttpOnly")
            await send(message)

        await self._app(scope, receive, kept)
