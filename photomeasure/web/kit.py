"""The kit to print, straight from the page."""

from __future__ import annotations

from starlette.concurrency import run_in_threadpool
from starlette.responses import Response

from calib.kit.kit import PAPERS, kit
from calib.kit.number import draw_number
from calib.words.language import Language
from photomeasure.web.problems import not_here


async def kit_pdf(paper: str, to: str | None = None, language: Language = "en") -> Response:
    """The PDF that `photomeasure target` writes. to: whom the photographs are sent back to; language: of its pages."""
    from calib.kit.sheets import target_pdf

    known = next((name for name in PAPERS if name == paper), None)
    if known is None:
        raise not_here()
    pdf = await run_in_threadpool(lambda: target_pdf(kit(known), draw_number(), to, language))
    headers = {"content-disposition": f'attachment; filename="target-{known}.pdf"'}
    return Response(pdf, media_type="application/pdf", headers=headers)
