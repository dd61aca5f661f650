"""The way in where a password is set: a form, a session, the way out again."""

from __future__ import annotations

import asyncio
import re
import secrets
from collections.abc import Callable

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route
from starlette.types import Scope

from calib.words.said import said
from photomeasure.web.entry.forms import form_of
from photomeasure.web.entry.limits import Rate
from photomeasure.web.entry.password import LONGEST, Password
from photomeasure.web.entry.sessions import IDLE_S, Session, Sessions
from photomeasure.web.problems import PageError, too_often

_SEE_OTHER = 303
_INSIDE = re.compile(r"[\w./?=&-]*", re.ASCII)  # what addresses of ours are made of
_ASKED_S = 3600
_MOST_WAITING = 8  # passwords that are being looked at: each takes 64 MiB for a moment, so one after the other
Show = Callable[..., Response]  # of the form: word, to, wrong, status


class SignIn:
    """home: where the dealer's pages begin; https_host: the name at which the page is reached by https, where it is."""

    def __init__(self, password: Password, *, home: str, show: Show, tries: Rate, https_host: str | None) -> None:
        self._password, self._home, self._show, self._tries = password, home, show, tries
        self._https_host = https_host
        self._sessions = Sessions()
        self._looking, self._waiting = asyncio.Lock(), 0

    def table(self) -> list[Route]:
        return [
            Route("/", self.ask),
            Route("/sign-in", self.ask, methods=["GET"]),
            Route("/sign-in", self.enter, methods=["POST"]),
            Route("/sign-out", self.leave, methods=["POST"]),
        ]

    def session(self, request: Request) -> Session | None:
        """The session that a request comes with."""
        word = request.cookies.get(self._cookie(request), "")
        return self._sessions.of(word, self._password.edition) if word else None

    async def ask(self, request: Request) -> Response:
        to = self._inside(request.query_params.get("to", ""))
        return RedirectResponse(to, _SEE_OTHER) if self.session(request) is not None else self._form(request, to)

    def _form(self, request: Request, to: str, wrong: PageError | None = None) -> Response:
        word = secrets.token_urlsafe(24)  # only who was shown this form can send it (double submit)
        response = self._show(word, to, wrong)
        self._set(response, request, self._cookie(request) + "-form", word, _ASKED_S)
        return response

    async def enter(self, request: Request) -> Response:
        who = str(request.scope.get("photomeasure.who", ""))
        wait_s = self._tries.take(who)  # given back where it was right: tries at the same time count too
        if wait_s > 0.0:
            raise too_often(said("A wrong password was typed too often."), wait_s)
        form = await request.form(max_fields=10)
        typed, shown = form.get("password"), form.get("form")
        to = self._inside(str(form.get("to", "")))
        given = request.cookies.get(self._cookie(request) + "-form", "")
        if not given or not isinstance(shown, str) or not secrets.compare_digest(shown.encode(), given.encode()):
            self._tries.give_back(who)
            return self._form(request, to, _stale())
        edition = self._password.edition
        if not isinstance(typed, str) or not await self._right(typed[: LONGEST + 1]):
            return self._form(request, to, _wrong())
        self._tries.give_back(who)
        response = RedirectResponse(to, _SEE_OTHER)
        self._sessions.end(request.cookies.get(self._cookie(request), ""))  # a new word after each sign-in
        self._set(response, request, self._cookie(request), self._sessions.begin(edition), int(IDLE_S))
        self._set(response, request, self._cookie(request) + "-form", "", 0)
        return response

    async def _right(self, typed: str) -> bool:
        if self._waiting >= _MOST_WAITING:
            raise too_often(said("Many passwords were typed at the same time."), 10.0)
        self._waiting += 1
        try:
            async with self._looking:
                return await run_in_threadpool(self._password.right, typed)
        finally:
            self._waiting -= 1

    async def leave(self, request: Request) -> Response:
        await form_of(request)
        self._sessions.end(request.cookies.get(self._cookie(request), ""))
        response = RedirectResponse("/sign-in", _SEE_OTHER)
        self._set(response, request, self._cookie(request), "", 0)
        response.headers["clear-site-data"] = '"cache", "storage"'
        return response

    def _inside(self, to: str) -> str:
        """An address of the dealer's pages, and nowhere else."""
        ours = to.startswith(self._home) and _INSIDE.fullmatch(to) and "//" not in to and ".." not in to
        return to if ours else self._home

    def _cookie(self, request: Request) -> str:
        # with this prefix a browser takes it only by https, for this very name and every path (RFC 6265bis, 4.1.3.2)
        return "__Host-photomeasure" if self._by_https(request.scope) else "photomeasure-session"

    def _by_https(self, scope: Scope) -> bool:
        if self._https_host is None:
            return False
        hosts = [value.decode("latin-1") for name, value in scope["headers"] if name == b"host"]
        return hosts == [self._https_host]

    def _set(self, response: Response, request: Request, name: str, value: str, seconds: int) -> None:
        response.set_cookie(
            name, value, max_age=seconds, path="/", httponly=True, samesite="lax", secure=self._by_https(request.scope)
        )


def _wrong() -> PageError:
    return PageError(
        403,
        said("That is not the password."),
        expected=said("the password that was set for this page"),
        remedy=said("type it again; whoever runs the page can set a new one"),
    )


def _stale() -> PageError:
    return PageError(
        403,
        said("This form was too old, or the browser keeps no cookies."),
        expected=said("the form as it is now, and cookies of this page"),
        remedy=said("type the password once more"),
    )
