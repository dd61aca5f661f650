"""Forms that only the page itself can send: each carries a word of its session (synchronizer token).

Without a session there is none: then the address is the secret, and who does not know it cannot send anything to it.
"""

from __future__ import annotations

import secrets
from collections.abc import Mapping

from markupsafe import Markup
from starlette.datastructures import FormData
from starlette.exceptions import HTTPException
from starlette.requests import Request

from photomeasure.web.entry.sessions import current
from photomeasure.web.problems import old_form

FIELD, HEADER = "csrf", "x-csrf"
_MOST_FIELDS = 50


def csrf() -> Markup:
    """The hidden field for a form, empty without a session."""
    session = current.get()
    return (
        Markup("") if session is None else Markup('<input type="hidden" name="csrf" value="{}">').format(session.csrf)
    )


def csrf_word() -> str:
    """The same word for what a script sends, as the header `x-csrf`."""
    session = current.get()
    return "" if session is None else session.csrf


def check_csrf(form: Mapping[str, object]) -> None:
    """Raises PageError where a session's form does not carry its word."""
    _check(form.get(FIELD))


def check_header(request: Request) -> None:
    """The same for what a script of the page sends."""
    _check(request.headers.get(HEADER))


def _check(sent: object) -> None:
    session = current.get()
    if session is None:
        return
    if not isinstance(sent, str) or not secrets.compare_digest(sent.encode(), session.csrf.encode()):
        raise old_form()


async def form_of(request: Request) -> FormData:
    """A form without files that was sent by the page itself."""
    if not request.headers.get("content-type", "").startswith("application/x-www-form-urlencoded"):
        raise HTTPException(415)
    form = await request.form(max_fields=_MOST_FIELDS)
    check_csrf(form)
    return form
