"""The addresses of a trailer's level: one photograph, four touches, the angle."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING
from urllib.parse import urlencode

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from calib.outcome.errors import InputError
from calib.outcome.refusal import Refusal
from calib.words.said import say, shown
from photomeasure.web.answers import Answers, checked
from photomeasure.web.called import called
from photomeasure.web.cases import MOST_CASES, Case
from photomeasure.web.entry import form_of
from photomeasure.web.problems import not_here
from photomeasure.web.sides.level_answers import TOUCHES, LevelTyped, level_request, level_typed

if TYPE_CHECKING:
    from photomeasure.record.level import LevelRecord
    from photomeasure.web.bench import Bench
    from photomeasure.web.cases import Cases
    from photomeasure.web.render import Pages


@dataclass(frozen=True, slots=True, kw_only=True)
class _Found:
    """What was measured of a case's first photograph; picture: JPEG with both lines, none where it was refused."""

    record: LevelRecord
    picture: bytes | None
    typed: LevelTyped


def level_page(form: Mapping[str, object]) -> str:
    """Where a trailer's touches are asked for, with what was typed of what is allowed."""
    typed = level_typed(form).nose_down
    return "level" + (f"?{urlencode({'nose_down': typed})}" if typed else "")


class LevelRoutes:
    """One method an address. Results are kept in memory, as many as rigs are."""

    def __init__(self, base: str, cases: Cases, bench: Bench, pages: Pages) -> None:
        self._base, self._cases, self._bench, self._pages = base, cases, bench, pages
        self._found: OrderedDict[str, _Found] = OrderedDict()

    def table(self) -> list[Route]:
        return [
            Route("/level", self.start),
            Route("/rig/{key}/level", self.page),
            Route("/rig/{key}/level", self.measure, methods=["POST"]),
            Route("/rig/{key}/level.json", self.record),
            Route("/rig/{key}/level.jpg", self.picture),
        ]

    async def start(self, request: Request) -> Response:
        """The form sends its photograph where all are sent, and asks for the touches first."""
        return self._pages.show("level_start.html", answers=Answers(), wrong={})

    async def page(self, request: Request) -> Response:
        """The result, or the photograph to touch where there is none yet or other touches are wanted."""
        case = self._case(request)
        found = self._found.get(case.key)
        if found is None or "again" in request.query_params:
            typed = LevelTyped(touches={}, nose_down=request.query_params.get("nose_down", "")[:12])
            return await self._touches(case, typed if found is None else found.typed, {})
        return self._pages.show(
            "level_result.html", case=case, record=found.record, has_picture=found.picture is not None,
            words=_words(found.record),
        )  # fmt: skip

    async def measure(self, request: Request) -> Response:
        case = self._case(request)
        form = await form_of(request)
        asked, _ = checked(case.all_answers)
        if asked is None:  # a rig whose answers were never whole
            return RedirectResponse(f"{self._base}/rig/{case.key}/answers", 303)
        wanted, wrong = level_request(form, asked, case.paths[0], self._bench.remembered.folder)
        typed = level_typed(form)
        if wanted is None:
            return await self._touches(case, typed, wrong)

        def work() -> _Found:
            from photomeasure.levelling import LevelResult
            from photomeasure.record.level import recorded_level
            from photomeasure.shown.picture.level import level_pictures

            with called(case.stored[:1]):
                outcome, record = recorded_level(wanted)
            picture = level_pictures(record, outcome)[0][1] if isinstance(outcome, LevelResult) else None
            return _Found(record=record, picture=picture, typed=typed)

        self._found[case.key] = await self._bench.in_line(work)
        while len(self._found) > MOST_CASES:
            self._found.popitem(last=False)
        return RedirectResponse(self._at(case), 303)

    async def record(self, request: Request) -> Response:
        found = self._found.get(self._case(request).key)
        if found is None:
            raise not_here()
        headers = {"content-disposition": 'attachment; filename="level.json"'}
        return Response(found.record.to_json(), media_type="application/json", headers=headers)

    async def picture(self, request: Request) -> Response:
        found = self._found.get(self._case(request).key)
        if found is None or found.picture is None:
            raise not_here()
        return Response(found.picture, media_type="image/jpeg")

    async def _touches(self, case: Case, typed: LevelTyped | None, wrong: Mapping[int | str, InputError]) -> Response:
        preview = await self._bench.preview(case, 1)
        size = f"{shown(preview.reason)} {shown(preview.remedy)}" if isinstance(preview, Refusal) else preview.size_px
        marked = typed or LevelTyped(touches={})
        pickers = [
            {
                "number": number, "photo": 1, "name": what, "candidates": (), "interest": None, "found": None, "wrong": wrong.get(number),
                "unseen": size if isinstance(size, str) else None, "size": None if isinstance(size, str) else size,
                "x": marked.touches.get(number, ("", ""))[0], "y": marked.touches.get(number, ("", ""))[1],
            }
            for number, _, what in TOUCHES
        ]  # fmt: skip
        return self._pages.show(
            "level_mark.html", 400 if wrong else 200, case=case, pickers=pickers, wrong=wrong, typed=marked
        )

    def _case(self, request: Request) -> Case:
        case = self._cases.get(request.path_params["key"])
        if case is None or not case.uploads:
            raise not_here()
        return case

    def _at(self, case: Case) -> str:
        return f"{self._base}/rig/{case.key}/level"


def _words(record: LevelRecord) -> dict[str, object]:
    from photomeasure.shown.level import figure, level_facts, nose_words

    return {
        "figure": figure(record),
        "pitch": "" if record.pitch_deg is None else say("{deg:.2f} deg", deg=abs(record.pitch_deg)),
        "spread": "" if record.U_deg is None else say("± {deg:.2f} deg", deg=record.U_deg),
        "nose": nose_words(record),
        "facts": [] if record.refusal is not None else level_facts(record),
    }
