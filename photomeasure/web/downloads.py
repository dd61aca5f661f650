"""Files to take away: annotated pictures, the record, the report."""

from __future__ import annotations

import re
from urllib.parse import quote

from starlette.responses import Response

from photomeasure.web.bench import Bench
from photomeasure.web.cases import Case
from photomeasure.web.measuring import Measured
from photomeasure.web.problems import not_here


async def download(bench: Bench, case: Case, measured: Measured, what: str) -> Response:
    """`picture-N.jpg` of photograph N, `record.json` or `report.pdf`, under names that go with the photograph's."""
    picture = re.fullmatch(r"picture-([1-9])\.jpg", what)
    if picture is not None and int(picture[1]) <= len(drawn := await bench.pictures(case)):
        name, data = drawn[int(picture[1]) - 1]
        return as_file(data, "image/jpeg", name, "inline")
    if what == "record.json":
        return as_file(measured.record.to_json().encode(), "application/json", f"{stem(measured)}.json")
    if what == "report.pdf":
        from photomeasure.shown.report.measurement import measurement_pdf

        drawn = await bench.pictures(case)
        pdf = await bench.in_line(lambda: measurement_pdf(measured.record, drawn))
        return as_file(pdf, "application/pdf", f"{stem(measured)}-report.pdf")
    raise not_here()


def stem(measured: Measured) -> str:
    """The first photograph's name without its ending."""
    first = measured.record.photos[0].file if measured.record.photos else "photograph"
    return first.rpartition(".")[0] or first


def as_file(data: bytes, media_type: str, name: str, how: str = "attachment") -> Response:
    """A file to take away, under its own name in any letters (RFC 6266, RFC 8187)."""
    plain = re.sub(r"[^A-Za-z0-9._-]", "_", name)
    disposition = f"{how}; filename=\"{plain}\"; filename*=UTF-8''{quote(name, safe='')}"
    return Response(data, media_type=media_type, headers={"content-disposition": disposition})
