"""Templates to answers. Everything that goes into a page is escaped; nothing in it is script."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Mapping, Sequence
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from calib.drawing.colours import WHITE, Colour
from calib.kit.kit import PAPERS
from calib.outcome.errors import InputError
from calib.words.language import NAMES, chosen
from calib.words.said import figures, say, say_many, shown
from photomeasure.guides.texts import GUIDES, title_and_about
from photomeasure.record.cautions import SHORTER
from photomeasure.shown.look import AMBER, BADGES, BAND, BAND_PALE, GUARD, mixed
from photomeasure.web.answers import Answers
from photomeasure.web.asking import Ask
from photomeasure.web.cases import Case
from photomeasure.web.entry.forms import csrf, csrf_word
from photomeasure.web.guards import MOST_PHOTOS, PHOTO_BYTES
from photomeasure.web.page import ResultPage, rule_choices
from photomeasure.web.previews import TILE_PX
from photomeasure.web.problems import PageError
from photomeasure.web.scheme import attributes, scheme_css, wish
from photomeasure.web.script_words import script_words

_TEMPLATES = Path(__file__).parent / "templates"
PhotoSize = tuple[int, int] | str  # a photograph's size in pixels, or why it cannot be shown


class Pages:
    """The templates with what all of them need. base: the address under which everything stands; desk: there is a list
    of cases."""

    def __init__(self, base: str, *, desk: bool = False) -> None:
        self._environment = Environment(
            loader=FileSystemLoader(_TEMPLATES),
            autoescape=True,
            undefined=StrictUndefined,
            finalize=shown,  # sentences of a record, in the language of the request
            trim_blocks=True,
            lstrip_blocks=True,
        )
        self._environment.filters.update(shown=shown, figures=figures, plain_english=str)
        self._environment.globals.update(
            base=base,
            csrf=csrf, csrf_word=csrf_word, look_attributes=attributes, look_now=wish.get,
            caution=SHORTER, most=MOST_PHOTOS, most_bytes=PHOTO_BYTES,
            papers=PAPERS,
            tile=TILE_PX, first_guide=GUIDES[0], desk=desk,
            say=say, say_many=say_many, language=chosen, languages=NAMES, script_words=script_words,
        )  # fmt: skip

    def _page(self, template: str, status: int = 200, **values: object) -> Response:
        return HTMLResponse(self._environment.get_template(template).render(**values), status)

    def show(self, template: str, status: int = 200, **values: object) -> Response:
        """A template that has everything it needs in `values`; base in them: the address under which it stands."""
        return self._page(template, status, **values)

    def start(
        self,
        answers: Answers,
        case: Case | None = None,
        wrong: Mapping[str, InputError] | None = None,
        status: int | None = None,
        *,
        as_last_time: bool = False,
    ) -> Response:
        """The form; case: whose photographs are there already; wrong: mistakes by field."""
        status = status or (400 if wrong else 200)
        return self._page(
            "start.html", status, answers=answers, case=case, wrong=wrong or {}, rules=rule_choices(),
            as_last_time=as_last_time,
        )  # fmt: skip

    def result(
        self,
        case: Case,
        page: ResultPage,
        typed: Answers | None = None,
        wrong: Mapping[str, InputError] | None = None,
        *,
        said_no: int = 0,
    ) -> Response:
        """A result, or a refusal; typed, wrong: a tape's reading with a slip in it; said_no: to how many of what could be the ball."""
        return self._page(
            "result.html", 400 if wrong else 200, case=case, page=page,
            typed=typed or Answers(), wrong=wrong or {}, ask=_ask(case, page, said_no), ask_number=said_no + 1,
        )  # fmt: skip

    def guide(self, name: str) -> Response:
        """A guide. Raises InputError for one that there is not."""
        from photomeasure.web.guides import guide_html

        body, guides = guide_html(name), [(known, title_and_about(known)[0]) for known in GUIDES]
        return self._page("guide.html", body=body, title=dict(guides)[name], guides=guides, current=name)

    def mark(
        self,
        case: Case,
        views: Sequence[PhotoSize],
        typed: Mapping[str, object] | None = None,
        wrong: Mapping[int, InputError] | None = None,
    ) -> Response:
        """The photographs, to mark the centre in them; typed, wrong: marks with a slip in them."""
        pickers = _pickers(case, views, typed, wrong or {})
        return self._page("mark.html", 400 if wrong else 200, case=case, pickers=pickers)

    def problem(self, error: PageError) -> Response:
        """What happened, what was expected, what to do next."""
        return _later(self._page("problem.html", error.status, error=error), error)

    def stranger(self, error: PageError) -> Response:
        """The same for whoever has not shown the token: a page without any address of ours in it."""
        return _later(self._outside("stranger.html", error.status, error=error), error)

    def sign_in(self, word: str, to: str, wrong: PageError | None) -> Response:
        """The form that asks for the password. word: that only this form carries; to: where it leads."""
        return self._outside("sign_in.html", wrong.status if wrong else 200, word=word, to=to, wrong=wrong)

    def _outside(self, template: str, status: int, **values: object) -> Response:
        """A page with its looks within it, let through by their digest (Content Security Policy 3, 2.3.1)."""
        looks = (_TEMPLATES.parent / "static" / "stranger.css").read_text(encoding="utf-8")
        digest = base64.b64encode(hashlib.sha256(looks.encode()).digest()).decode()
        answer = self._page(template, status, looks=Markup(looks), **values)
        answer.headers["content-security-policy"] = (
            f"default-src 'none'; style-src 'sha256-{digest}'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
        )
        return answer

    async def look(self, request: Request) -> Response:
        """The reports' colours as a style sheet, so that page, picture and paper are one family."""
        colours = {
            "band": BAND, "band-pale": BAND_PALE, "guard": GUARD, "amber": AMBER,
        }  # fmt: skip
        roots = "".join(f"--{name}:{_hex(colour)};" for name, colour in colours.items())
        badges = "".join(
            f".verdict-{word}{{background:{_hex(ground)};color:{_hex(letters)};fill:{_hex(letters)};"
            f"--hatch:{_hex(mixed(ground, WHITE, 0.3))}}}"
            for word, (ground, letters) in BADGES.items()
        )
        return Response(
            f":root{{{roots}}}{scheme_css()}{badges}", media_type="text/css", headers={"cache-control": "max-age=3600"}
        )


def _ask(case: Case, page: ResultPage, said_no: int) -> Ask | None:
    """What is to be answered next with yes or no."""
    some = case.measured.asks if case.measured is not None and page.asks_for_centre else ()
    return some[said_no] if said_no < len(some) else None


def _later(answer: Response, error: PageError) -> Response:
    if error.retry_s is not None:
        answer.headers["retry-after"] = str(error.retry_s)
    return answer


def _found(case: Case, number: int) -> list[float] | None:
    """Where the centre was found in a photograph, so that a mark by hand begins there."""
    centre = None if case.measured is None else case.measured.record.centre
    return centre.px[number - 1] if centre is not None and number <= len(centre.px) else None


def _hex(colour: Colour) -> str:
    return "#" + "".join(f"{round(255 * part):02x}" for part in colour)


def _pickers(
    case: Case,
    views: Sequence[PhotoSize],
    typed: Mapping[str, object] | None = None,
    wrong: Mapping[int, InputError] | None = None,
) -> list[dict[str, object]]:
    """Of each photograph what the page needs to mark its centre."""
    known = case.measured

    def said(axis: int, number: int) -> str:
        """A field's text: as it was typed, or of the mark that is known."""
        if typed is not None:
            text = typed.get(f"{'xy'[axis]}{number}")
            return text if isinstance(text, str) else ""
        centre = case.centres[number - 1] if number <= len(case.centres) else None
        return "" if centre is None else f"{centre[axis]:g}"

    return [
        {
            "number": number,
            "name": case.uploads[number - 1].name,
            "unseen": view if isinstance(view, str) else None,
            "size": None if isinstance(view, str) else view,
            "x": said(0, number),
            "y": said(1, number),
            "wrong": (wrong or {}).get(number),
            "found": _found(case, number),
            "candidates": known.candidates_px[number - 1] if known is not None else (),
            "interest": known.interest_px[number - 1] if known is not None else None,
        }
        for number, view in enumerate(views, start=1)
    ]
