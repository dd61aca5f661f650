"""What one print, one place and one coupling have in common for the next rig: kept in the person's own browser, for a day's
work and no longer, since a print that is thrown away takes its check bars with it."""

from __future__ import annotations

from urllib.parse import parse_qsl, urlencode

from starlette.requests import Request
from starlette.responses import Response

from photomeasure.asked.fields import QUESTIONS
from photomeasure.web.answers import Answers, answers_from, checked

SAME_FOR_THE_NEXT = tuple(question.page for question in QUESTIONS if question.next_rig)
_COOKIE = "photomeasure-last-time"
_KEPT_S = 12 * 3600


def remember(response: Response, answers: Answers) -> None:
    """Ask the browser to keep them. For every path: the token is another after each start."""
    said = {field: getattr(answers, field) for field in SAME_FOR_THE_NEXT}
    response.set_cookie(_COOKIE, urlencode(said), max_age=_KEPT_S, path="/", httponly=True, samesite="strict")


def remembered(request: Request) -> Answers:
    """Answers as last time, or empty ones: what a browser sends may be anything."""
    pairs = parse_qsl(request.cookies.get(_COOKIE, "")[:500])
    answers = answers_from({field: text for field, text in pairs if field in SAME_FOR_THE_NEXT})
    return answers if checked(answers)[0] is not None else Answers()


def forget(response: Response) -> None:
    """Ask the browser to forget them."""
    response.delete_cookie(_COOKIE, path="/")
