"""The same rig once more, coupled: its photographs measured from the bare ball's record, by the tag on the tow bar."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from photomeasure.asked.carried import Carried
from photomeasure.web.answers import Answers, answers_from
from photomeasure.web.downloads import stem
from photomeasure.web.problems import not_here

if TYPE_CHECKING:
    from photomeasure.web.cases import Case, Cases
    from photomeasure.web.render import Pages

FIELD = "earlier"  # of the form: the key of the rig before it was coupled
_TAPE = {"tape": "", "tape_class": "", "tape_to": "", "tape_flat": ""}


@dataclass(frozen=True, slots=True, kw_only=True)
class FromEarlier:
    """What the photographs of now are measured with: the answers of then but for the state, and what is carried over."""

    answers: Answers
    carried: Carried


def can_be_carried(case: Case) -> bool:
    """Whether a rig's record shows the bare ball and a tag on the tow bar."""
    return case.measured is not None and case.measured.record.bar is not None


def from_earlier(form: Mapping[str, object], cases: Cases) -> FromEarlier | None:
    """None where the form speaks of no earlier rig. Raises PageError for one that is no longer there."""
    key = form.get(FIELD)
    if not isinstance(key, str):
        return None
    case = cases.get(key)
    if case is None or case.measured is None or case.measured.record.bar is None:
        raise not_here()
    typed = answers_from(form)
    said = form.get("sheet_untouched")
    untouched = {"yes": True, "no": False}.get(said) if isinstance(said, str) else None
    name = f"{stem(case.measured)}.json"
    carried = Carried(**case.measured.record.bar.model_dump(), record=name, sheet_untouched=untouched)
    answers = replace(case.answers, coupled="yes", laden=typed.laden, **_TAPE)
    return FromEarlier(answers=answers, carried=carried)


class CoupledRoutes:
    """The form; its photographs are sent where all are sent."""

    def __init__(self, base: str, cases: Cases, pages: Pages) -> None:
        self._base, self._cases, self._pages = base, cases, pages

    def table(self) -> list[Route]:
        return [Route("/rig/{key}/coupled", self.start)]

    async def start(self, request: Request) -> Response:
        case = self._cases.get(request.path_params["key"])
        if case is None:
            raise not_here()
        if not can_be_carried(case):
            return RedirectResponse(f"{self._base}/rig/{case.key}/", 303)
        answers = replace(case.answers, coupled="yes")
        return self._pages.show("coupled.html", case=case, answers=answers, untouched=Answers(), wrong={})
