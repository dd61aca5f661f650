"""The page's addresses and what each does. All of them stand under the token; every POST ends in a redirect."""

from __future__ import annotations

from collections.abc import AsyncIterator, Awaitable, Callable, Mapping, Sequence
from contextlib import AsyncExitStack, asynccontextmanager
from dataclasses import replace
from pathlib import Path
from typing import BinaryIO
from urllib.parse import urlsplit

from starlette.applications import Starlette
from starlette.datastructures import FormData, UploadFile
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import BaseRoute, Mount, Route

from calib.outcome.errors import InputError
from calib.outcome.refusal import Refusal
from calib.words.language import chosen
from calib.words.said import said, shown
from photomeasure.asked.request import PICK_SIGMA_PX
from photomeasure.record.with_tape import with_tape
from photomeasure.web.answers import Answers, Centre, answers_from, centres_from, checked, pick_u_from, tape_from
from photomeasure.web.bench import Bench
from photomeasure.web.cases import Case, Cases
from photomeasure.web.downloads import download
from photomeasure.web.enquiries.door import FrontDoor
from photomeasure.web.enquiries.known import UPLOAD
from photomeasure.web.entry import check_csrf, form_of
from photomeasure.web.entry.limits import Limits
from photomeasure.web.entry.password import Password
from photomeasure.web.entry.sign_in import SignIn
from photomeasure.web.guards import BOARD_BYTES, MOST_PHOTOS, PHOTO_BYTES, UPLOAD_BYTES, Guard
from photomeasure.web.health import health_route
from photomeasure.web.kit import kit_pdf
from photomeasure.web.languages import Speaking
from photomeasure.web.last_time import forget, remember, remembered
from photomeasure.web.live.routes import Live
from photomeasure.web.log import what_went_wrong
from photomeasure.web.page import result_page
from photomeasure.web.problems import PageError, no_longer, not_here, of_the_disk, too_large
from photomeasure.web.render import Pages
from photomeasure.web.scheme import LIGHT, keep, wish_from
from photomeasure.web.sides.coupled import CoupledRoutes, from_earlier
from photomeasure.web.sides.level import LevelRoutes, level_page
from photomeasure.web.static_files import Static
from photomeasure.web.telling import Teller

_FOLDER = Path(__file__).parent
_SEE_OTHER = 303
MOST_SENT = 12  # files that are read at all, to say that they are too many


def page_app(
    token: str,
    hosts: Sequence[str],
    *,
    cases: Cases | None = None,
    upload_bytes: int = UPLOAD_BYTES,
    origins: Sequence[str] = (),
    password: Password | None = None,
    limits: Limits | None = None,
    told_apart: bool = True,
    tell: str | None = None,
) -> Starlette:
    """The application. token: the first part of every address of the dealer's; hosts: names and addresses that it answers to;
    origins: where a proxy shows it, so that its own forms come from there; password: asked for before anything under the
    token is shown; told_apart: whether requests come from people's own addresses, and not all from a proxy's; tell: an address that is
    told when something of a customer came."""
    routes = _Routes(token, Cases() if cases is None else cases, origins, Teller(tell))
    uploads = {f"/{token}/measure": upload_bytes, f"/{token}/{UPLOAD}": BOARD_BYTES}
    limits = limits or Limits()
    sign_in = None
    if password is not None:
        https = next((origin.removeprefix("https://") for origin in origins if origin.startswith("https:")), None)
        sign_in = SignIn(password, home=f"/{token}/", show=routes.pages.sign_in, tries=limits.sign_in, https_host=https)
    guard = Middleware(
        Guard,
        token=token,
        hosts=hosts,
        uploads=uploads,
        turn_away=routes.pages.stranger,
        respond=routes.pages.problem,
        origins=origins,
        sign_in=sign_in,
        limits=limits,
        told_apart=told_apart,
    )
    return Starlette(
        routes=[
            health_route(routes.root, routes.waiting, None if routes.store is None else routes.store.database),
            Mount(f"/{token}", routes=routes.table()),
            *routes.outside(),
            *([] if sign_in is None else sign_in.table()),
        ],
        middleware=[Middleware(Speaking), guard],
        exception_handlers={InputError: routes.explained, HTTPException: routes.explained},
        lifespan=routes.lifespan,
    )


class _Routes:
    """One method an address."""

    def __init__(self, token: str, cases: Cases, origins: Sequence[str], teller: Teller) -> None:
        self._base = f"/{token}"
        self._cases = cases
        self.store = store = cases.store
        self._bench = Bench(None if store is None else store.remembered, cases.save)
        self.pages = Pages(self._base, desk=store is not None)
        self._level = LevelRoutes(self._base, cases, self._bench, self.pages)
        self._coupled = CoupledRoutes(self._base, cases, self.pages)
        self._door = (
            None if store is None else FrontDoor(store, cases, self._bench, self.pages, self._base, origins, teller)
        )

    @property
    def root(self) -> Path:
        return self._cases.root

    def waiting(self) -> int:
        """Measurements that wait in line."""
        return self._bench.waiting

    def table(self) -> list[Route | Mount]:
        def post(path: str, what: Callable[[Request], Awaitable[Response]]) -> Route:
            return Route(path, what, methods=["POST"])

        return [
            Route("/", self.start),
            post("/measure", self.upload),
            Route("/kit-{paper}.pdf", self.kit),
            Route("/guide/{name}", self.guide),
            Route("/look.css", self.pages.look),
            Route("/manifest.webmanifest", self.manifest),
            post("/look", self.look),
            Route("/look", self.back),
            Mount("/static", Static(directory=_FOLDER / "static")),
            Route("/rig/{key}/", self.result),
            Route("/rig/{key}/answers", self.answers),
            *self._level.table(),
            *self._coupled.table(),
            Route("/rig/{key}/mark", self.mark),
            post("/rig/{key}/measure", self.again),
            post("/rig/{key}/tape", self.tape),
            Route("/rig/{key}/ask-{number:int}.jpg", self.asked),
            Route("/rig/{key}/preview-{photo:int}.jpg", self.preview),
            Route("/rig/{key}/tile-{photo:int}-{row:int}-{column:int}.jpg", self.tile),
            # pages that answered a slip stand at these; loaded again, they lead back
            Route("/measure", self.back),
            Route("/rig/{key}/measure", self.back),
            Route("/rig/{key}/tape", self.back),
            *([] if self._door is None else self._door.inside()),
            *Live(self._bench, self._case).table(),
            Route("/rig/{key}/{what}", self.file),
        ]

    def outside(self) -> list[BaseRoute]:
        """What stands beside the token."""
        return [] if self._door is None else self._door.outside()

    @asynccontextmanager
    async def lifespan(self, app: Starlette) -> AsyncIterator[None]:
        try:
            async with AsyncExitStack() as stack:
                if self._door is not None:
                    await stack.enter_async_context(self._door.open())
                yield
        finally:
            await self._bench.close()
            self._cases.close()

    # -- errors ----------------------------------------------------------------------------------------------------

    async def explained(self, request: Request, error: Exception) -> Response:
        """Wrong input, and what Starlette itself answers with a bare status, as a page: outside of the token one that tells
        nothing of what is inside."""
        inside = request.url.path.startswith(f"{self._base}/")
        answer = self.pages.problem if inside else self.pages.stranger
        if isinstance(error, PageError):
            return answer(error)
        if isinstance(error, InputError):
            lost = of_the_disk(error)
            if lost is not None:
                what_went_wrong(error)
                return answer(lost)
            return answer(PageError(400, error.what, expected=error.expected, remedy=error.remedy))
        status = error.status_code if isinstance(error, HTTPException) else 400
        if status == 404:
            return answer(not_here())
        what = (
            said("There is no such action here.")
            if status == 405
            else said("What was sent cannot be read as this page's form.")
        )
        problem = PageError(
            status,
            what,
            expected=said("the form as the page sends it"),
            remedy=said("go back to the page and send it again"),
        )
        return answer(problem)

    # -- pages -----------------------------------------------------------------------------------------------------

    async def start(self, request: Request) -> Response:
        if "afresh" in request.query_params:
            response = RedirectResponse(f"{self._base}/", _SEE_OTHER)
            forget(response)
            return response
        answers = remembered(request)
        return self.pages.start(answers, as_last_time=answers != Answers())

    async def result(self, request: Request) -> Response:
        case = self._case(request)
        if case.measured is None:
            return RedirectResponse(self._at(case, "answers"), _SEE_OTHER)
        page = result_page(case.measured.record)
        return self.pages.result(case, page, said_no=_said_no(request))

    async def answers(self, request: Request) -> Response:
        return self.pages.start(self._case(request).all_answers, self._case(request))

    async def mark(self, request: Request) -> Response:
        case = self._case(request)
        return self.pages.mark(case, await self._views(case))

    async def look(self, request: Request) -> Response:
        """How this browser wants the page; it is shown again where the wish came from."""
        chosen = wish_from(await form_of(request))
        came_from = urlsplit(request.headers.get("referer", "")).path
        inside = came_from.startswith(f"{self._base}/") and "//" not in came_from and "\\" not in came_from
        response = RedirectResponse(came_from if inside else f"{self._base}/", _SEE_OTHER)
        keep(response, chosen, secure=request.url.scheme == "https")
        return response

    async def back(self, request: Request) -> Response:
        key = request.path_params.get("key")
        return RedirectResponse(f"{self._base}/" if key is None else self._at(self._case(request)), _SEE_OTHER)

    async def guide(self, request: Request) -> Response:
        try:
            return self.pages.guide(request.path_params["name"])
        except InputError as error:
            raise not_here() from error

    async def manifest(self, request: Request) -> Response:
        """With it a phone puts the page among its programs (W3C Web Application Manifest); it opens with the form."""
        told = {
            "name": "photomeasure",
            "short_name": "photomeasure",
            "start_url": f"{self._base}/",
            "scope": f"{self._base}/",
            "display": "standalone",
            "background_color": LIGHT["shade"],
            "theme_color": LIGHT["edge"],
            "icons": [{"src": f"{self._base}/static/icon.svg", "sizes": "any", "type": "image/svg+xml"}],
        }
        return JSONResponse(told, media_type="application/manifest+json")

    async def kit(self, request: Request) -> Response:
        return await kit_pdf(request.path_params["paper"], None, chosen())

    # -- measuring -------------------------------------------------------------------------------------------------

    async def upload(self, request: Request) -> Response:
        """Photographs and answers: kept, then measured, or marked first where that was asked for."""
        if not request.headers.get("content-type", "").startswith("multipart/form-data"):
            raise HTTPException(415)
        async with request.form(max_files=MOST_SENT, max_fields=40, max_part_size=10_000) as form:
            answers, mark_first = answers_from(form), "mark" in form
            check_csrf(form)
            earlier = from_earlier(form, self._cases)
            if earlier is not None:
                answers = earlier.answers
            try:
                photographs = _photographs(form)
            except PageError as error:  # what was typed is kept
                return self.pages.start(answers, None, {"photos": error}, error.status)
            case, twice = await self._bench.aside(lambda: self._cases.keep(photographs, answers))
        if "level" in form:
            return RedirectResponse(self._at(case, level_page(form)), _SEE_OTHER)
        if earlier is not None:
            case.carried = earlier.carried
        if twice:
            return self.pages.start(answers, case, {"photos": _left_out(twice), **checked(answers)[1]})
        return await self._measured(case, answers, (), PICK_SIGMA_PX, mark_first=mark_first)

    async def again(self, request: Request) -> Response:
        """The same photographs once more, with other answers or with marks."""
        case, form = self._case(request), await form_of(request)
        answers = answers_from(form) if "coupling" in form else case.all_answers
        centres, pick_u_px = case.centres, case.pick_u_px
        if "marks" in form:
            centres, mistaken = centres_from(form, len(case.uploads))
            if mistaken:
                return self.pages.mark(case, await self._views(case), form, mistaken)
            pick_u_px = pick_u_from(form, len(case.uploads))
        return await self._measured(case, answers, centres, pick_u_px, mark_first="mark" in form)

    async def _measured(
        self, case: Case, answers: Answers, centres: tuple[Centre, ...], pick_u_px: float, *, mark_first: bool
    ) -> Response:
        if not case.uploads:
            raise no_longer()
        asked, wrong = checked(answers)
        if asked is None:
            return self.pages.start(answers, case, wrong)
        asked = replace(asked, carried=case.carried)
        if not mark_first:
            case = self._cases.beside(case, self._bench.doing(asked, centres, pick_u_px))
        elif answers != case.answers:
            case = self._cases.beside(case, None)
        if answers != case.answers:
            case.answers, case.standing = answers, None
        if not mark_first:
            case.pick_u_px = pick_u_px
            await self._bench.measure(case, asked, centres)
            await self._kept(case)
        response = RedirectResponse(self._at(case, "mark" if mark_first else ""), _SEE_OTHER)
        remember(response, answers)
        return response

    async def tape(self, request: Request) -> Response:
        """A tape's reading for a result that is there: compared, and kept in its record."""
        case, form = self._case(request), await form_of(request)
        reading, wrong = tape_from(form)
        if wrong and case.measured is not None:
            page = result_page(case.measured.record)
            return self.pages.result(case, page, answers_from(form), wrong)
        if reading is not None and case.measured is not None:
            await self._bench.replace_record(case, with_tape(case.measured.record, reading))
            typed = answers_from(form)
            case.taped = {name: getattr(typed, name) for name in ("tape", "tape_class", "tape_to", "tape_flat")}
            await self._kept(case)
        return RedirectResponse(self._at(case) + "#tape", _SEE_OTHER)

    # -- files -----------------------------------------------------------------------------------------------------

    async def asked(self, request: Request) -> Response:
        """What could be the ball, with a ring on it."""
        case, number = self._case(request), request.path_params["number"]
        asks = () if case.measured is None else case.measured.asks
        if not 1 <= number <= len(asks):
            raise not_here()
        return Response(asks[number - 1].picture, media_type="image/jpeg")

    async def preview(self, request: Request) -> Response:
        return await self._picture(request, None)

    async def tile(self, request: Request) -> Response:
        return await self._picture(request, (request.path_params["row"], request.path_params["column"]))

    async def _picture(self, request: Request, tile: tuple[int, int] | None) -> Response:
        case, number = self._case(request), request.path_params["photo"]
        if not 1 <= number <= len(case.uploads):
            raise not_here()
        preview = await self._bench.preview(case, number)
        path = None if isinstance(preview, Refusal) else preview.whole if tile is None else preview.tile(*tile)
        if path is None:
            raise not_here()
        return Response(path.read_bytes(), media_type="image/jpeg", headers={"cache-control": "private, max-age=3600"})

    async def file(self, request: Request) -> Response:
        """Annotated pictures, the record, the report."""
        case = self._case(request)
        if case.measured is None:
            raise not_here()
        return await download(self._bench, case, case.measured, request.path_params["what"])

    # -- what the others need --------------------------------------------------------------------------------------

    def _case(self, request: Request) -> Case:
        case = self._cases.get(request.path_params["key"])
        if case is None:
            raise not_here()
        return case

    def _at(self, case: Case, page: str = "") -> str:
        return f"{self._base}/rig/{case.key}/{page}"

    async def _kept(self, case: Case) -> None:
        """Kept for good. Raises PageError, which leads to what was measured all the same."""
        try:
            await self._bench.keep(case)
        except PageError as error:
            error.at = self._at(case)
            raise

    async def _views(self, case: Case) -> tuple[tuple[int, int] | str, ...]:
        """Of each photograph its size in pixels, or why it cannot be shown."""
        previews = [await self._bench.preview(case, number) for number in range(1, len(case.uploads) + 1)]
        return tuple(
            f"{shown(preview.reason)} {shown(preview.remedy)}" if isinstance(preview, Refusal) else preview.size_px
            for preview in previews
        )


def _said_no(request: Request) -> int:
    """How many of what could be the ball are not it."""
    typed = request.query_params.get("not", "")
    return int(typed) if typed.isdecimal() and len(typed) < 4 else 0


def _photographs(form: FormData) -> list[tuple[str, BinaryIO]]:
    """File names and contents; raises PageError for none, too many, or one too large."""
    parts = [part for part in form.getlist("photos") if isinstance(part, UploadFile)]
    photos = [part for part in parts if part.filename or part.size]
    if not photos:
        raise PageError(
            400, said("No photograph was chosen."), expected=said("one to three photographs of one rig"),
            remedy=said("take or choose them, and measure again"),
        )  # fmt: skip
    if len(photos) > MOST_PHOTOS:
        raise PageError(
            400, said("More than {most} photographs were chosen.", most=MOST_PHOTOS),
            expected=said("one to three photographs of one rig"),
            remedy=said("choose the best three: from left, middle and right"),
        )  # fmt: skip
    if any((photo.size or 0) > PHOTO_BYTES for photo in photos):
        raise too_large(PHOTO_BYTES)
    return [(photo.filename or "", photo.file) for photo in photos]


def _left_out(twice: Mapping[str, str]) -> InputError:
    """One photograph that was chosen more than once, by the person's own names."""
    name, first = next(iter(twice.items()))
    what = (
        said("{name} was chosen twice. It is kept once.", name=name)
        if name == first
        else said(
            "{name} and {first} are one photograph: their contents are the same. It is kept once.",
            name=name,
            first=first,
        )
    )
    return InputError(
        what,
        expected=said("each photograph once, for a second look at the same pixels tells nothing"),
        remedy=said("measure with what is kept, or start again with another one beside it"),
    )
