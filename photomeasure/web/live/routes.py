"""Where a script of the page asks for the figure of its marks."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from calib.words.said import shown
from photomeasure.seen.look import Refused
from photomeasure.web.bench import Bench
from photomeasure.web.cases import Case
from photomeasure.web.entry.forms import check_header
from photomeasure.web.live.figure import figure
from photomeasure.web.live.marks import marks_from
from photomeasure.web.live.table import first_table
from photomeasure.web.scheme import wish


class Live:
    """case_of: the case that a request's address names; raises where there is none."""

    def __init__(self, bench: Bench, case_of: Callable[[Request], Case]) -> None:
        self._bench, self._case_of = bench, case_of

    def table(self) -> list[Route]:
        return [Route("/rig/{key}/live", self.figure, methods=["POST"])]

    async def figure(self, request: Request) -> Response:
        """The figure of marks, or why there is none; without marks what a script begins with."""
        check_header(request)
        if not request.headers.get("content-type", "").startswith("application/json"):
            raise HTTPException(415)
        case = self._case_of(request)
        inches = wish.get().unit == "in"
        marks = marks_from(await request.body(), len(case.uploads))
        standing = await self._bench.standing(case)
        if isinstance(standing, Refused):
            refusal = standing.refusal
            return JSONResponse({"refused": f"{shown(refusal.reason)} {shown(refusal.remedy)}", "table": None})
        answer: dict[str, Any]
        if marks is None:
            answer = {"table": first_table(standing).as_json()}
        else:
            answer = await self._bench.quick(lambda: figure(standing, marks, inches=inches))
        return JSONResponse(answer)
