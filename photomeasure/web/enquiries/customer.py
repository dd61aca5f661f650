"""The customer's side: a link that opens one case, one question a screen, photographs that are looked at as they come."""

from __future__ import annotations

import time
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any

from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Mount, Route

from calib.words.language import chosen
from calib.words.said import figures, said, say
from photomeasure.record.cautions import CAUTIONS
from photomeasure.shown import words
from photomeasure.shown.headline import DISAGREE
from photomeasure.web.cases import Cases
from photomeasure.web.enquiries import arriving
from photomeasure.web.enquiries.arriving import Arriving, OffsetError
from photomeasure.web.enquiries.asked import MOVED, QUESTIONS, STATE, answer_from, in_words
from photomeasure.web.enquiries.enquiry import BEFORE, Enquiry, Photograph
from photomeasure.web.enquiries.how_to import STEPS, drawing
from photomeasure.web.enquiries.messages import LONGEST, keep_message, messages_of, text_from
from photomeasure.web.enquiries.photographs import leave_out, of_this_round
from photomeasure.web.enquiries.shelf import Shelf
from photomeasure.web.enquiries.work import Work, result_of, ring_of, small_of
from photomeasure.web.entry import form_of
from photomeasure.web.guards import CUSTOMERS as PLACE
from photomeasure.web.guards import PHOTO_BYTES, PIECE_BYTES
from photomeasure.web.kit import kit_pdf
from photomeasure.web.languages import speak_as_meant
from photomeasure.web.page import result_page
from photomeasure.web.problems import PageError, link_ended, no_link, too_large
from photomeasure.web.render import Pages
from photomeasure.web.static_files import Static
from photomeasure.web.telling import Teller
from photomeasure.web.when import day

SEE_OTHER = 303
WAIT_S = 12.0  # that a page is held back until a photograph is looked at, before it says that it takes longer
MOST_OF_ONE_ROUND = 5
_EVEN = "\N{PLUS-MINUS SIGN} "  # before a spread that is the same both ways
_STATIC = Path(__file__).parent.parent / "static"


class Customer:
    """One method an address; every address holds the link's secret, and each request looks at the link anew."""

    def __init__(self, shelf: Shelf, cases: Cases, work: Work, pages: Pages, teller: Teller) -> None:
        self._teller = teller
        self._shelf, self._cases, self._work, self._pages = shelf, cases, work, pages

    def table(self) -> Mount:
        def post(path: str, what: Callable[[Request], Awaitable[Response]]) -> Route:
            return Route(path, what, methods=["POST"])

        return Mount(
            f"/{PLACE}/{{secret}}",
            routes=[
                Route("/", self.start),
                Route("/next", self.next),
                Route("/question/{name}", self.question),
                post("/question/{name}", self.answer),
                Route("/photographs", self.photographs),
                post("/photographs", self.plain_photograph),
                Route("/photograph-{number:int}", self.photograph),
                post("/photograph-{number:int}", self.again),
                Route("/photograph-{number:int}.jpg", self.small),
                Route("/ring-{number:int}.jpg", self.ring),
                post("/arriving", self.begin),
                Route("/arriving/{key}", self.arriving),
                post("/arriving/{key}", self.piece),
                post("/send", self.send),
                post("/message", self.message),
                Route("/kit.pdf", self.kit),
                Route("/drawing-{number:int}.svg", self.drawing),
                Route("/look.css", self._pages.look),
                Mount("/static", Static(directory=_STATIC)),
            ],
        )

    # -- pages ---------------------------------------------------------------------------------------------------------

    async def start(self, request: Request) -> Response:
        enquiry = self._enquiry(request)
        if enquiry.opened is None:
            self._shelf.stamp(enquiry.key, "opened")
        if enquiry.sent is not None and not enquiry.ask and "more" not in request.query_params:
            return self._show(request, enquiry, "customer/thanks.html", **self._figure(enquiry))
        begun = bool(enquiry.answers) or bool(of_this_round(self._shelf, enquiry))
        return self._show(request, enquiry, "customer/start.html", steps=STEPS, begun=begun, cautions=CAUTIONS)

    async def next(self, request: Request) -> Response:
        """What is still to be done."""
        enquiry = self._enquiry(request)
        if enquiry.ask and MOVED.name not in enquiry.answers:
            return self._to(request, f"question/{MOVED.name}")
        asked = enquiry.next_question
        return self._to(request, "photographs" if asked is None else f"question/{asked}")

    async def question(self, request: Request) -> Response:
        return self._question(request, self._enquiry(request))

    async def answer(self, request: Request) -> Response:
        enquiry, form = self._enquiry(request), await form_of(request)
        question = self._known(request)
        said, wrong = answer_from(question, form)
        if wrong:
            return self._question(request, enquiry, said, wrong)
        self._shelf.answer(enquiry.key, said)
        if said.get(MOVED.name) == "yes":
            self._shelf.next_round(enquiry.key, STATE)
        return self._to(request, "next")

    async def photographs(self, request: Request) -> Response:
        return self._photographs(request, self._enquiry(request))

    async def photograph(self, request: Request) -> Response:
        """What was seen in one; where that takes longer, a page that comes again by itself."""
        enquiry, photograph = self._one(request)
        looked = await self._work.look(enquiry, photograph, WAIT_S)
        count = len(of_this_round(self._shelf, enquiry))
        return self._show(
            request, enquiry, "customer/photograph.html", photograph=photograph, looked=looked, count=count,
            more=count < MOST_OF_ONE_ROUND, small=small_of(self._shelf.folder(enquiry) / photograph.file).exists(),
        )  # fmt: skip

    # -- photographs ---------------------------------------------------------------------------------------------------

    async def plain_photograph(self, request: Request) -> Response:
        """A photograph by a plain form, in one piece."""
        enquiry = self._enquiry(request)
        if not request.headers.get("content-type", "").startswith("multipart/form-data"):
            raise HTTPException(415)
        async with request.form(max_files=3, max_fields=5, max_part_size=10_000) as form:
            files = [part for part in form.getlist("photo") if isinstance(part, UploadFile) and part.size]
            if not files:
                error = PageError(
                    400, said("No photograph was chosen."), expected=said("one"), remedy=said("take one, or choose one")
                )
                return self._photographs(request, enquiry, error)
            if (files[0].size or 0) > PHOTO_BYTES:
                raise too_large(PHOTO_BYTES)
            file, name, size = files[0].file, files[0].filename or "", files[0].size or 0
            photograph = await self._work.aside(lambda: arriving.whole(self._shelf, enquiry, name, file, size))
        return self._arrived(request, enquiry, photograph)

    async def begin(self, request: Request) -> Response:
        enquiry, form = self._enquiry(request), await form_of(request)
        mark, name, size = (str(form.get(field, ""))[:300] for field in ("mark", "name", "bytes"))
        if not mark or not size.isdecimal() or len(size) > 12:
            raise HTTPException(400)
        begun = await self._work.aside(lambda: arriving.begin(self._shelf, enquiry, mark, name, int(size)))
        return _told(begun)

    async def arriving(self, request: Request) -> Response:
        enquiry = self._enquiry(request)
        return _told(arriving.find(self._shelf, enquiry, request.path_params["key"]))

    async def piece(self, request: Request) -> Response:
        """The next piece: kept once all of it is here, so that one that breaks off is sent again whole."""
        enquiry = self._enquiry(request)
        offset = request.query_params.get("offset", "")
        if not offset.isdecimal() or len(offset) > 12:
            raise HTTPException(400)
        data = bytearray()
        async for part in request.stream():
            data += part
            if len(data) > PIECE_BYTES:
                raise too_large(PIECE_BYTES)
        async with self._work.one_at_a_time(request.path_params["key"]):
            known = arriving.find(self._shelf, enquiry, request.path_params["key"])
            if not isinstance(known, Arriving):
                return _told(known)
            try:
                now = await self._work.aside(
                    lambda: arriving.append(self._shelf, enquiry, known, int(offset), bytes(data))
                )
            except OffsetError as elsewhere:
                return JSONResponse({"offset": elsewhere.offset}, 409)
        if isinstance(now, Photograph):
            self._work.look_soon(enquiry, now)
        return _told(now)

    async def again(self, request: Request) -> Response:
        """Whether the ring is around the ball; or taken again: this one is not measured."""
        enquiry, photograph = self._one(request)
        form = await form_of(request)
        if "is_ball" in form:
            await self._work.answer(photograph, form.get("is_ball") == "yes")
            return self._to(request, f"photograph-{photograph.number}")
        leave_out(self._shelf, enquiry, photograph.number)
        return self._to(request, "photographs")

    async def small(self, request: Request) -> Response:
        return self._picture(request, small_of)

    async def ring(self, request: Request) -> Response:
        return self._picture(request, ring_of)

    def _picture(self, request: Request, of: Callable[[Path], Path]) -> Response:
        enquiry, photograph = self._one(request)
        path = of(self._shelf.folder(enquiry) / photograph.file)
        if not path.exists():
            raise no_link()
        return Response(path.read_bytes(), media_type="image/jpeg", headers={"cache-control": "private, max-age=3600"})

    async def send(self, request: Request) -> Response:
        enquiry = self._enquiry(request)
        await form_of(request)
        if not of_this_round(self._shelf, enquiry):
            error = PageError(
                400, said("No photograph is here yet."), expected=said("one at least"), remedy=said("take one")
            )
            return self._photographs(request, enquiry, error)
        if (
            enquiry.sent is None or enquiry.ask or self._work.has_news(enquiry)
        ):  # pressed twice: the same again tells nothing
            self._shelf.sent(enquiry.key)
            self._teller.soon("photographs", enquiry.key)
            self._work.measure_soon(enquiry)
        return self._to(request, "")

    async def message(self, request: Request) -> Response:
        """A line to whoever asks."""
        enquiry, form = self._enquiry(request), await form_of(request)
        text = text_from(form)
        if text:
            await self._work.aside(lambda: keep_message(self._shelf, enquiry.key, text, by_customer=True))
            self._teller.soon("message", enquiry.key)
        return self._to(request, "#messages")

    # -- files ---------------------------------------------------------------------------------------------------------

    async def kit(self, request: Request) -> Response:
        enquiry = self._enquiry(request)
        return await kit_pdf(enquiry.about.paper, self._name(enquiry) or None, chosen())

    async def drawing(self, request: Request) -> Response:
        drawn = drawing(request.path_params["number"], self._enquiry(request).about.paper, chosen())
        if drawn is None:
            raise no_link()
        return Response(drawn, media_type="image/svg+xml", headers={"cache-control": "private, max-age=86400"})

    # -- what the others need ------------------------------------------------------------------------------------------

    def _enquiry(self, request: Request) -> Enquiry:
        link = self._shelf.link_by(request.path_params["secret"])
        if link is None:
            raise no_link()
        enquiry = self._shelf.get(link.enquiry)
        if enquiry is None:
            raise no_link()
        speak_as_meant(request, enquiry.about.language)
        if not link.is_open(time.time()):
            raise link_ended(day(link.until), link.withdrawn is not None)
        return enquiry

    def _one(self, request: Request) -> tuple[Enquiry, Photograph]:
        enquiry, number = self._enquiry(request), request.path_params["number"]
        some = (photograph for photograph in of_this_round(self._shelf, enquiry) if photograph.number == number)
        found = next(some, None)
        if found is None:
            raise no_link()
        return enquiry, found

    def _known(self, request: Request) -> Any:
        name = request.path_params["name"]
        question = MOVED if name == MOVED.name else QUESTIONS.get(name)
        if question is None:
            raise no_link()
        return question

    def _question(self, request: Request, enquiry: Enquiry, typed: Any = None, wrong: Any = None) -> Response:
        question = self._known(request)
        before = enquiry.answers.get(f"{BEFORE}{question.name}", "")
        answers = {question.name: before, "bar_x": "", "bar_y": "", **enquiry.answers, **(typed or {})}
        wrong = wrong or {}
        return self._show(
            request,
            enquiry,
            "customer/question.html",
            400 if wrong else 200,
            question=question,
            before=next((words for value, words in question.choices if value == before), ""),
            answers=answers,
            wrong=wrong,
        )

    def _photographs(self, request: Request, enquiry: Enquiry, wrong: PageError | None = None) -> Response:
        some = of_this_round(self._shelf, enquiry)
        folder = self._shelf.folder(enquiry)
        seen = {photograph.number for photograph in some if small_of(folder / photograph.file).exists()}
        return self._show(
            request, enquiry, "customer/photographs.html", 400 if wrong else 200, photographs=some, seen=seen, wrong=wrong,
            more=len(some) < MOST_OF_ONE_ROUND, piece=PIECE_BYTES, most_bytes=PHOTO_BYTES,
            questions=in_words(enquiry),
        )  # fmt: skip

    def _arrived(self, request: Request, enquiry: Enquiry, photograph: Photograph) -> Response:
        self._work.look_soon(enquiry, photograph)
        return self._to(request, f"photograph-{photograph.number}")

    def _figure(self, enquiry: Enquiry) -> dict[str, Any]:
        """The height in plain words, where the dealer wants the customer to see it."""
        if not enquiry.about.shows_figure:
            return {"waiting": False, "page": None}
        found = result_of(self._shelf, enquiry)
        case = None if found is None or found[1] < (enquiry.sent or 0.0) else self._cases.get(found[0])
        if case is None or case.measured is None:
            return {"waiting": enquiry.key not in self._work.failed, "page": None}
        record = case.measured.record
        page, figure = result_page(record), words.figure(record)
        if figure is None:
            return {"waiting": False, "page": None}
        verdict = {"no-band": "", "disagree": DISAGREE}.get(page.look, words.TITLES[record.verdict])
        return {
            "waiting": False, "page": page, "spread": f"{figures(figure.spread.lstrip(_EVEN))} mm", "verdict": verdict,
            "sure": page.sure or page.look not in ("within", "above", "below"),
        }  # fmt: skip

    def _name(self, enquiry: Enquiry) -> str:
        """Who answers, as the customer reads it."""
        return ", ".join(part for part in (enquiry.about.by, self._shelf.settings().name) if part)

    def _show(self, request: Request, enquiry: Enquiry, template: str, status: int = 200, **values: object) -> Response:
        settings = self._shelf.settings()
        values = {"messages": messages_of(self._shelf, enquiry.key), "longest_message": LONGEST, **values}
        return self._pages.show(
            template, status, base=f"/{PLACE}/{request.path_params['secret']}", enquiry=enquiry, about=enquiry.about,
            business=settings.name, keep_days=settings.keep_days, who=enquiry.about.by or settings.name or say("Whoever sent you the link"), **values,
        )  # fmt: skip

    def _to(self, request: Request, where: str) -> Response:
        return RedirectResponse(f"/{PLACE}/{request.path_params['secret']}/{where}", SEE_OTHER)


def _told(now: Arriving | Photograph | None) -> Response:
    if now is None:
        raise no_link()
    if isinstance(now, Photograph):
        return JSONResponse({"photograph": now.number})
    return JSONResponse({"key": now.key, "offset": now.offset})
