"""Prints and phones: what is remembered for every measurement of this page, listed, added, forgotten."""

from __future__ import annotations

import math
from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass

from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from calib.kit.number import MAX_NUMBER
from calib.outcome.errors import InputError
from calib.words.said import Digits, number, said, say
from photomeasure.asked.limits import BAR_MM
from photomeasure.asked.typed import number_typed
from photomeasure.uncertainty.printed import PLUS_MINUS
from photomeasure.web.bench import Bench
from photomeasure.web.downloads import as_file
from photomeasure.web.enquiries.calibrating import FEWEST, MOST, Calibrating, target_from
from photomeasure.web.entry import check_csrf, form_of
from photomeasure.web.guards import PHOTO_BYTES
from photomeasure.web.problems import not_here, too_large
from photomeasure.web.remembered import Phone, Remembered
from photomeasure.web.render import Pages

SEE_OTHER = 303
PLACE, UPLOAD = "remembered", "remembered/phone"
_PRINT = ("number", "bar_x", "bar_y")
_BOARD = ("board", "sheet_x", "sheet_y", "columns", "rows", "square")


@dataclass(frozen=True, slots=True, kw_only=True)
class _PhoneShown:
    """title: of the camera; figures: name and words, in the page's order."""

    name: str
    title: str
    figures: tuple[tuple[str, str], ...]
    doubts: tuple[str, ...]


class Known:
    """One method an address, all of them under the token."""

    def __init__(self, remembered: Remembered, calibrating: Calibrating, bench: Bench, pages: Pages, base: str) -> None:
        self._remembered, self._calibrating, self._bench = remembered, calibrating, bench
        self._pages, self._base = pages, base

    def table(self) -> list[Route]:
        def post(path: str, what: Callable[[Request], Awaitable[Response]]) -> Route:
            return Route(path, what, methods=["POST"])

        return [
            Route(f"/{PLACE}/", self.page),
            post(f"/{PLACE}/print", self.remember),
            post(f"/{PLACE}/print/{{number:int}}/forget", self.forget_print),
            post(f"/{UPLOAD}", self.calibrate),
            Route(f"/{PLACE}/phone/{{name}}.json", self.profile),
            post(f"/{PLACE}/phone/{{name}}/forget", self.forget_phone),
            # pages that answered a slip stand at these; loaded again, they lead back
            *(Route(path, self.back) for path in (f"/{PLACE}/print", f"/{UPLOAD}")),
        ]

    async def page(self, request: Request) -> Response:
        return await self._page({}, {})

    async def back(self, request: Request) -> Response:
        return self._to("")

    async def _page(self, typed: Mapping[str, str], wrong: Mapping[str, InputError]) -> Response:
        phones, prints = await self._bench.aside(lambda: (self._remembered.phones(), self._remembered.prints()))
        rows = [
            (kept.number, *(None if mm is None else number(mm, "g") for mm in (kept.bars.x_mm, kept.bars.y_mm)))
            for kept in prints
        ]
        blank = {name: "" for name in (*_PRINT, *_BOARD)}
        return self._pages.show(
            "desk/remembered.html", 400 if wrong else 200, prints=rows, phones=[shown_phone(phone) for phone in phones],
            typed={**blank, **typed}, wrong=wrong, under_way=self._calibrating.under_way, ended=self._calibrating.ended,
            open=not phones or bool(wrong.keys() & {"boards", *_BOARD}), most_photos=MOST,
        )  # fmt: skip

    # -- prints --------------------------------------------------------------------------------------------------------

    async def remember(self, request: Request) -> Response:
        typed = _typed(await form_of(request), _PRINT)
        wrong: dict[str, InputError] = {}
        print_number = _print_number(typed["number"])
        if print_number is None:
            wrong["number"] = InputError(
                said("That is no number of a print."),
                expected=said("the six figures on the upright sheet, beside its lower left code"),
                remedy=said("read them again; only a sheet that has them can be remembered"),
            )
        bars_mm: dict[str, float | None] = {}
        for field, name in (("bar_x", said("Bar X")), ("bar_y", said("Bar Y"))):
            try:
                bars_mm[field] = number_typed(typed[field], name, BAR_MM) if typed[field] else None
            except InputError as error:
                wrong[field] = error
        if not wrong and not any(bars_mm.values()):
            wrong["bar_x"] = InputError(
                said("Nothing was typed."),
                expected=said("what calipers or a ruler read on the bars, in mm"),
                remedy=said("measure both bars"),
            )
        if wrong or print_number is None:
            return await self._page(typed, wrong)
        await self._bench.aside(lambda: self._remembered.keep_print(print_number, bars_mm["bar_x"], bars_mm["bar_y"]))
        return self._to("#prints")

    async def forget_print(self, request: Request) -> Response:
        await form_of(request)
        self._remembered.forget_print(request.path_params["number"])
        return self._to("#prints")

    # -- phones --------------------------------------------------------------------------------------------------------

    async def calibrate(self, request: Request) -> Response:
        """Photographs of a board: kept until it has ended, which this page waits for."""
        if not request.headers.get("content-type", "").startswith("multipart/form-data"):
            raise HTTPException(415)
        async with request.form(max_files=MOST + 1, max_fields=20, max_part_size=10_000) as form:
            check_csrf(form)
            typed = _typed(form, _BOARD)
            target, wrong = target_from(typed)
            files = [part for part in form.getlist("boards") if isinstance(part, UploadFile) and part.size]
            if any((file.size or 0) > PHOTO_BYTES for file in files):
                raise too_large(PHOTO_BYTES)
            if self._calibrating.under_way:
                wrong["boards"] = _one_at_a_time()
            elif not FEWEST <= len(files) <= MOST:
                wrong["boards"] = InputError(
                    said("{count} photographs were chosen.", count=len(files)),
                    expected=said("{fewest} at least, ten are good, at most {most}", fewest=FEWEST, most=MOST),
                    remedy=said("choose them all at once, and send them again"),
                )
            if wrong:
                return await self._page(typed, wrong)
            kept = await self._bench.aside(
                lambda: self._calibrating.keep([(file.filename or "", file.file) for file in files])
            )
        if not self._calibrating.begin(kept, target):
            return await self._page(typed, {"boards": _one_at_a_time()})
        return self._to("#phones")

    async def profile(self, request: Request) -> Response:
        """The file, as `measure --camera` takes it."""
        phones = await self._bench.aside(self._remembered.phones)
        found = next((phone for phone in phones if phone.name == request.path_params["name"]), None)
        if found is None:
            raise not_here()
        data = found.profile.model_dump_json(by_alias=True, indent=1) + "\n"
        return as_file(data.encode(), "application/json", f"{found.name}.json")

    async def forget_phone(self, request: Request) -> Response:
        await form_of(request)
        self._remembered.forget_phone(request.path_params["name"])
        return self._to("#phones")

    def _to(self, where: str) -> Response:
        return RedirectResponse(f"{self._base}/{PLACE}/{where}", SEE_OTHER)


def shown_phone(phone: Phone) -> _PhoneShown:
    """A profile as a dealer reads it: of which camera, how well known, from what."""
    profile, camera = phone.profile, phone.profile.camera
    title = " ".join(part for part in (camera.make, camera.model) if part) or say("A camera that does not say its name")
    focal_px, u_px = profile.intrinsics[0], math.sqrt(max(profile.covariance[0][0], 0.0))
    share = Digits(f"{100 * u_px / focal_px:.2g}")
    focal = Digits(f"{focal_px:.1f} {PLUS_MINUS} {u_px:.1f}")
    figures = [(said("Focal length"), said("{focal} px, known to {share} %", focal=focal, share=share))]
    if profile.rms_px is not None:
        figures.append(
            (said("Corners miss by"), said("{px} px (root mean square)", px=Digits(f"{profile.rms_px:.2g}")))
        )
    if profile.holdout_px is not None:
        figures.append((said("In photographs left out"), said("{px} px", px=Digits(f"{profile.holdout_px:.2g}"))))
    if profile.distance_mm is not None:
        figures.append((said("Distance to the board"), said("{m:.2f} m", m=profile.distance_mm / 1000.0)))
    if camera.focal_35mm is not None:
        zoom = said("{mm:g} mm, in terms of 35 mm film", mm=camera.focal_35mm)
        figures.append((said("Lens"), zoom))
    figures.append((said("Pictures"), Digits(f"{profile.width} \N{MULTIPLICATION SIGN} {profile.height} px")))
    figures.append((said("Photographs used"), Digits(str(len(profile.photographs)))))
    if profile.date is not None:
        figures.append((said("Made on"), Digits(profile.date.isoformat())))
    left_out = (said("Left out: {file}: {reason}", file=gone.file, reason=gone.reason) for gone in profile.left_out)
    return _PhoneShown(name=phone.name, title=title, figures=tuple(figures), doubts=(*profile.warnings, *left_out))


def _one_at_a_time() -> InputError:
    return InputError(
        said("A phone is being calibrated already."),
        expected=said("one at a time"),
        remedy=said("wait until it has ended, and send these again"),
    )


def _typed(form: Mapping[str, object], fields: tuple[str, ...]) -> dict[str, str]:
    typed = {name: form.get(name) for name in fields}
    return {name: text.strip()[:24] if isinstance(text, str) else "" for name, text in typed.items()}


def _print_number(typed: str) -> int | None:
    plain = typed.replace(" ", "")
    found = int(plain) if plain.isdecimal() and plain.isascii() and len(plain) <= 6 else 0
    return found if 1 <= found <= MAX_NUMBER else None
