"""The dealer's side: the list, a case for each customer, its link, and what is done with what came back."""

from __future__ import annotations

import hashlib
import re
import secrets
import time
from collections.abc import Awaitable, Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote, unquote

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from calib.outcome.errors import InputError
from calib.words.language import LANGUAGES, NAMES, chosen
from calib.words.said import said, say
from photomeasure.record.schema import Record
from photomeasure.web.bench import Bench
from photomeasure.web.cases import Case, Cases
from photomeasure.web.downloads import as_file
from photomeasure.web.enquiries.about_from import about_from
from photomeasure.web.enquiries.asked import in_words
from photomeasure.web.enquiries.asks import asks_of
from photomeasure.web.enquiries.enquiry import About, Enquiry, Photograph
from photomeasure.web.enquiries.export import export
from photomeasure.web.enquiries.links import Link, qr_svg
from photomeasure.web.enquiries.listed import LOOKS, PAGE, STATES, filter_from, row_of, rows_of, table
from photomeasure.web.enquiries.messages import LONGEST, keep_message, messages_of, text_from
from photomeasure.web.enquiries.photographs import photographs_of
from photomeasure.web.enquiries.plan import FIELDS, plan_of, proposed, typed_from
from photomeasure.web.enquiries.settings import settings_from
from photomeasure.web.enquiries.work import Work, result_of, small_of
from photomeasure.web.entry import form_of
from photomeasure.web.guards import CUSTOMERS as PLACE
from photomeasure.web.kit import kit_pdf
from photomeasure.web.page import result_page, rule_choices
from photomeasure.web.problems import not_here
from photomeasure.web.render import Pages
from photomeasure.web.short import said_short
from photomeasure.web.store import Store
from photomeasure.web.when import day

SEE_OTHER = 303


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shown:
    """What the case's page needs of its link."""

    url: str | None  # as long as it is known: the store has only its digest
    square: str | None
    link: Link | None
    is_open: bool
    until: str
    here_only: bool


class Dealer:
    """One method an address, all of them under the token."""

    def __init__(
        self, store: Store, cases: Cases, bench: Bench, work: Work, pages: Pages, base: str, origins: Sequence[str] = ()
    ) -> None:
        self._store, self._shelf, self._cases, self._bench, self._work = store, store.shelf, cases, bench, work
        self._pages, self._base, self._origins = pages, base, tuple(origins)
        self._started = secrets.token_hex(8)
        self._secrets: dict[str, str] = {}  # of links that were made since the start, by enquiry: to be shown again

    def table(self) -> list[Route]:
        def post(path: str, what: Callable[[Request], Awaitable[Response]]) -> Route:
            return Route(path, what, methods=["POST"])

        return [
            Route("/cases/", self.list),
            post("/cases/", self.make),
            Route("/cases/new", self.new),
            Route("/cases/list.csv", self.csv),
            Route("/cases/settings", self.settings),
            post("/cases/settings", self.set),
            Route("/cases/{key}/", self.case),
            Route("/cases/{key}/edit", self.edit),
            post("/cases/{key}/edit", self.change),
            post("/cases/{key}/link", self.link),
            post("/cases/{key}/withdraw", self.withdraw),
            post("/cases/{key}/ask", self.ask),
            post("/cases/{key}/message", self.message),
            post("/cases/{key}/measure", self.measure),
            post("/cases/{key}/close", self.close),
            Route("/cases/{key}/delete", self.sure),
            post("/cases/{key}/delete", self.delete),
            Route("/cases/{key}/export.zip", self.export),
            Route("/cases/{key}/case.pdf", self.pdf),
            Route("/cases/{key}/kit.pdf", self.kit),
            Route("/cases/{key}/plan", self.plan),
            post("/cases/{key}/plan", self.planned),
            Route("/cases/{key}/photograph-{number:int}.jpg", self.small),
            Route("/cases/{key}/original-{number:int}", self.original),
            Route("/rig/{key}/case", self.case_of_rig),
            Route("/rig/{key}/delete", self.sure_of_rig),
            post("/rig/{key}/delete", self.delete_rig),
        ]

    # -- the list ------------------------------------------------------------------------------------------------------

    async def list(self, request: Request) -> Response:
        """The list; where nothing has changed since, that alone (RFC 9110, 13.1.2), without building it."""
        tag = self._state()
        if request.headers.get("if-none-match") == tag:
            return Response(status_code=304, headers={"etag": tag})
        wanted = filter_from(request.query_params)
        every = await self._bench.aside(self._rows)
        rows = [row for row in every if wanted.holds(row)]
        first = _number(request.query_params.get("from"))
        answer = self._pages.show(
            "desk/list.html", rows=rows[first : first + PAGE], found=len(rows), all=len(every), first=first, page=PAGE,
            wanted=wanted, states=STATES, looks=LOOKS, new=sum(row.is_new for row in every), name=self._shelf.settings().name,
            query=request.url.query, tag=tag,
        )  # fmt: skip
        answer.headers["etag"] = tag
        return answer

    def _state(self) -> str:
        """Of everything that the list shows; another one after each start."""
        work = self._work
        now = (self._started, self._store.changes.number(), sorted(work.measuring()), sorted(work.failed), chosen())
        return f'"{hashlib.sha256(repr(now).encode()).hexdigest()[:24]}"'

    async def csv(self, request: Request) -> Response:
        wanted = filter_from(request.query_params)
        rows = [row for row in await self._bench.aside(self._rows) if wanted.holds(row)]
        headers = {"content-disposition": 'attachment; filename="cases.csv"'}
        return Response("\ufeff" + table(rows), media_type="text/csv; charset=utf-8", headers=headers)

    def _rows(self) -> Any:
        return rows_of(self._store, self._work.measuring(), self._work.failed.keys())

    # -- a case --------------------------------------------------------------------------------------------------------

    async def new(self, request: Request) -> Response:
        usual = About(rig="", customer="", by=unquote(request.cookies.get("photomeasure-by", ""))[:80])
        return self._form(usual, {})

    async def make(self, request: Request) -> Response:
        about, wrong = about_from(await form_of(request), self._prints())
        if wrong:
            return self._form(about, wrong)
        enquiry = await self._bench.aside(lambda: self._shelf.make(about))
        self._secrets[enquiry.key] = self._shelf.new_link(enquiry.key, self._shelf.settings().link_days)
        answer = self._to(enquiry)
        answer.set_cookie(
            "photomeasure-by", quote(about.by), max_age=365 * 86400, path=self._base, httponly=True, samesite="strict"
        )
        return answer

    async def edit(self, request: Request) -> Response:
        enquiry = self._enquiry(request)
        return self._form(enquiry.about, {}, enquiry)

    async def change(self, request: Request) -> Response:
        enquiry = self._enquiry(request)
        about, wrong = about_from(await form_of(request), self._prints())
        if wrong:
            return self._form(about, wrong, enquiry)
        self._shelf.change(enquiry.key, about)
        return self._to(enquiry)

    async def case(self, request: Request) -> Response:
        return await self._page(request, self._enquiry(request))

    async def _page(self, request: Request, enquiry: Enquiry, wrong: str = "") -> Response:
        was_new = enquiry.is_new
        if request.headers.get("sec-fetch-mode", "navigate") == "navigate":  # a page that waits asks by itself
            self._shelf.stamp(enquiry.key, "seen")
        photographs = photographs_of(self._shelf, enquiry)
        folder = self._shelf.folder(enquiry)
        found = result_of(self._shelf, enquiry)
        case = None if found is None else self._cases.get(found[0])
        record = None if case is None or case.measured is None else case.measured.record
        if self._shelf.get(enquiry.key) is None:  # deleted in another window
            raise not_here()
        work = self._work
        row = await self._bench.aside(lambda: row_of(self._store, enquiry, work.measuring(), work.failed.keys()))
        return self._pages.show(
            "desk/case.html", 400 if wrong else 200, enquiry=enquiry, about=enquiry.about, row=row, was_new=was_new,
            photographs=photographs, seen={p.number for p in photographs if small_of(folder / p.file).exists()},
            measured=_measured(case, photographs), case=case, page=None if record is None else result_page(record),
            link=self._link(request, enquiry), asks=asks_of(() if record is None else record.coach), answers=in_words(enquiry), wrong=wrong,
            failed=self._work.failed.get(enquiry.key), longest_ask=LONGEST,
            messages=messages_of(self._shelf, enquiry.key), longest_message=LONGEST,
        )  # fmt: skip

    async def link(self, request: Request) -> Response:
        enquiry = self._enquiry(request)
        await form_of(request)
        self._secrets[enquiry.key] = self._shelf.new_link(enquiry.key, self._shelf.settings().link_days)
        return self._to(enquiry)

    async def withdraw(self, request: Request) -> Response:
        enquiry = self._enquiry(request)
        await form_of(request)
        self._shelf.withdraw(enquiry.key)
        self._secrets.pop(enquiry.key, None)
        return self._to(enquiry)

    async def ask(self, request: Request) -> Response:
        """Ask the customer for another photograph, by the same link, as long as that is open."""
        enquiry, form = self._enquiry(request), await form_of(request)
        typed = [form.get(name) for name in ("own", "sentence")]
        sentence = next((" ".join(text.split()) for text in typed if isinstance(text, str) and text.strip()), "")
        if not sentence:
            return await self._page(request, enquiry, said("Choose a sentence, or write one."))
        found = result_of(self._shelf, enquiry)
        case = None if found is None else self._cases.get(found[0])
        known = asks_of(() if case is None or case.measured is None else case.measured.record.coach)
        self._shelf.ask(enquiry.key, next((one for one in known if one == sentence), sentence[:LONGEST]))
        link = self._shelf.link_of(enquiry.key)
        if link is None or not link.is_open(time.time()):
            self._secrets[enquiry.key] = self._shelf.new_link(enquiry.key, self._shelf.settings().link_days)
        return self._to(enquiry, "#link")

    async def message(self, request: Request) -> Response:
        """A line that the customer reads at the link."""
        enquiry, form = self._enquiry(request), await form_of(request)
        text = text_from(form)
        if text:
            await self._bench.aside(lambda: keep_message(self._shelf, enquiry.key, text, by_customer=False))
        return self._to(enquiry, "#messages")

    async def measure(self, request: Request) -> Response:
        """With the photographs that are ticked."""
        enquiry, form = self._enquiry(request), await form_of(request)
        ticked = {value for value in form.getlist("photograph") if isinstance(value, str)}
        some = tuple(p for p in photographs_of(self._shelf, enquiry) if str(p.number) in ticked)
        if not some:
            return await self._page(request, enquiry, said("Tick the photographs to measure with."))
        self._work.measure_soon(enquiry, some)
        return self._to(enquiry)

    async def close(self, request: Request) -> Response:
        enquiry, form = self._enquiry(request), await form_of(request)
        if "again" in form:
            self._shelf.open_again(enquiry.key)
        else:
            self._shelf.stamp(enquiry.key, "closed")
        return self._to(enquiry)

    async def case_of_rig(self, request: Request) -> Response:
        """From a result to the case whose photographs it is of."""
        case = self._cases.get(request.path_params["key"])
        enquiry = None if case is None else self._shelf.by_folder(case.folder.name)
        if enquiry is None:
            raise not_here()
        return self._to(enquiry)

    # -- deleted -------------------------------------------------------------------------------------------------------

    async def sure(self, request: Request) -> Response:
        enquiry = self._enquiry(request)
        count = len(photographs_of(self._shelf, enquiry))
        return self._sure(f"cases/{enquiry.key}/", enquiry.about.rig, enquiry.about.customer, count)

    async def delete(self, request: Request) -> Response:
        enquiry = self._enquiry(request)
        await form_of(request)
        await self._work.stop(enquiry)
        return await self._deleted(enquiry.folder)

    async def sure_of_rig(self, request: Request) -> Response:
        """The same for what was measured here, without a customer."""
        case = self._own(request)
        return self._sure(f"rig/{case.key}/", case.answers.rig or say("this rig"), "", len(case.uploads))

    async def delete_rig(self, request: Request) -> Response:
        case = self._own(request)
        await form_of(request)
        return await self._deleted(case.folder.name)

    async def _deleted(self, folder: str) -> Response:
        forgotten = self._cases.forget(folder)
        await self._bench.aside(lambda: self._store.keeping.delete(folder))
        for case in forgotten:
            async with case.keeping:  # what is being kept of it this moment takes itself back
                pass
        return RedirectResponse(f"{self._base}/cases/", SEE_OTHER)

    def _sure(self, place: str, rig: str, who: str, photographs: int) -> Response:
        return self._pages.show("desk/delete.html", place=place, rig=rig, who=who, photographs=photographs)

    # -- files ---------------------------------------------------------------------------------------------------------

    async def export(self, request: Request) -> Response:
        enquiry = self._enquiry(request)
        data = await self._bench.aside(lambda: export(self._store, enquiry))
        return as_file(data, "application/zip", f"{enquiry.about.rig}.zip")

    async def pdf(self, request: Request) -> Response:
        """One PDF of the case, in the dealer's name."""
        from photomeasure.shown.report.case import CaseRig, case_pdf

        enquiry = self._enquiry(request)
        found = result_of(self._shelf, enquiry)
        case = None if found is None else self._cases.get(found[0])
        if case is None or case.measured is None:
            raise not_here()
        measured, name, drawn = case.measured, self._shelf.settings().name, await self._bench.pictures(case)
        rig = CaseRig(record=measured.record, file=f"{enquiry.about.rig}.json", pictures=drawn)
        title = ": ".join(part for part in (name, enquiry.about.rig) if part)
        data = await self._bench.in_line(lambda: case_pdf([rig], title))
        return as_file(data, "application/pdf", f"{enquiry.about.rig}.pdf")

    async def plan(self, request: Request) -> Response:
        enquiry, record = self._measured_record(request)
        return self._plan(enquiry, record, proposed(record), {})

    async def planned(self, request: Request) -> Response:
        """The plan as a PDF, or the form again with what is wrong in it."""
        enquiry, record = self._measured_record(request)
        typed = typed_from(await form_of(request))
        data, wrong = await self._bench.in_line(lambda: plan_of(record, enquiry.about.rig, typed))
        if data is None:
            return self._plan(enquiry, record, typed, wrong)
        return as_file(data, "application/pdf", f"{enquiry.about.rig}-plan.pdf")

    def _plan(
        self, enquiry: Enquiry, record: Record, typed: Mapping[str, str], wrong: Mapping[str, InputError]
    ) -> Response:
        return self._pages.show(
            "desk/plan.html", 400 if wrong else 200, enquiry=enquiry, about=enquiry.about, typed=typed, wrong=wrong,
            fields_of=FIELDS, said=said_short(record),
        )  # fmt: skip

    def _measured_record(self, request: Request) -> tuple[Enquiry, Record]:
        enquiry = self._enquiry(request)
        found = result_of(self._shelf, enquiry)
        case = None if found is None else self._cases.get(found[0])
        if case is None or case.measured is None or case.measured.record.height_mm is None:
            raise not_here()
        return enquiry, case.measured.record

    async def kit(self, request: Request) -> Response:
        about, name = self._enquiry(request).about, self._shelf.settings().name
        language = about.language or chosen()
        return await kit_pdf(
            about.paper,
            "\n".join(part for part in (name, about.by) if part) or None,
            next(one for one in LANGUAGES if one == language),
        )

    async def small(self, request: Request) -> Response:
        enquiry, photograph = self._photograph(request)
        path = small_of(self._shelf.folder(enquiry) / photograph.file)
        if not path.exists():
            raise not_here()
        return Response(path.read_bytes(), media_type="image/jpeg", headers={"cache-control": "private, max-age=3600"})

    async def original(self, request: Request) -> Response:
        enquiry, photograph = self._photograph(request)
        data = await self._bench.aside((self._shelf.folder(enquiry) / photograph.file).read_bytes)
        return as_file(data, "application/octet-stream", photograph.name)

    # -- settings ------------------------------------------------------------------------------------------------------

    async def settings(self, request: Request) -> Response:
        return self._pages.show("desk/settings.html", typed=_typed(self._shelf.settings()), wrong={})

    async def set(self, request: Request) -> Response:
        form = await form_of(request)
        settings, wrong = settings_from(form)
        if wrong:
            typed = {name: form.get(name, "") for name in ("name", "keep_days", "link_days")}
            return self._pages.show("desk/settings.html", 400, typed=typed, wrong=wrong)
        self._shelf.set(settings)
        return RedirectResponse(f"{self._base}/cases/", SEE_OTHER)

    # -- what the others need ------------------------------------------------------------------------------------------

    def _enquiry(self, request: Request) -> Enquiry:
        enquiry = self._shelf.get(request.path_params["key"])
        if enquiry is None:
            raise not_here()
        return enquiry

    def _own(self, request: Request) -> Case:
        case = self._cases.get(request.path_params["key"])
        if case is None or self._shelf.by_folder(case.folder.name) is not None:
            raise not_here()
        return case

    def _photograph(self, request: Request) -> tuple[Enquiry, Photograph]:
        enquiry, number = self._enquiry(request), request.path_params["number"]
        found = next((p for p in photographs_of(self._shelf, enquiry) if p.number == number), None)
        if found is None:
            raise not_here()
        return enquiry, found

    def _form(self, about: About, wrong: Mapping[str, InputError], enquiry: Enquiry | None = None) -> Response:
        return self._pages.show(
            "desk/new.html", 400 if wrong else 200, about=about, wrong=wrong, enquiry=enquiry, rules=rule_choices(),
            days=self._shelf.settings().link_days, name=self._shelf.settings().name,
            languages=NAMES, prints=self._prints(),
        )  # fmt: skip

    def _prints(self) -> tuple[str, ...]:
        """Numbers of the prints whose bars are both remembered."""
        known = self._store.remembered.prints()
        return tuple(f"{one.number:06d}" for one in known if one.bars.x_mm is not None and one.bars.y_mm is not None)

    def _link(self, request: Request, enquiry: Enquiry) -> _Shown:
        link, secret = self._shelf.link_of(enquiry.key), self._secrets.get(enquiry.key)
        is_open = link is not None and link.is_open(time.time())
        origin = self._origins[0] if self._origins else f"{request.url.scheme}://{request.headers.get('host', '')}"
        url = f"{origin}/{PLACE}/{secret}/" if secret is not None and is_open else None
        return _Shown(
            url=url,
            square=None if url is None else qr_svg(url),
            link=link,
            is_open=is_open,
            until="" if link is None else day(link.until),
            here_only=re.match(r"http://(127\.|localhost|\[::1\])", origin) is not None,
        )

    def _to(self, enquiry: Enquiry, where: str = "") -> Response:
        return RedirectResponse(f"{self._base}/cases/{enquiry.key}/{where}", SEE_OTHER)


def _measured(case: Case | None, photographs: Sequence[Photograph]) -> set[int]:
    """Numbers of the photographs that the shown result is of."""
    if case is None:
        return {photograph.number for photograph in photographs if photograph.usable}
    used = {upload.sha256 for upload in case.uploads}
    return {photograph.number for photograph in photographs if photograph.sha256 in used}


def _number(text: str | None) -> int:
    return int(text) if text is not None and text.isdecimal() and len(text) < 7 else 0


def _typed(settings: Any) -> dict[str, str]:
    return {name: str(getattr(settings, name)) for name in ("name", "keep_days", "link_days")}
